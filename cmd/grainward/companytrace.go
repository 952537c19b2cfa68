package main

import (
	"context"
	"errors"
	"io"
	"strings"

	"grainward/audit"
	"grainward/audit/across"
	"grainward/audit/trace"
	"grainward/exports"
	"grainward/exports/journey"
	"grainward/records"
	"grainward/records/company"
	"grainward/records/plan"
)

// across traces through the plants of a company. A plant that can not be opened is said, and the trace ends before it.
func (c *traceCommand) across(ctx context.Context, w *world) (err error) {
	f, err := readCompany(c.Company)
	if err != nil {
		return err
	}
	code, subject, ok := strings.Cut(c.Subject, "/")
	if !ok || f.Plant(company.PlantCode(code)) == nil {
		return wrongFlag("subject", c.Subject, "PLANT/SUBJECT with a plant of "+c.Company+": "+f.codes())
	}
	from := company.PlantCode(code)
	all := floors{plans: map[company.PlantCode]*plan.Plan{}, stamps: map[company.PlantCode]exports.Stamp{}, at: map[company.PlantCode]records.Instant{}}
	defer func() { err = errors.Join(err, all.close()) }()
	for i := range f.Plants {
		p := &f.Plants[i]
		err := all.open(ctx, w, c, f, p)
		if err != nil && p.Code == from {
			return err
		}
		if err != nil {
			w.note("plant %s can not be opened, and the trace ends before it: %v", p.Code, err)
			all.plants = append(all.plants, across.Plant{Code: p.Code})
		}
	}
	start := all.plans[from]
	if start == nil {
		return wrongFlag("subject", c.Subject, "a plant with a plan in force")
	}
	planOf := func(code company.PlantCode) *plan.Plan { return all.plans[code] }
	for _, n := range f.Notes(planOf) {
		w.note("note: %s", n)
	}
	what, err := trace.ParseSubject(subject, start.Location())
	if err != nil {
		return err
	}
	t, err := across.Build(all.plants, f.PlantOf).Trace(from, what, c.way())
	if err != nil {
		return err
	}
	in := journey.Input{Trace: t, At: all.at[from], Lang: c.Lang, Plan: planOf, Stamp: func(code company.PlantCode) exports.Stamp { return all.stamps[code] },
		Closed: func(company.PlantCode) journey.Closed { return journey.Unread }}
	switch {
	case c.JSON:
		return journey.WriteJSON(w.out, journey.Flatten(in))
	case c.XLSX != "":
		return c.file(w, c.XLSX, func(out io.Writer) error { return journey.WriteSheets(out, in) })
	case c.SVG != "":
		return c.file(w, c.SVG, func(out io.Writer) error { return journey.WriteDrawing(out, in) })
	}
	return journey.WriteText(w.out, journey.Flatten(in))
}

// floors are the plants of a company as they stood at the moment asked for.
type floors struct {
	books  []*signedBook
	plants []across.Plant
	plans  map[company.PlantCode]*plan.Plan
	stamps map[company.PlantCode]exports.Stamp
	at     map[company.PlantCode]records.Instant
}

func (a *floors) close() (err error) {
	for _, b := range a.books {
		err = errors.Join(err, b.Close())
	}
	return err
}

// open reads a plant's journal and folds its floor. A plant without a plan in force has none.
func (a *floors) open(ctx context.Context, w *world, c *traceCommand, f *companyFile, p *company.Plant) error {
	flags, err := f.flags(p)
	if err != nil {
		return err
	}
	b, err := flags.openSigned(ctx, w)
	if err != nil {
		return err
	}
	a.books = append(a.books, b)
	view := b.View()
	st, at, in, err := c.of(view.State, w.instant())
	if err != nil {
		return err
	}
	a.at[p.Code] = at
	if in == nil {
		a.plants = append(a.plants, across.Plant{Code: p.Code})
		return nil
	}
	head, err := b.head(ctx, view)
	if err != nil {
		return err
	}
	if head, err = b.known(st, head); err != nil {
		return err
	}
	if a.stamps[p.Code], err = stamp(&audit.Report{State: st, At: at}, head, b.key, c.By); err != nil {
		return err
	}
	floor := audit.Floor(st, at)
	a.plants = append(a.plants, across.Plant{Code: p.Code, State: st, Floor: floor, Graph: trace.Build(floor)})
	a.plans[p.Code] = in
	return nil
}

func (f *companyFile) codes() string {
	var all []string
	for _, p := range f.Plants {
		all = append(all, string(p.Code))
	}
	return strings.Join(all, ", ")
}
