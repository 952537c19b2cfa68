package demoplant

import (
	"context"
	"fmt"

	"grainward/records"
	"grainward/records/book"
	"grainward/records/memory"
)

// aWeek is about how many entries the plant writes in a week: how many Write appends at once.
const aWeek = 380

// Write fills an empty store with a plant, and leaves the store open.
//
// The entries are admitted by a book one round of the tablets at a time, since each round has its own clock; that is
// some eight thousand commits, and a disk that needs milliseconds for each would keep the one who waits for the demo
// waiting. So the book writes to memory, and what it wrote (rows, and a signed tree head for about every week)
// is appended to the store a week at a time.
func Write(ctx context.Context, to records.Store, origin, signer string, seed uint64, until records.Instant) (*Plant, error) {
	p, err := New(seed, until)
	if err != nil {
		return nil, err
	}
	from := memory.New()
	var now records.Instant
	b, err := book.Open(ctx, from, book.Options{Origin: origin, Signer: signer, Now: func() records.Instant { return now }})
	if err != nil {
		return nil, err
	}
	defer b.Close() // memory: nothing is left to fail
	err = p.Build(ctx, func(at records.Instant, drafts []records.Entry, blobs [][]byte) error {
		now = at
		for _, data := range blobs {
			if _, err := b.PutBlob(ctx, data); err != nil {
				return err
			}
		}
		_, err := b.Admit(ctx, drafts...)
		return err
	})
	if err != nil {
		return nil, err
	}
	return p, copyTo(ctx, to, from)
}

// copyTo appends everything of one store to another: documents first, as the journal's promise has it.
func copyTo(ctx context.Context, to, from records.Store) error {
	err := from.EachBlob(ctx, func(key string, _ int64) error {
		data, err := from.GetBlob(ctx, key)
		if err != nil {
			return err
		}
		_, err = to.PutBlob(ctx, data)
		return err
	})
	if err != nil {
		return fmt.Errorf("putting the demo plant's documents on file: %w", err)
	}
	heads := map[records.Position][]byte{}
	if err := from.Checkpoints(ctx, func(size records.Position, signed []byte) error { heads[size] = signed; return nil }); err != nil {
		return err
	}
	all, err := from.Head(ctx)
	if err != nil {
		return err
	}
	var rows []records.Row
	err = from.Read(ctx, 0, func(pos records.Position, row records.Row) error {
		rows = append(rows, row)
		size := pos + 1
		if heads[size] == nil || len(rows) < aWeek && size < all {
			return nil
		}
		batch := records.Batch{After: size - records.Position(len(rows)), Rows: rows, Checkpoint: heads[size]}
		rows = nil
		return to.Append(ctx, batch)
	})
	if err != nil {
		return fmt.Errorf("writing the demo plant's journal: %w", err)
	}
	return nil
}
