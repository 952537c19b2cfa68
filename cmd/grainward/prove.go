package main

import (
	"context"
	"fmt"
	"strconv"

	"grainward/records"
	"grainward/records/book"
	"grainward/records/ledger"
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
	b, err := c.openSigned(ctx, w)
	if err != nil {
		return err
	}
	defer b.Close()
	head, err := b.head(ctx, b.View())
	if err != nil {
		return err
	}
	pos, err := find(b.Book, c.Entry)
	if err != nil {
		return err
	}
	proof, err := b.Prove(pos, head)
	if err != nil {
		return err
	}
	leaf, err := b.Leaf(pos)
	if err != nil {
		return err
	}
	if _, err := ledger.CheckProof(proof, leaf, b.key); err != nil {
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
	w.say("%s proves that the entry at position %d is in the signed journal of %s.", c.Out, pos, plural(int(head.Size), "entry"))
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
