package main

import (
	"context"

	"grainward/records/sqlite"
)

type checkpointCommand struct{ plantFlag }

// Help is the long help of the command.
func (*checkpointCommand) Help() string {
	return `Keep it somewhere else (a mailbox, a printed page): verify --checkpoint FILE later shows that the journal still begins with what it held now.`
}

func (c *checkpointCommand) Run(ctx context.Context, w *world) error {
	store, err := c.openStore(ctx, sqlite.Read)
	if err != nil {
		return err
	}
	defer store.Close()
	signed, err := newestCheckpoint(ctx, store)
	if err != nil {
		return err
	}
	_, err = w.out.Write(signed)
	return err
}
