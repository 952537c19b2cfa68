package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"

	"grainward/records"
	"grainward/records/sqlite"
	"grainward/records/transfer"
	"grainward/records/verify"
)

type backupCommand struct {
	plantFlag
	File string `arg:"" optional:"" type:"path" help:"The new file; it is named by the moment when --into is given instead."`
	Into string `type:"path" xor:"where" placeholder:"DIR" help:"A directory for backups, made when it is not there: what a timer runs."`
	Keep int    `placeholder:"N" help:"With --into, how many backups stay there: the newest, once the new one has been verified. All of them when left out."`
}

// Help is the long help of the command.
func (*backupCommand) Help() string {
	return `Works while the plant is served. The copy is then read back: every hash, every proof of order and every signature is recomputed with the plant's public key, and one that is not as it was written is kept as FILE.faulty, with exit code 3, and nothing else is removed. Beside the backup lie FILE.sha256 (for sha256sum -c) and FILE.checkpoint, its signed tree head, which verify --checkpoint takes.

The backup holds the journal with its documents and photos. It does not hold the private key: keep a copy of plant.key apart from it. One that was broken off leaves at most something whose name ends in .part, which can be removed. It does not hold people.db (PINs, passwords, devices, sign-ins) either: these are secrets and no records, and can only be erased where there is one copy; after a restore a lead's password is set anew, and the lead gives PINs and enrols devices.

With --mongo, the database is copied into the file and read back (as ` + "`grainward copy`" + ` does); the file serves as any other backup.`
}

func (c *backupCommand) Run(ctx context.Context, w *world) error {
	path, err := c.place(w)
	if err != nil {
		return err
	}
	key, err := c.Dir.verifier()
	if err != nil {
		return err
	}
	if err := c.write(ctx, w, path); err != nil {
		return err
	}
	report, err := proveBackup(ctx, w, path, key)
	if err != nil {
		return err
	}
	if !report.OK() {
		printReport(w, path, &report)
		if err := os.Rename(path, path+".faulty"); err != nil {
			return fileError("keeping a backup that is not as it was written", path, err)
		}
		w.say("The copy is kept as %s.faulty; no backup was removed. Look at the journal itself: grainward verify --dir %s", path, c.Dir)
		return errFaulty
	}
	size, err := c.beside(ctx, path)
	if err != nil {
		return err
	}
	w.say("%s holds %s. The private key and the PINs are not in it.", path, plural(int(report.Entries), "entry"))
	w.say("Read back: as it was written and signed, %s, %s. Tree head: %s", plural(report.Checkpoints, "checkpoint"), plural(report.Files, "file"), report.Root)
	if err := c.Dir.noteBackup(backupNote{File: path, Made: w.instant(), Entries: records.Position(report.Entries), Bytes: size}); err != nil {
		w.note("grainward: the backup is whole, but `grainward size` and the metrics will not know of it: %v", err)
	}
	if c.Keep > 0 {
		return removeOld(w, c.Into, c.Keep, filepath.Base(path))
	}
	return nil
}

// place is where the backup goes.
func (c *backupCommand) place(w *world) (string, error) {
	switch {
	case (c.File == "") == (c.Into == ""):
		return "", wrongFlag("FILE or --into", c.File, "one of the two: a file, or a directory where it is named by the moment")
	case c.Keep < 0, c.Keep > 0 && c.Into == "":
		return "", wrongFlag("--keep", fmt.Sprint(c.Keep), "1 or more, together with --into")
	case c.File != "":
		return c.File, nil
	}
	if err := os.MkdirAll(c.Into, 0o700); err != nil {
		return "", fileError("making the directory for backups", c.Into, err)
	}
	return filepath.Join(c.Into, "journal-"+w.now().UTC().Format("20060102T150405Z")+".db"), nil
}

// datedBackup is a name that --into gives; nothing of another name is ever removed.
var datedBackup = regexp.MustCompile(`^journal-\d{8}T\d{6}Z\.db$`)

