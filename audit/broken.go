package audit

import (
	"fmt"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

func (s *Segregation) breakLot(lot int, b *Broken) {
	if was := s.Broken[lot]; was == nil || b.When < was.When {
		s.Broken[lot] = b
	}
}

// spread takes what is broken on to everything made from it, until it is declared conventional. Steps are in the order
// in which they happened, and a lot breaks what it becomes only after it broke itself.
func (s *Segregation) spread(f *lots.Floor) {
	for i := range f.Steps {
		step := f.Steps[i]
		for _, in := range step.In {
			parent := f.Lots[in.Lot]
			b := s.Broken[in.Lot]
			if parent.Status.IsOrganic() && (b == nil || b.When > step.Record.Happened) {
				continue
			}
			for _, out := range step.Out {
				status := f.Lots[out.Lot].Status
				if status == records.MadeWith && (b == nil || b.When > step.Record.Happened) {
					continue // may hold other ingredients; the rule on composition says how much
				}
				if status.IsOrganic() && out.Lot != in.Lot {
					s.breakLot(out.Lot, &Broken{When: step.Record.Happened, By: step.Record, Station: "", Other: in.Lot})
				}
			}
		}
	}
}

// models works out, lot by lot, the chain-of-custody model its history reached. Origins are the receipts upstream.
func (s *Segregation) models(f *lots.Floor) {
	s.Models = make([]Model, len(f.Lots))
	origins := make([]origin, len(f.Lots))
	for i, l := range f.Lots {
		origins[i] = none
		if l.Receipt != nil {
			origins[i] = origin(i)
		}
	}
	for i := range f.Steps { // in order, so parents are settled before what is made of them
		for _, in := range f.Steps[i].In {
			for _, out := range f.Steps[i].Out {
				origins[out.Lot] = origins[out.Lot].with(origins[in.Lot])
			}
		}
	}
	for i, l := range f.Lots {
		switch {
		case s.Broken[i] != nil || !l.Status.IsOrganic() || origins[i] == none:
			s.Models[i] = NotSegregated
		case origins[i] == several:
			s.Models[i] = Segregated
		default:
			s.Models[i] = IdentityPreserved
		}
	}
}

// origin is the one receipt a lot goes back to, or none, or several.
type origin int

const (
	none    origin = -1
	several origin = -2
)

func (o origin) with(p origin) origin {
	switch {
	case o == none:
		return p
	case p == none || o == p:
		return o
	}
	return several
}

func (s *Segregation) findings(st *state.State, f *lots.Floor) (out []*Finding) {
	for i := range s.Arrivals {
		if a := &s.Arrivals[i]; a.Evidence == nil {
			out = append(out, a.finding(st, f))
		}
	}
	for i := range s.Together {
		t := &s.Together[i]
		p := st.PlanAt(t.From)
		fd := find("together", fmt.Sprintf("%s:%s+%s:%s", t.Station, f.Lots[t.A].Code, f.Lots[t.B].Code, t.From), t.From,
			Subject{Station: t.Station, Lot: f.Lots[t.B].Code, Item: f.Lots[t.B].Item}, nil,
			[]Value{word("lot", string(f.Lots[t.B].Code)), word("other", string(f.Lots[t.A].Code)), title("station", stationTitle(p, t.Station)), moment("from", p, t.From)},
			eventPositions(t.Began[0], t.Began[1])...)
		out = append(out, fd)
	}
	for _, o := range s.Occupied {
		p := st.PlanAt(o.CleanOut.To)
		out = append(out, find("cleaned-occupied", o.CleanOut.Record.ID.String()+"/"+string(f.Lots[o.Lot].Code), o.CleanOut.To,
			Subject{Station: o.CleanOut.Station, Lot: f.Lots[o.Lot].Code}, nil,
			[]Value{title("station", stationTitle(p, o.CleanOut.Station)), moment("done", p, o.CleanOut.To), word("lot", string(f.Lots[o.Lot].Code))}, o.CleanOut.Record.Position))
	}
	return append(out, s.brokenFindings(st, f)...)
}

func (a *Arrival) finding(st *state.State, f *lots.Floor) *Finding {
	p := st.PlanAt(a.Contact.From)
	lot, after := f.Lots[a.Lot], f.Lots[a.After]
	rule := "gap"
	switch {
	case a.Weak != nil:
		rule = "weak-clean-out"
	case !a.Status:
		rule = "allergen-gap"
	}
	need := plan.Text{"en": string(a.Need)}
	for i := range p.Grades {
		if p.Grades[i].Code == a.Need {
			need = p.Grades[i].Title
		}
	}
	fd := find(rule, fmt.Sprintf("%s:%s:%s:%s", a.Station, lot.Code, after.Code, a.Contact.From), a.Contact.From, Subject{Station: a.Station, Lot: lot.Code, Item: lot.Item}, nil,
		[]Value{word("lot", string(lot.Code)), word("after", string(after.Code)), word("class", classOf(p, after).String()), title("station", stationTitle(p, a.Station)),
			moment("since", p, a.Since), title("need", need)}, eventPositions(a.Left, a.Weak, a.Contact.Began)...)
	if rule == "weak-clean-out" && !a.Status {
		fd.Clauses = ruleTable["allergen-gap"].Clauses
	}
	return fd
}

// brokenFindings are about what became of broken lots: made into organic ones, shipped as organic; and of grain that
// was run through to clean.
func (s *Segregation) brokenFindings(st *state.State, f *lots.Floor) (out []*Finding) {
	for i, l := range f.Lots {
		b := s.Broken[i]
		if b == nil || b.Own {
			continue
		}
		if p := st.PlanAt(b.When); p != nil {
			out = append(out, find("broken-made", fmt.Sprintf("%s:%s", l.Code, f.Lots[b.Other].Code), b.When, lotSubject(l), nil,
				[]Value{word("lot", string(l.Code)), word("status", string(l.Status)), word("after", string(f.Lots[b.Other].Code))}, eventPositions(b.By)...))
		}
	}
	for i := range f.Transfers {
		t := f.Transfers[i]
		if t.Handover == nil || !t.Handover.Status.IsOrganic() {
			continue
		}
		p := st.PlanAt(t.Record.Happened)
		for _, portion := range t.Portions {
			b, l := s.Broken[portion.Lot], f.Lots[portion.Lot]
			if p == nil || l.Status.IsOrganic() && (b == nil || b.When > t.Record.Happened) {
				continue
			}
			why := "it is declared " + string(l.Status)
			evidence := eventPositions(t.Record)
			if b != nil {
				why = fmt.Sprintf("since %s, by lot %s", b.When.Time().In(p.Location()).Format("2006-01-02"), f.Lots[b.Other].Code)
				evidence = eventPositions(b.By, t.Record)
			}
			out = append(out, find("broken-shipped", t.Record.ID.String()+"/"+string(l.Code), t.Record.Happened,
				Subject{Lot: l.Code, Item: l.Item, Partner: t.Handover.To}, nil,
				[]Value{word("lot", string(l.Code)), word("partner", partnerName(p, t.Handover.To)), word("why", why)}, evidence...))
		}
	}
	for i := range f.Steps {
		if step := f.Steps[i]; step.What == "purge" {
			for _, o := range step.Out {
				if o.Output.Status.IsOrganic() {
					out = append(out, find("purge-sold", step.Record.ID.String(), step.Record.Happened, lotSubject(f.Lots[o.Lot]), nil,
						[]Value{word("lot", string(f.Lots[o.Lot].Code)), word("status", string(o.Output.Status))}, step.Record.Position))
				}
			}
		}
	}
	return out
}
