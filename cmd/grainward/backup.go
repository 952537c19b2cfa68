package main

import (
	"context"
	"errors"
	"os"

	"grainward/records"
	"grainward/records/sqlite"
	"grainward/records/transfer"
)

type backupCommand struct {
	plantFlag
	File string `arg:"" type:"path" help:"The new file."`
}

// Help is the long help of the command.
func (*backupCommand) Help() string {
	return `The backup holds the journal with its documents and photos. It does not hold the private key, plan.yaml and the PINs: keep a copy of plant.key apart from it.

With --mongo, the database is copied into the file and read back (as ` + "`grainward copy`" + ` does); the file serves as any other backup.`
}

func (c *backupCommand) Run(ctx context.Context, w *world) error {
	if err := c.write(ctx, w); err != nil {
		return err
	}
	copied, err := sqlite.Open(ctx, c.File, sqlite.Read)
	if err != nil {
		return err
	}
	defer copied.Close()
	n, err := copied.Head(ctx)
	if err != nil {
		return err
	}
	w.say("%s holds %s. The private key is not in it.", c.File, plural(int(n), "entry"))
	return nil
}

func (c *backupCommand) write(ctx context.Context, w *world) (err error) {
	store, err := c.openStore(ctx, sqlite.Read)
	if err != nil {
		return err
	}
	defer store.Close()
	if file, ok := store.(*sqlite.Store); ok {
		return file.Backup(ctx, c.File)
	}
	if exists(c.File) {
		return &records.Error{Kind: records.Conflict, What: "there is a file at " + c.File + " already", Do: "Name a new file; nothing is written over."}
	}
	key, err := c.Dir.verifier()
	if err != nil {
		return err
	}
	to, err := sqlite.Open(ctx, c.File, sqlite.Write)
	if err != nil {
		return err
	}
	_, err = transfer.Copy(ctx, to, store, transfer.Options{Verifier: key, Progress: w.bar("copying")})
	if err = errors.Join(err, to.Close()); err != nil { // half a backup is none
		return errors.Join(err, os.Remove(c.File))
	}
	return nil
}
