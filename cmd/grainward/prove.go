package main

import (
	"context"
	"fmt"
	"strconv"

	"grainward/records"
	"grainward/records/book"
	"grainward/records/ledger"
	"grainward/records/sqlite"
)

type proveCommand struct {
	plantFlag
	Entry string `arg:"" name:"position|id" help:"The entry's position, counted from 0, or its id."`
	Out   string `type:"path" placeholder:"FILE" help:"The proof file; standard output when left out. The usual name ends in .tlog-proof."`
}

// Help is the long help of the command.
func (*proveCommand) Help() string {
	return `The proof is in the open form c2sp.org/tlog-proof@v1: with it, the public key (plant.vkey) and the entry's bytes (grainward export --from N --to N, without the line's end), anybody can check that the entry is in the journal the plant signed, without this program.`
}

func (c *proveCommand) Run(ctx context.Context, w *world) error {
	key, err := c.Dir.verifier()
	if err != nil {
		return err
	}
	store, err := c.Dir.openStore(ctx, sqlite.Read)
	if err != nil {
		return err
	}
	defer store.Close() // again after the book: closing twice is allowed
	at, signed, err := newestCheckpoint(ctx, store)
	if err != nil {
		return err
	}
	b, err := book.Open(ctx, store, book.Options{Progress: w.bar("reading the journal")})
	if err != nil {
		return err
	}
	defer b.Close()
	pos, err := find(b, c.Entry)
	if err != nil {
		return err
	}
	proof, err := b.Prove(pos, book.Head{Size: at, Checkpoint: signed})
	if err != nil {
		return err
	}
	leaf, err := b.Leaf(pos)
	if err != nil {
		return err
	}
	if _, err := ledger.CheckProof(proof, leaf, key); err != nil {
		return &records.Error{Kind: records.Corrupt, What: "the journal does not agree with its own checkpoint", Do: "Run `grainward verify` to see what is not as it was written.", Err: err}
	}
	text := ledger.FormatProof(proof)
	if c.Out == "" {
		_, err = w.out.Write(text)
		return err
	}
	if err := writeNew(c.Out, text, 0o644); err != nil {
		return err
	}
	w.say("%s proves that the entry at position %d is in the signed journal of %s.", c.Out, pos, plural(int(at), "entry"))
	return nil
}

// find is the position of an entry named by position or id.
func find(b *book.Book, text string) (records.Position, error) {
	if n, err := strconv.ParseInt(text, 10, 64); err == nil {
		return records.Position(n), nil
	}
	id, err := records.ParseEntryID(text)
	if err != nil {
		return 0, wrongFlag("position|id", text, "a position, counted from 0, or an id such as 0197f2a4-1c5e-7b3a-9d2e-4f6a8b0c1d2e")
	}
	pos, ok := b.View().State.Find(id)
	if !ok {
		return 0, &records.Error{Kind: records.NotFound, What: fmt.Sprintf("no entry has the id %s", id)}
	}
	return pos, nil
}

// newestCheckpoint is the largest signed tree head stored.
func newestCheckpoint(ctx context.Context, heads records.Heads) (size records.Position, signed []byte, err error) {
	err = heads.Checkpoints(ctx, func(at records.Position, text []byte) error {
		size, signed = at, text
		return nil
	})
	if err == nil && signed == nil {
		err = &records.Error{Kind: records.NotFound, What: "nothing has been signed yet: the journal is empty", Do: "Adopt a plan with `grainward plan adopt`."}
	}
	return size, signed, err
}
