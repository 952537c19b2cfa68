package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"

	"grainward/records"
	"grainward/records/ledger"
	"grainward/records/sqlite"
	"grainward/records/state"
)

type restoreCommand struct {
	plantFlag
	File string `arg:"" type:"existingfile" help:"The backup."`
	Key  string `placeholder:"FILE" help:"The plant's private key (plant.key), when DIR does not hold it."`
}

// Help is the long help of the command.
func (*restoreCommand) Help() string {
	return `The backup is verified before and after. A journal that is there already is never written over: move it away first, and keep it.`
}

func (c *restoreCommand) Run(ctx context.Context, w *world) error {
	if c.Mongo != "" {
		return wrongFlag("--mongo", "given", "nothing here: `grainward copy --from BACKUP --to URI` puts a backup into a database")
	}
	signer, verifier, err := c.keys()
	if err != nil {
		return err
	}
	for _, path := range []string{c.Dir.journal(), c.Dir.journal() + "-wal"} {
		if info, err := os.Lstat(path); !errors.Is(err, fs.ErrNotExist) && (err != nil || !info.Mode().IsRegular() || info.Size() > 0) { // one that was broken off leaves it empty
			return &records.Error{Kind: records.Conflict, What: "there is a journal at " + path + " already", Do: "Move it away, with the files beside it, and keep it; then restore again."}
		}
	}
	source, err := sqlite.Open(ctx, c.File, sqlite.Read)
	if err != nil {
		return err
	}
	defer source.Close()
	if err := mustVerify(ctx, w, source, c.File, verifier); err != nil {
		return err
	}
	if err := os.MkdirAll(string(c.Dir), 0o755); err != nil {
		return fileError("making the plant's directory", string(c.Dir), err)
	}
	// The journal comes last: a plant with one is whole, and one without can be restored again.
	if err := c.complete(ctx, source, signer, verifier); err != nil {
		return err
	}
	if err := source.Backup(ctx, c.Dir.journal()); err != nil {
		return err
	}
	restored, err := sqlite.Open(ctx, c.Dir.journal(), sqlite.Read)
	if err != nil {
		return err
	}
	defer restored.Close()
	if err := mustVerify(ctx, w, restored, c.Dir.journal(), verifier); err != nil {
		return errors.Join(err, os.Remove(c.Dir.journal()))
	}
	w.say("Restored into %s. PINs are not in a backup: set them with `grainward pin`.", c.Dir)
	return nil
}

// keys finds the plant's keys, in DIR or as given.
func (c *restoreCommand) keys() (signer, verifier string, err error) {
	path := c.Key
	if path == "" {
		if path = c.Dir.keyFile(); !exists(path) {
			return "", "", &records.Error{Kind: records.NotFound, What: fmt.Sprintf("%s does not hold the plant's private key", c.Dir),
				Do: "Give the copy you kept of it with --key plant.key: without it the journal could be read and not go on."}
		}
	}
	if signer, err = readKey(path); err != nil {
		return "", "", err
	}
	if verifier, err = ledger.VerifierOf(signer); err != nil {
		return "", "", fmt.Errorf("%s: %w", path, err)
	}
	if exists(c.Dir.vkeyFile()) {
		there, err := c.Dir.verifier()
		if err == nil && there != verifier {
			err = &records.Error{Kind: records.Conflict, What: c.Dir.vkeyFile() + " is the public key of another plant", Do: "Restore into a directory of its own."}
		}
		return signer, verifier, err
	}
	return signer, verifier, nil
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

func mustVerify(ctx context.Context, w *world, store records.Store, name, key string) error {
	report, err := verifyStore(ctx, w, store, key, nil)
	if err != nil {
		return err
	}
	printReport(w, name, &report)
	if !report.OK() {
		return errFaulty
	}
	return nil
}

// complete puts the other files of the plant in place where they are missing.
func (c *restoreCommand) complete(ctx context.Context, store records.Store, signer, verifier string) error {
	text, err := lastPlan(ctx, store)
	if err != nil {
		return err
	}
	for _, f := range []struct {
		path string
		data string
		mode fs.FileMode
	}{{c.Dir.keyFile(), signer + "\n", 0o600}, {c.Dir.vkeyFile(), verifier + "\n", 0o644}, {c.Dir.planFile(), text, 0o644}} {
		if f.data == "" || exists(f.path) {
			continue
		}
		if err := writeNew(f.path, []byte(f.data), f.mode); err != nil {
			return err
		}
	}
	return nil
}

// lastPlan is the text of the plan that came into force last, or "".
func lastPlan(ctx context.Context, store records.Store) (text string, err error) {
	st := state.New()
	err = store.Read(ctx, 0, func(at records.Position, row records.Row) error {
		e, err := records.ParseTrusted(row.Bytes)
		if err == nil && (e.Kind == records.KindPlan || e.Kind == records.KindCorrect) {
			st.Apply(at, e)
		}
		return err
	})
	for _, in := range st.Plans() {
		text = in.Record.Fact.(*records.Adoption).Text
	}
	return text, err
}
