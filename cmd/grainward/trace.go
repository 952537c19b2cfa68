package main

import (
	"context"
	"io"

	"grainward/audit"
	"grainward/audit/trace"
	"grainward/exports/lineage"
	"grainward/records"
)

type traceCommand struct {
	somePlantFlag
	momentFlags
	Company string `type:"path" placeholder:"FILE" help:"Trace through the plants of a company file; the subject is then PLANT/SUBJECT."`
	Subject string `arg:"" help:"What to trace: a lot code, label:LOT/BAG, partner:CODE, their-lot:TEXT, station:CODE@FROM..TO, agent:CODE or person:CODE."`
	Back    bool   `xor:"way" help:"Only upstream: what it was made from."`
	Forward bool   `xor:"way" help:"Only downstream: what became of it and who has it."`
	JSON    bool   `name:"json" xor:"form" help:"Print one JSON object."`
	XLSX    string `name:"xlsx" type:"path" xor:"form" placeholder:"FILE" help:"Write a workbook whose sheets can be sorted."`
	SVG     string `name:"svg" type:"path" xor:"form" placeholder:"FILE" help:"Write a drawing of the lineage."`
	Lang    string `enum:"en,es" default:"en" placeholder:"LANG" help:"en or es."`
	By      string `placeholder:"NAME" default:"somebody at the command line" help:"Who asked, for the stamp."`
}

// Help is the long help of the command.
func (*traceCommand) Help() string {
	return `With --company FILE PLANT/SUBJECT, handovers to another plant of the company are followed to the receipts there that name the lot, and on, both ways; what has no counterpart is said. Text, --json (exports/journey/form.go), --xlsx or --svg; a plant that can not be opened is named, and the trace ends before it.

Everything upstream and downstream with masses, where it is now or who has it with their telephone, what it touched, the documents, and the share of its mass that is accounted for. What was drawn from a mixed station goes back to every resident since it was last proven empty; the expected shares are estimates, and say so.

Times in a subject are on the plant's clock unless they carry an offset: station:conveyor@2026-03-01..2026-03-02.

With --json, one object; its members are documented in exports/lineage/form.go and stay: "format" is 1; "subject", "direction", "at"; "account" (mass received or made against mass accounted for); "lots", "paths", "movements", "consignees", "partners", "touches", "documents", "cycles". Masses are decimal kilograms as text; times are UTC.`
}

func (c *traceCommand) Run(ctx context.Context, w *world) error {
	if c.Company != "" {
		return c.across(ctx, w)
	}
	plant, err := c.plant()
	if err != nil {
		return err
	}
	b, err := plant.openSigned(ctx, w)
	if err != nil {
		return err
	}
	defer b.Close()
	view := b.View()
	head, err := b.head(ctx, view)
	if err != nil {
		return err
	}
	st, at, p, err := c.of(view.State, w.instant())
	if err != nil {
		return err
	}
	if p == nil {
		return &records.Error{Kind: records.NotFound, What: "no plan is in force, so nothing is known of the plant yet", Do: "Adopt one with `grainward plan adopt`."}
	}
	if head, err = b.known(st, head); err != nil {
		return err
	}
	subject, err := trace.ParseSubject(c.Subject, p.Location())
	if err != nil {
		return err
	}
	floor := audit.Floor(st, at)
	t, err := trace.Make(st, floor, trace.Build(floor), subject, c.way())
	if err != nil {
		return err
	}
	s, err := stamp(&audit.Report{State: st, At: at}, head, b.key, c.By)
	if err != nil {
		return err
	}
	in := lineage.Input{Trace: t, Stamp: s, Lang: c.Lang}
	switch {
	case c.JSON:
		return lineage.WriteJSON(w.out, in)
	case c.XLSX != "":
		return c.file(w, c.XLSX, func(out io.Writer) error { return lineage.WriteSheets(out, in) })
	case c.SVG != "":
		return c.file(w, c.SVG, func(out io.Writer) error { return lineage.WriteDrawing(out, in) })
	}
	return lineage.WriteText(w.out, in)
}

func (c *traceCommand) way() trace.Direction {
	switch {
	case c.Back:
		return trace.Back
	case c.Forward:
		return trace.Forward
	}
	return trace.Both
}

func (c *traceCommand) file(w *world, path string, fill func(io.Writer) error) error {
	if err := writeWhole(path, fill); err != nil {
		return err
	}
	w.say("%s: the trace of %s.", path, c.Subject)
	return nil
}
