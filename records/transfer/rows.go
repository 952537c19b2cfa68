package transfer

import (
	"bytes"
	"context"
	"errors"
	"fmt"

	"grainward/records"
	"grainward/records/ledger"
)

var errEnough = errors.New("enough")

// Bounds of what is collected before it is written.
const (
	rowsAtOnce    = 4096 // in one batch without a signed head
	batchesAtOnce = 1000
	bytesAtOnce   = 4 << 20
)

// copying is one copy under way.
type copying struct {
	to      records.Store
	options Options
	all     records.Position // to be copied
	have    records.Position // there when it began
	result  Result

	tree    ledger.Tree
	next    head // the next signed head to be met
	pending bool // there is one

	batch   records.Batch // being filled
	batches []records.Batch
	size    int
}

type head struct {
	at   records.Position
	note []byte
}

// rows goes along the rows and the signed heads together, checks both, and writes what is not there yet.
func (c *copying) rows(ctx context.Context, from records.Store) error {
	heads, stop := pull(func(visit func(records.Position, []byte) error) error { return from.Checkpoints(ctx, visit) })
	defer stop()
	advance := func() (err error) {
		c.next.at, c.next.note, err, c.pending = heads()
		return err
	}
	if err := advance(); err != nil {
		return err
	}
	c.batch.After = c.have
	err := from.Read(ctx, 0, func(at records.Position, row records.Row) error {
		if at >= c.all {
			return errEnough
		}
		if ledger.LeafHash(row.Bytes) != row.Leaf {
			return corrupt(fmt.Sprintf("the entry at position %d is not what was hashed when it was written", at), nil)
		}
		c.tree.Append(row.Leaf)
		if at >= c.have {
			c.batch.Rows, c.size = append(c.batch.Rows, row), c.size+len(row.Bytes)
		}
		size := at + 1
		if c.pending && c.next.at == size {
			if err := c.check(); err != nil {
				return err
			}
			if size > c.have {
				c.batch.Checkpoint = c.next.note
				if err := c.endBatch(ctx, size); err != nil {
					return err
				}
			}
			return advance()
		}
		if c.pending && c.next.at < size {
			return corrupt(fmt.Sprintf("there are two tree heads at size %d, or they are out of order", c.next.at), nil)
		}
		if len(c.batch.Rows) == rowsAtOnce {
			return c.endBatch(ctx, size)
		}
		return nil
	})
	if err != nil && err != errEnough {
		return err
	}
	if c.pending && c.next.at <= c.all {
		return corrupt(fmt.Sprintf("a tree head covers %d entries and there are %d", c.next.at, c.tree.Size()), nil)
	}
	if err := c.endBatch(ctx, c.all); err != nil {
		return err
	}
	return c.write(ctx)
}

// check holds a signed head against the rows.
func (c *copying) check() error {
	text, _, _ := bytes.Cut(c.next.note, []byte("\n\n"))
	signed, err := ledger.ParseCheckpoint(string(text) + "\n")
	if err == nil && c.options.Verifier != "" {
		signed, err = ledger.Open(c.next.note, c.options.Verifier)
	}
	if err != nil {
		return corrupt(fmt.Sprintf("the tree head at size %d can not be used", c.next.at), err)
	}
	if signed.Size != c.tree.Size() || signed.Root != c.tree.Root() {
		return corrupt(fmt.Sprintf("the entries up to size %d are not those that were signed", c.next.at), nil)
	}
	c.result.Heads++
	return nil
}

func corrupt(what string, err error) error {
	return &records.Error{Kind: records.Corrupt, What: what, Err: err, Do: "Run `grainward verify` on what is to be copied; what was copied before this place is as it was."}
}

func (c *copying) endBatch(ctx context.Context, end records.Position) error {
	if len(c.batch.Rows) > 0 {
		c.batches = append(c.batches, c.batch)
	}
	c.batch = records.Batch{After: max(end, c.have)}
	if len(c.batches) >= batchesAtOnce || c.size >= bytesAtOnce {
		return c.write(ctx)
	}
	return nil
}

func (c *copying) write(ctx context.Context) error {
	if bulk, ok := c.to.(records.Bulk); ok {
		if err := bulk.AppendAll(ctx, c.batches); err != nil {
			return err
		}
	} else {
		for _, b := range c.batches {
			if err := c.to.Append(ctx, b); err != nil {
				return err
			}
		}
	}
	c.batches, c.size = nil, 0
	if c.options.Progress != nil {
		c.options.Progress(c.batch.After, c.all)
	}
	return nil
}
