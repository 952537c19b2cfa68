package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	"grainward/records"
	"grainward/records/book"
	"grainward/records/ledger"
	"grainward/records/sqlite"
)

// plantFlag is --dir, embedded by every command that needs a plant.
type plantFlag struct {
	Dir   plantDir `required:"" env:"GRAINWARD_DIR" placeholder:"DIR" help:"The plant's directory."`
	Mongo mongoURI `env:"GRAINWARD_MONGO" placeholder:"URI" help:"The MongoDB database that holds the plant's journal, instead of journal.db in DIR: mongodb://HOST[,HOST...]/DATABASE?replicaSet=NAME, or @FILE, whose first line is such a URI."`
}

// Validate refuses an empty directory, as an environment variable may hold one.
func (f *plantFlag) Validate() error {
	if f.Dir == "" {
		return errors.New("missing flags: --dir=DIR")
	}
	return nil
}

// somePlantFlag is plantFlag of a command that can be told of a company instead.
type somePlantFlag struct {
	Dir   plantDir `env:"GRAINWARD_DIR" placeholder:"DIR" help:"The plant's directory."`
	Mongo mongoURI `env:"GRAINWARD_MONGO" placeholder:"URI" help:"The MongoDB database that holds the plant's journal, instead of journal.db in DIR: mongodb://HOST[,HOST...]/DATABASE?replicaSet=NAME, or @FILE, whose first line is such a URI."`
}

// plant is the one plant that was meant.
func (f *somePlantFlag) plant() (*plantFlag, error) {
	if f.Dir == "" {
		return nil, &records.Error{Kind: records.Invalid, What: "no plant is named", Do: "Give --dir DIR, or --company FILE for the plants of a company."}
	}
	return &plantFlag{Dir: f.Dir, Mongo: f.Mongo}, nil
}

// plantDir is a plant's directory; the package comment says what lies in it.
type plantDir string

func (d plantDir) journal() string  { return filepath.Join(string(d), "journal.db") }
func (d plantDir) planFile() string { return filepath.Join(string(d), "plan.yaml") }
func (d plantDir) keyFile() string  { return filepath.Join(string(d), "plant.key") }
func (d plantDir) vkeyFile() string { return filepath.Join(string(d), "plant.vkey") }
func (d plantDir) people() string   { return filepath.Join(string(d), "people.db") }

// check says whether there is a plant, in words that help more than those of a missing file.
func (d plantDir) check() error {
	info, err := os.Stat(string(d))
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return &records.Error{Kind: records.NotFound, What: fmt.Sprintf("there is no directory %s", d), Do: "Check --dir, or start a plant there with `grainward init --dir " + string(d) + "`."}
	case err != nil:
		return fileError("looking at the plant's directory", string(d), err)
	case !info.IsDir():
		return &records.Error{Kind: records.Invalid, What: fmt.Sprintf("%s is a file, not a plant's directory", d), Do: "Check --dir."}
	}
	return nil
}

// openStore opens the journal's file.
func (d plantDir) openStore(ctx context.Context, mode sqlite.Mode) (*sqlite.Store, error) {
	if err := d.check(); err != nil {
		return nil, err
	}
	if mode == sqlite.Write { // a mistyped --dir must not start a plant
		if _, err := os.Stat(d.journal()); errors.Is(err, fs.ErrNotExist) {
			mode = sqlite.Read // whose error says that there is no journal
		}
	}
	return sqlite.Open(ctx, d.journal(), mode)
}

// openBook replays the journal in the file; a command asks plantFlag, which knows of databases too.
func (d plantDir) openBook(ctx context.Context, w *world, mode sqlite.Mode) (*book.Book, error) {
	o := book.Options{Now: w.instant, Progress: w.bar("reading the journal")}
	var err error
	if mode == sqlite.Write {
		if o.Signer, err = d.signer(); err != nil {
			return nil, err
		}
		if o.Origin, err = originOf(o.Signer, true); err != nil {
			return nil, err
		}
	}
	store, err := d.openStore(ctx, mode)
	if err != nil {
		return nil, err
	}
	b, err := book.Open(ctx, store, o)
	if err != nil {
		return nil, errors.Join(err, store.Close())
	}
	return b, nil
}

// signer is the plant's private key. A key that others can read is refused, as it is no longer the plant's alone, and so is one that
// does not go with the public key beside it.
func (d plantDir) signer() (string, error) {
	key, err := readKey(d.keyFile())
	if err != nil || !exists(d.vkeyFile()) {
		return key, err
	}
	public, err := d.verifier()
	if err != nil {
		return "", err
	}
	if goes, err := ledger.VerifierOf(key); err != nil || goes != public {
		return "", &records.Error{Kind: records.Conflict, What: fmt.Sprintf("%s and %s do not belong together: one of them was replaced", d.keyFile(), d.vkeyFile()),
			Do: "Put the plant's own keys back, from the copy kept apart, and find out who replaced one; nothing was written.", Err: err}
	}
	return key, nil
}

func readKey(path string) (string, error) {
	info, err := os.Stat(path)
	if err != nil {
		return "", fileError("reading the plant's private key", path, err)
	}
	if open := info.Mode().Perm() & 0o077; open != 0 {
		return "", &records.Error{Kind: records.Denied, What: fmt.Sprintf("%s can be read or changed by others (mode %04o)", path, info.Mode().Perm()),
			Do: "Run `chmod 600 " + path + "`. If somebody may have copied it, start a new key before going on."}
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return "", fileError("reading the plant's private key", path, err)
	}
	key := strings.TrimSpace(string(text))
	if _, err := ledger.VerifierOf(key); err != nil {
		return "", &records.Error{Kind: records.Invalid, What: path + " does not hold a private key as init made it", Do: "Put the plant's own key back.", Err: err}
	}
	return key, nil
}

// verifier is the plant's public key.
func (d plantDir) verifier() (string, error) {
	text, err := os.ReadFile(d.vkeyFile())
	if err != nil {
		return "", fileError("reading the plant's public key", d.vkeyFile(), err)
	}
	return strings.TrimSpace(string(text)), nil
}

// originOf is the journal's name in its checkpoints: the name of the key.
func originOf(key string, private bool) (string, error) {
	if private {
		var err error
		if key, err = ledger.VerifierOf(key); err != nil {
			return "", &records.Error{Kind: records.Invalid, What: "the private key can not be used", Err: err}
		}
	}
	name, _, ok := strings.Cut(key, "+")
	if !ok || name == "" {
		return "", &records.Error{Kind: records.Invalid, What: "the public key can not be used", Do: "Give the one line of plant.vkey."}
	}
	return name, nil
}

// fileError gives an error of the file system its kind, and says what to do.
func fileError(doing, path string, err error) error {
	kind, do := records.Internal, ""
	switch {
	case errors.Is(err, fs.ErrNotExist):
		kind, do = records.NotFound, "Check the path."
	case errors.Is(err, fs.ErrExist):
		kind, do = records.Conflict, "Name a file that does not exist; nothing is written over."
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		kind, do = records.ReadOnly, "Run as a user who may, or choose another place."
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		kind, do = records.Full, "Free some space on the disk and do it again."
	case errors.Is(err, syscall.ENOTDIR), errors.Is(err, syscall.EISDIR):
		kind, do = records.Invalid, "Check the path."
	}
	return &records.Error{Kind: kind, What: fmt.Sprintf("%s at %s did not work", doing, path), Do: do, Err: err}
}
