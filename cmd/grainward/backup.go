package main

import (
	"context"

	"grainward/records/sqlite"
)

type backupCommand struct {
	plantFlag
	File string `arg:"" type:"path" help:"The new file."`
}

// Help is the long help of the command.
func (*backupCommand) Help() string {
	return `The backup holds the journal with its documents and photos. It does not hold the private key, plan.yaml and the PINs: keep a copy of plant.key apart from it.`
}

func (c *backupCommand) Run(ctx context.Context, w *world) error {
	store, err := c.Dir.openStore(ctx, sqlite.Read)
	if err != nil {
		return err
	}
	defer store.Close()
	if err := store.Backup(ctx, c.File); err != nil {
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
