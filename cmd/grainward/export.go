package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"

	"grainward/records"
	"grainward/records/sqlite"
)

type exportCommand struct {
	plantFlag
	From records.Position `default:"0" placeholder:"N" help:"The first position."`
	To   records.Position `default:"-1" placeholder:"N" help:"The last position; the end of the journal when left out."`
}

func (c *exportCommand) Run(ctx context.Context, w *world) error {
	store, err := c.openStore(ctx, sqlite.Read)
	if err != nil {
		return err
	}
	defer store.Close()
	head, err := store.Head(ctx)
	if err != nil {
		return err
	}
	to := c.To
	if to < 0 {
		to = head - 1
	}
	switch {
	case c.From < 0 || c.To < -1:
		return wrongFlag("--from", fmt.Sprint(min(c.From, c.To)), "a position, counted from 0")
	case c.To >= 0 && c.From > c.To:
		return wrongFlag("--from", fmt.Sprint(c.From), fmt.Sprintf("a position not after --to, %d", c.To))
	case c.To >= head || c.From > head:
		return &records.Error{Kind: records.NotFound, What: fmt.Sprintf("there is no entry at position %d; the journal has %s, counted from 0", max(c.From, c.To), plural(int(head), "entry"))}
	}
	return writeLines(ctx, w, store, c.From, to)
}

var errEnd = errors.New("end")

// writeLines writes the stored bytes, which hold no line feed, one entry a line.
func writeLines(ctx context.Context, w *world, store records.Backend, from, to records.Position) error {
	out, bar := bufio.NewWriter(w.out), w.bar("exporting")
	err := store.Read(ctx, from, func(at records.Position, row records.Row) error {
		if at > to {
			return errEnd
		}
		if bar != nil && at%1024 == 0 {
			bar(at-from, to-from+1)
		}
		_, err := out.Write(append(row.Bytes, '\n'))
		return err
	})
	if err != nil && !errors.Is(err, errEnd) {
		return err
	}
	if err := out.Flush(); err != nil {
		return fmt.Errorf("writing the lines: %w", err)
	}
	return nil
}
