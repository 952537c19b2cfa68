package main

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"grainward/records"
	"grainward/records/ledger"
	"grainward/records/mongo"
	"grainward/records/plan"
	"grainward/records/sqlite"
)

type initCommand struct {
	plantFlag
	Name string `help:"The plant's name, written into the plan and the key; the starter plan's when left out."`
}

func (c *initCommand) Run(ctx context.Context, w *world) error {
	text, name, err := starterPlan(c.Name)
	if err != nil {
		return err
	}
	if err := startPlantIn(ctx, &c.plantFlag, name, text); err != nil {
		return err
	}
	w.say("Started %s in %s.", name, c.Dir)
	w.say("  %-12s the plan to edit; its comments say how", filepath.Base(c.Dir.planFile()))
	if c.Mongo == "" {
		w.say("  %-12s the journal, empty", filepath.Base(c.Dir.journal()))
	}
	w.say("  %-12s the private key: keep a copy of it apart from the backups", filepath.Base(c.Dir.keyFile()))
	w.say("  %-12s the public key: hand it to whoever is to check the journal", filepath.Base(c.Dir.vkeyFile()))
	w.say("Next:")
	w.say("  1. edit %s", c.Dir.planFile())
	w.say("  2. grainward plan check --dir %s", c.Dir)
	w.say("  3. grainward plan adopt --dir %s --by CODE   (the code of a lead in the plan)", c.Dir)
	w.say("  4. grainward pin CODE --dir %s               (a password for the lead, who sets PINs in the browser)", c.Dir)
	return nil
}

// starterPlan is the starter plan under a plant's name.
func starterPlan(name string) (text []byte, used string, err error) {
	text = plan.Starter()
	p, err := plan.Parse(text)
	if err != nil {
		return nil, "", fmt.Errorf("the starter plan: %w", err)
	}
	if name == "" {
		return text, p.Plant.Name, nil
	}
	was, is := []byte("\n  name: "+p.Plant.Name+"\n"), []byte("\n  name: "+strconv.Quote(name)+"\n")
	text = bytes.Replace(text, was, is, 1)
	named, err := plan.Parse(text)
	if err != nil || named.Plant.Name != name {
		return nil, "", wrongFlag("--name", name, "one line of at most 120 characters")
	}
	return text, name, nil
}

// startPlant makes a plant's directory with its journal in it.
func startPlant(ctx context.Context, d plantDir, name string, planText []byte) error {
	return startPlantIn(ctx, &plantFlag{Dir: d}, name, planText)
}

// startPlantIn makes a plant's directory, and its journal there or in the database; on an error it leaves no file behind that
// was not there.
func startPlantIn(ctx context.Context, p *plantFlag, name string, planText []byte) (err error) {
	d := p.Dir
	entries, err := os.ReadDir(string(d))
	made := errors.Is(err, fs.ErrNotExist)
	switch {
	case made:
		err = os.MkdirAll(string(d), 0o755)
	case err == nil && len(entries) > 0:
		return &records.Error{Kind: records.Conflict, What: fmt.Sprintf("%s is not empty", d), Do: "Name a directory that is empty or not there yet; nothing was changed."}
	}
	if err != nil {
		return fileError("making the plant's directory", string(d), err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, clearOut(d, made))
		}
	}()
	signer, verifier, err := ledger.GenerateKey(rand.Reader, newOrigin(name))
	if err != nil {
		return fmt.Errorf("making the plant's key: %w", err)
	}
	if err := writeNew(d.keyFile(), []byte(signer+"\n"), 0o600); err != nil {
		return err
	}
	if err := writeNew(d.vkeyFile(), []byte(verifier+"\n"), 0o644); err != nil {
		return err
	}
	if err := writeNew(d.planFile(), planText, 0o644); err != nil {
		return err
	}
	return startJournal(ctx, p)
}

// startJournal makes the empty journal. A database that holds one already is another plant's.
func startJournal(ctx context.Context, p *plantFlag) error {
	if p.Mongo == "" {
		store, err := sqlite.Open(ctx, p.Dir.journal(), sqlite.Write)
		if err != nil {
			return err
		}
		return store.Close()
	}
	store, err := mongo.Open(ctx, string(p.Mongo), mongo.Create)
	if err != nil {
		return err
	}
	n, err := store.Head(ctx)
	if err == nil && n > 0 {
		err = &records.Error{Kind: records.Conflict, What: fmt.Sprintf("the database holds a journal of %s already", plural(int(n), "entry")), Do: "Name a database of its own; nothing was changed."}
	}
	return errors.Join(err, store.Close())
}

func clearOut(d plantDir, made bool) error {
	if made {
		return os.RemoveAll(string(d))
	}
	var errs []error
	for _, path := range []string{d.keyFile(), d.vkeyFile(), d.planFile(), d.journal(), d.journal() + ".lock", d.journal() + "-wal", d.journal() + "-shm"} {
		if err := os.Remove(path); !errors.Is(err, fs.ErrNotExist) {
			errs = append(errs, err)
		}
	}
	return errors.Join(errs...)
}

// newOrigin makes a journal's name; see the package comment.
func newOrigin(name string) string {
	var random [4]byte
	_, _ = rand.Read(random[:]) // never fails (crypto/rand)
	return slug(name) + ".grainward.invalid/" + hex.EncodeToString(random[:])
}

// slug keeps the letters and digits of a name that an address could have (RFC 1123), at most 63.
func slug(name string) string {
	words := strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return (r < 'a' || r > 'z') && (r < '0' || r > '9') })
	s := strings.Join(words, "-")
	if s = strings.Trim(s[:min(len(s), 63)], "-"); s == "" {
		return "plant"
	}
	return s
}