// removeOld leaves the newest of a directory, by name, and whatever else is there. made, which has just been verified, always stays: a
// clock that was set back would put it among the old.
func removeOld(w *world, dir string, keep int, made string) error {
	all, err := datedBackups(dir)
	if err != nil {
		return err
	}
	all = slices.DeleteFunc(all, func(name string) bool { return name == made })
	if len(all) < keep {
		return nil
	}
	for _, name := range all[:len(all)-keep+1] {
		for _, end := range []string{"", ".sha256", ".checkpoint"} {
			if err := os.Remove(filepath.Join(dir, name+end)); err != nil && (end == "" || !errors.Is(err, os.ErrNotExist)) {
				return fileError("removing an old backup", filepath.Join(dir, name+end), err)
			}
		}
		w.say("Removed %s: %s stay.", name, plural(keep, "backup"))
	}
	return nil
}

// datedBackups are the names of the backups in a directory, oldest first.
func datedBackups(dir string) (names []string, err error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, fileError("looking at the backups", dir, err)
	}
	for _, e := range entries {
		if e.Type().IsRegular() && datedBackup.MatchString(e.Name()) {
			names = append(names, e.Name())
		}
	}
	return names, nil // ReadDir sorts by name, which is by time
}

// proveBackup reads a backup back and recomputes everything in it.
func proveBackup(ctx context.Context, w *world, path, key string) (verify.Report, error) {
	copied, err := sqlite.Open(ctx, path, sqlite.Read)
	if err != nil {
		return verify.Report{}, err
	}
	report, err := verifyStore(ctx, w, copied, key, nil)
	return report, errors.Join(err, copied.Close())
}

// beside writes what lies beside a backup, and gives its size.
func (c *backupCommand) beside(ctx context.Context, path string) (size int64, err error) {
	f, err := os.Open(path)
	if err != nil {
		return 0, fileError("reading the backup back", path, err)
	}
	h := sha256.New()
	size, err = io.Copy(h, f)
	if err = errors.Join(err, f.Close()); err != nil {
		return 0, fileError("reading the backup back", path, err)
	}
	line := hex.EncodeToString(h.Sum(nil)) + "  " + filepath.Base(path) + "\n"
	if err := writeNew(path+".sha256", []byte(line), 0o644); err != nil {
		return 0, err
	}
	copied, err := sqlite.Open(ctx, path, sqlite.Read)
	if err != nil {
		return 0, err
	}
	signed, err := newestCheckpoint(ctx, copied)
	if err = errors.Join(err, copied.Close()); records.KindOf(err) == records.NotFound {
		return size, nil // nothing was signed yet
	} else if err != nil {
		return 0, err
	}
	return size, writeNew(path+".checkpoint", signed, 0o644)
}

func (c *backupCommand) write(ctx context.Context, w *world, path string) (err error) {
	store, err := c.openStore(ctx, sqlite.Read)
	if err != nil {
		return err
	}
	defer store.Close()
	if file, ok := store.(*sqlite.Store); ok {
		return file.Backup(ctx, path)
	}
	if exists(path) {
		return &records.Error{Kind: records.Conflict, What: "there is a file at " + path + " already", Do: "Name a new file; nothing is written over."}
	}
	key, err := c.Dir.verifier()
	if err != nil {
		return err
	}
	aside, err := os.MkdirTemp(filepath.Dir(path), filepath.Base(path)+".*.part")
	if err != nil {
		return fileError("making the backup", path, err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(aside)) }() // half a backup is none
	part := filepath.Join(aside, "journal.db")
	to, err := sqlite.Open(ctx, part, sqlite.Write)
	if err != nil {
		return err
	}
	_, err = transfer.Copy(ctx, to, store, transfer.Options{Verifier: key, Progress: w.bar("copying")})
	if err = errors.Join(err, to.Close()); err != nil {
		return err
	}
	return nameNew(part, path)
}
