package main

import (
	"context"
	"errors"
	"strings"

	"grainward/audit"
	"grainward/audit/across"
	"grainward/audit/trace"
	"grainward/exports/journey"
	"grainward/records/book"
	"grainward/records/company"
	"grainward/records/plan"
	"grainward/records/sqlite"
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
	if c.XLSX != "" || c.SVG != "" {
		return wrongFlag("--company", c.Company, "no --xlsx and no --svg beside it; those are of one plant (--dir)")
	}
	plans := map[company.PlantCode]*plan.Plan{}
	var plants []across.Plant
	at := w.instant()
	for i := range f.Plants {
		p := &f.Plants[i]
		one := across.Plant{Code: p.Code}
		b, err := f.openBook(ctx, w, p)
		if err != nil {
			if p.Code == company.PlantCode(code) {
				return err
			}
			w.note("plant %s can not be opened, and the trace ends before it: %v", p.Code, err)
			plants = append(plants, one)
			continue
		}
		defer func() { err = errors.Join(err, b.Close()) }()
		st, then, in, err := c.of(b.View().State, w.instant())
		if err != nil {
			return err
		}
		if in != nil {
			floor := audit.Floor(st, then)
			one.State, one.Floor, one.Graph, plans[p.Code] = st, floor, trace.Build(floor), in
		}
		at = then
		plants = append(plants, one)
	}
	start := plans[company.PlantCode(code)]
	if start == nil {
		return wrongFlag("subject", c.Subject, "a plant with a plan in force")
	}
	for _, n := range f.Notes(func(code company.PlantCode) *plan.Plan { return plans[code] }) {
		w.note("note: %s", n)
	}
	what, err := trace.ParseSubject(subject, start.Location())
	if err != nil {
		return err
	}
	t, err := across.Build(plants, f.PlantOf).Trace(company.PlantCode(code), what, c.way())
	if err != nil {
		return err
	}
	form := journey.Flatten(journey.Input{Trace: t, At: at, Lang: c.Lang, Plan: func(code company.PlantCode) *plan.Plan { return plans[code] },
		Closed: func(company.PlantCode) journey.Closed { return journey.Unread }})
	if c.JSON {
		return journey.WriteJSON(w.out, form)
	}
	return journey.WriteText(w.out, form)
}

func (f *companyFile) codes() string {
	var all []string
	for _, p := range f.Plants {
		all = append(all, string(p.Code))
	}
	return strings.Join(all, ", ")
}

// openBook replays a plant's journal, for reading.
func (f *companyFile) openBook(ctx context.Context, w *world, p *company.Plant) (*book.Book, error) {
	flags, err := f.flags(p)
	if err != nil {
		return nil, err
	}
	return flags.openBook(ctx, w, sqlite.Read)
}
