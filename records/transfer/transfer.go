package transfer

import (
	"bytes"
	"context"
	"fmt"
	"iter"

	"grainward/records"
	"grainward/records/ledger"
)

// Options of a copy.
type Options struct {
	Verifier string                           // the plant's public key, to check the signatures with; empty: only what was signed is checked
	Progress func(done, all records.Position) // called now and then; may be nil
}

// Result is what was copied.
type Result struct {
	Entries records.Position // the journal now
	Before  records.Position // so many of them were there already
	Heads   int              // signed tree heads, checked
	Files   int              // documents and photos
	Root    ledger.Hash      // the tree head of both
}

// Copy makes the journal in `to` what the one in `from` was when the call began, and its documents and photos with it. The
// error is a Conflict when `to` holds another journal or a longer one, and Corrupt when `from` is not as it was written.
func Copy(ctx context.Context, to, from records.Store, o Options) (Result, error) {
	all, err := from.Head(ctx)
	if err != nil {
		return Result{}, err
	}
	have, err := to.Head(ctx)
	if err != nil {
		return Result{}, err
	}
	if have > all {
		return Result{}, another(fmt.Sprintf("it holds %d entries and what is to be copied %d", have, all))
	}
	c := &copying{to: to, options: o, all: all, have: have, result: Result{Entries: all, Before: have}}
	if err := c.beginning(ctx, from); err != nil {
		return Result{}, err
	}
	// Files first: an entry is never there before the photo it names.
	if c.result.Files, err = files(ctx, to, from); err != nil {
		return Result{}, err
	}
	if err := c.rows(ctx, from); err != nil {
		return Result{}, err
	}
	c.result.Root = c.tree.Root()
	return c.result, c.readBack(ctx)
}

func another(why string) error {
	return &records.Error{Kind: records.Conflict, What: "there is another journal where the copy should go: " + why, Do: "Name a place that is empty, or one where a copy of this very journal was begun; nothing was written."}
}

// beginning sees that what is there already is the beginning of what is to be copied, before anything is written.
func (c *copying) beginning(ctx context.Context, from records.Store) error {
	if c.have == 0 {
		return nil
	}
	theirs, stop := pull(func(visit func(records.Position, records.Row) error) error { return c.to.Read(ctx, 0, visit) })
	defer stop()
	err := from.Read(ctx, 0, func(at records.Position, row records.Row) error {
		if at == c.have {
			return errEnough
		}
		_, there, err, ok := theirs()
		if err != nil {
			return err
		}
		if !ok || !bytes.Equal(there.Bytes, row.Bytes) || there.Leaf != row.Leaf {
			return another(fmt.Sprintf("the entries at position %d differ", at))
		}
		return nil
	})
	if err == errEnough {
		return nil
	}
	return err
}

// files copies the documents and photos that are not there; GetBlob compares each with its hash.
func files(ctx context.Context, to, from records.Store) (n int, err error) {
	there := map[string]int64{}
	if err := to.EachBlob(ctx, func(key string, size int64) error { there[key] = size; return nil }); err != nil {
		return 0, err
	}
	var missing []string
	if err := from.EachBlob(ctx, func(key string, size int64) error {
		n++
		if was, ok := there[key]; !ok || was != size {
			missing = append(missing, key)
		}
		return nil
	}); err != nil {
		return 0, err
	}
	for _, key := range missing {
		data, err := from.GetBlob(ctx, key)
		if err != nil {
			return 0, err
		}
		if _, err := to.PutBlob(ctx, data); err != nil {
			return 0, err
		}
	}
	return n, nil
}

// readBack reads what was written, from where it is now.
func (c *copying) readBack(ctx context.Context) error {
	var tree ledger.Tree
	err := c.to.Read(ctx, 0, func(at records.Position, row records.Row) error {
		if at >= c.all {
			return errEnough
		}
		tree.Append(ledger.LeafHash(row.Bytes))
		return nil
	})
	if err != nil && err != errEnough {
		return err
	}
	if tree.Size() != int64(c.all) || tree.Root() != c.result.Root {
		return &records.Error{Kind: records.Corrupt, What: fmt.Sprintf("the copy reads back as %d entries with tree head %v, and %d with %v were written", tree.Size(), tree.Root(), c.all, c.result.Root),
			Do: "Do not use the copy; look at the disk or the database it is on."}
	}
	return c.to.EachBlob(ctx, func(key string, _ int64) error {
		_, err := c.to.GetBlob(ctx, key)
		return err
	})
}

// pull turns visiting round: each call gives the next thing visited, until ok is false.
func pull[P, V any](visiting func(visit func(P, V) error) error) (next func() (P, V, error, bool), stop func()) {
	type item struct {
		p   P
		v   V
		err error
	}
	seq := func(yield func(item) bool) {
		err := visiting(func(p P, v V) error {
			if !yield(item{p: p, v: v}) {
				return errEnough
			}
			return nil
		})
		if err != nil && err != errEnough {
			yield(item{err: err})
		}
	}
	pulled, stop := iter.Pull(seq)
	return func() (P, V, error, bool) {
		i, ok := pulled()
		return i.p, i.v, i.err, ok
	}, stop
}
