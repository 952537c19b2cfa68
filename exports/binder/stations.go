package binder

import (
	"cmp"
	"context"
	"slices"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

// stationLine is one line of a station's timeline: a contact, or a clean-out that passed.
type stationLine struct {
	from, to records.Instant
	contact  *lots.Contact
	clean    *lots.CleanOut
}

// stations is each station's timeline: which lots were there and when, and the clean-outs that passed.
func (b *builder) stations(ctx context.Context, g *goods) (*table, error) {
	within := func(from, to records.Instant) bool { return from <= b.per.to && to >= b.per.from }
	lines := map[records.StationCode][]stationLine{}
	contacts := 0
	for code := range g.Contacts {
		for c := range g.Contacts[code].All() {
			if within(c.From, c.To) {
				lines[code] = append(lines[code], stationLine{from: c.From, to: c.To, contact: c})
				contacts++
			}
		}
	}
	if contacts == 0 {
		return nil, nil
	}
	for code := range g.CleanOuts {
		for i := range g.CleanOuts[code] {
			if c := &g.CleanOuts[code][i]; within(c.From, c.To) {
				lines[code] = append(lines[code], stationLine{from: c.From, to: c.To, clean: c})
			}
		}
	}
	t, err := b.table(b.say("Stations"), b.say("Stations: what was where and when, and the clean-outs that passed between"), []column{
		{b.say("Position"), 9, whole}, {b.say("Station"), 20, plain}, {b.say("From"), 13, when}, {b.say("To"), 13, when}, {b.say("What"), 16, plain},
		{b.say("Lot"), 16, plain}, {b.say("Item"), 18, plain}, {b.say("Status"), 14, plain}, {b.say("Grade"), 22, plain}, {b.say("Task"), 24, plain},
		{b.say("Person"), 17, plain}, {b.say("Ended by entry"), 9, plain},
	})
	if err != nil {
		return nil, err
	}
	for _, code := range slices.Sorted(func(yield func(records.StationCode) bool) {
		for c := range lines {
			if !yield(c) {
				return
			}
		}
	}) {
		slices.SortStableFunc(lines[code], func(x, y stationLine) int { return cmp.Or(cmp.Compare(x.from, y.from), cmp.Compare(x.to, y.to)) })
		for _, l := range lines[code] {
			if err := b.stationRow(ctx, t, g, code, l); err != nil {
				return nil, err
			}
		}
	}
	return t, t.close(ctx)
}

func (b *builder) stationRow(ctx context.Context, t *table, g *goods, code records.StationCode, l stationLine) error {
	r := l.began()
	p := b.planAt(r.Happened)
	b.entry(t, r)
	t.text(b.names.at(p, code))
	t.when(l.from)
	switch {
	case l.to == lots.Forever:
		t.blank()
	default:
		t.when(l.to)
	}
	if l.clean != nil {
		t.text(b.say("clean-out"))
		t.blank()
		t.blank()
		t.blank()
		t.text(b.rank(p, l.clean.Grade))
		t.text(b.names.taskTitle(p, r.Fact.(*records.Signoff).Task))
		t.text(b.names.signer(p, r))
		return t.end(ctx)
	}
	what := b.say("stood there")
	switch c := l.contact; {
	case c.Purge:
		what = b.say("purge")
	case c.From == c.To:
		what = b.say("ran through")
	case c.To == lots.Forever:
		what = b.say("is there")
	}
	lot := g.Lots[l.contact.Lot]
	t.text(what)
	t.text(string(lot.Code))
	t.text(b.item(p, lot.Item))
	t.text(b.status(lot.Status))
	t.blank()
	t.blank()
	t.text(b.names.signer(p, r))
	t.cite(l.contact.Ended)
	return t.end(ctx)
}

func (l *stationLine) began() *state.Record {
	if l.clean != nil {
		return l.clean.Record
	}
	return l.contact.Began
}

// rank is a grade's title by its place in the plan.
func (b *builder) rank(p *plan.Plan, n int) string {
	if n < 0 || n >= len(p.Grades) {
		return itoa(n)
	}
	return p.Grades[n].Title.In(b.lang)
}

func (b *builder) grade(p *plan.Plan, code records.GradeCode) string {
	if n, ok := p.GradeRank(code); ok {
		return b.rank(p, n)
	}
	return string(code)
}

// changeovers has every arrival after unlike contents with its evidence or the gap, unlike lots together, and clean-outs of a
// station that was not empty.
func (b *builder) changeovers(ctx context.Context, g *goods) (*table, error) {
	s := g.Segregation.All()
	type row struct {
		at    records.Instant
		order int
		write func(t *table)
	}
	var rows []row
	for i := range s.Arrivals {
		if a := &s.Arrivals[i]; b.per.holds(a.Contact.From) {
			rows = append(rows, row{a.Contact.From, 0, func(t *table) {
				p := b.planAt(a.Contact.From)
				b.changeover(t, g, p, b.say("after unlike contents"), a.Contact.Began, a.Station, a.Contact.From, a.Lot, a.After)
				t.when(a.Since)
				t.text(b.grade(p, a.Need))
				shown := a.Evidence
				switch {
				case a.Evidence != nil:
					t.text(b.say("evidence"))
				case a.Weak != nil:
					t.text(b.say("TOO LITTLE"))
					shown = a.Weak
				default:
					t.text(b.say("GAP"))
				}
				b.evidenceCells(t, shown)
				t.cite(a.Left)
			}})
		}
	}
	for i := range s.Together {
		if x := &s.Together[i]; b.per.holds(x.From) {
			rows = append(rows, row{x.From, 1, func(t *table) {
				p := b.planAt(x.From)
				b.changeover(t, g, p, b.say("unlike lots together"), x.Began[1], x.Station, x.From, x.B, x.A)
				t.blank()
				t.blank()
				t.text(b.say("TOGETHER"))
				t.blank()
				t.blank()
				t.cite(x.Began[0])
			}})
		}
	}
	for i := range s.Occupied {
		if x := &s.Occupied[i]; b.per.holds(x.CleanOut.To) {
			rows = append(rows, row{x.CleanOut.To, 2, func(t *table) {
				p := b.planAt(x.CleanOut.To)
				b.changeover(t, g, p, b.say("cleaned while occupied"), x.CleanOut.Record, x.CleanOut.Station, x.CleanOut.To, x.Lot, -1)
				t.blank()
				t.text(b.rank(p, x.CleanOut.Grade))
				t.text(b.say("OCCUPIED"))
				b.evidenceCells(t, x.CleanOut.Record)
				t.blank()
			}})
		}
	}
	if rows == nil {
		return nil, nil
	}
	slices.SortStableFunc(rows, func(x, y row) int { return cmp.Or(cmp.Compare(x.at, y.at), cmp.Compare(x.order, y.order)) })
	t, err := b.table(b.say("Changeovers"), b.say("Changeovers: every arrival after unlike contents, with the clean-out or purge between them, or the gap"), []column{
		{b.say("Position"), 9, whole}, {b.say("What"), 16, plain}, {b.say("Station"), 16, plain}, {b.say("At"), 12, when},
		{b.say("Lot"), 14, plain}, {b.say("Class"), 16, plain}, {b.say("Other lot"), 14, plain}, {b.say("Its class"), 16, plain}, {b.say("Gone since"), 12, when},
		{b.say("Grade needed"), 18, plain}, {b.say("Standing"), 11, plain}, {b.say("Evidence"), 9, plain}, {b.say("What it was"), 26, plain}, {b.say("Other entries"), 9, plain},
	})
	if err != nil {
		return nil, err
	}
	for _, r := range rows {
		r.write(t)
		if err := t.end(ctx); err != nil {
			return nil, err
		}
	}
	return t, t.close(ctx)
}

func (b *builder) changeover(t *table, g *goods, p *plan.Plan, what string, r *state.Record, station records.StationCode, at records.Instant, lot, other int) {
	b.entry(t, r)
	t.text(what)
	t.text(b.names.at(p, station))
	t.when(at)
	for _, i := range []int{lot, other} {
		if i < 0 {
			t.blank()
			t.blank()
			continue
		}
		t.text(string(g.Lots[i].Code))
		t.text(b.class(p, g.Lots[i]))
	}
}

// class is a lot's status and its allergens.
func (b *builder) class(p *plan.Plan, l *lots.Lot) string {
	s := b.status(l.Status)
	if i := p.Item(l.Item); i != nil && len(i.Allergens) > 0 {
		s += ", " + joined(i.Allergens)
	}
	return s
}

// evidenceCells puts the position of a clean-out or purge and what it was.
func (b *builder) evidenceCells(t *table, r *state.Record) {
	t.cite(r)
	if r == nil {
		t.blank()
		return
	}
	p := b.planAt(r.Happened)
	switch f := r.Fact.(type) {
	case *records.Signoff:
		t.text(b.names.taskTitle(p, f.Task) + "\n" + b.clock(r.Happened) + ", " + b.names.signer(p, r))
	case *records.Purge:
		t.text(b.say("purge") + " " + f.Weight.Mass.String() + "\n" + b.clock(r.Happened) + ", " + b.names.signer(p, r))
	default:
		t.text(b.clock(r.Happened))
	}
}
