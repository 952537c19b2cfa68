package main

import (
	"context"
	"fmt"
	"io"
	"strings"

	"grainward/audit"
	"grainward/exports/binder"
	"grainward/records"
	"grainward/records/book"
	"grainward/records/calendar"
	"grainward/records/ledger"
)

type binderCommand struct {
	plantFlag
	From calendar.Date `required:"" placeholder:"DATE" help:"The first day."`
	To   calendar.Date `required:"" placeholder:"DATE" help:"The last day."`
	At   string        `placeholder:"TIME" help:"The moment asked about: entries that had happened by then; now when left out."`
	Zip  bool          `help:"Write a package for a stranger: the binder, its entries as canonical lines, proofs, a manifest, and how to check it without this program."`
	Out  string        `type:"path" placeholder:"FILE" help:"The new file; binder-FROM-TO.xlsx (or .zip) when left out."`
	By   string        `placeholder:"NAME" default:"somebody at the command line" help:"Who made it, for the cover."`
	Lang string        `enum:"en,es" default:"en" placeholder:"LANG" help:"en or es."`
}

// Help is the long help of the command.
func (*binderCommand) Help() string {
	return `The same journal, moment, period, language, program version and maker give the same bytes. Whoever holds the binder can hold it against the journal with: grainward verify BINDER.xlsx --dir DIR`
}

func (c *binderCommand) Run(ctx context.Context, w *world) error {
	b, err := c.openSigned(ctx, w)
	if err != nil {
		return err
	}
	defer b.Close()
	view := b.View()
	at := w.instant()
	if c.At != "" {
		if at, err = parseMoment("--at", c.At, view.State.PlanAt(at), dayEnd); err != nil {
			return err
		}
	}
	head, err := b.head(ctx, view)
	if err != nil {
		return err
	}
	in, err := binderInput(audit.At(view.State, at), head, b.key, c.By, b.Leaf)
	if err != nil {
		return err
	}
	in.From, in.To, in.Lang = c.From, c.To, c.Lang
	path := c.Out
	if path == "" {
		path = fmt.Sprintf("binder-%s-%s.xlsx", c.From, c.To)
		if c.Zip {
			path = strings.TrimSuffix(path, "xlsx") + "zip"
		}
	}
	err = writeWhole(path, func(out io.Writer) error {
		if c.Zip {
			return binder.WriteZip(ctx, out, in, b.Rows, b.prover(head), w.steps("writing the package"))
		}
		return binder.Write(ctx, out, in, w.steps("writing the binder"))
	})
	if err != nil {
		return err
	}
	w.say("%s: %s to %s, from a journal of %s.", path, c.From, c.To, plural(int(head.Size), "entry"))
	return nil
}

// binderInput is everything of a binder but its period and language.
func binderInput(r *audit.Report, head book.Head, key, madeBy string, leaf func(records.Position) (ledger.Hash, error)) (binder.Input, error) {
	s, err := stamp(r, head, key, madeBy)
	return binder.Input{Report: r, Stamp: s, Leaf: leaf}, err
}
