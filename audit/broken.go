package audit

import (
	"fmt"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

// breakBy is what broke a lot first.
func breakBy(was, b *Broken) *Broken {
	if was == nil || b.When < was.When {
		return b
	}
	return was
}

// spread takes what is broken on to what a step made, as far as that is wanted, until it is declared conventional. A lot breaks what
// it becomes only after it broke itself.
func spread(f *lots.Floor, step *lots.Step, of func(lot int) **Broken, wanted func(lot int) bool) {
	for _, in := range step.In {
		parent := f.Lots[in.Lot]
		b := *of(in.Lot)
		if parent.Status.IsOrganic() && (b == nil || b.When > step.Record.Happened) {
			continue
		}
		for _, out := range step.Out {
			if !wanted(out.Lot) {
				continue
			}
			status := f.Lots[out.Lot].Status
			if status == records.MadeWith && (b == nil || b.When > step.Record.Happened) {
				continue // may hold other ingredients; the rule on composition says how much
			}
			if status.IsOrganic() && out.Lot != in.Lot {
				x := of(out.Lot)
				*x = breakBy(*x, &Broken{When: step.Record.Happened, By: step.Record, Station: "", Other: in.Lot})
			}
		}
	}
}

// modelOf is the chain-of-custody model that a lot's history reached. Origins are the receipts upstream.
func modelOf(l *lots.Lot, from origin, b *Broken) Model {
	switch {
	case b != nil || !l.Status.IsOrganic() || from == none:
		return NotSegregated
	case from == several:
		return Segregated
	}
	return IdentityPreserved
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

func (s *Apart) findings(st *state.State, f *lots.Floor) (out []*Finding) {
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
	return out
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
		[]Value{word("lot", string(lot.Code)), word("after", string(after.Code)), word("class", sortOf(after).class(p).String()), title("station", stationTitle(p, a.Station)),
			moment("since", p, a.Since), title("need", need)}, eventPositions(a.Left, a.Weak, a.Contact.Began)...)
	if rule == "weak-clean-out" && !a.Status {
		fd.Clauses = ruleTable["allergen-gap"].Clauses
	}
	return fd
}

// brokenMade is a lot that was made from a broken one.
func (j *goodsJudge) brokenMade(l *lots.Lot, b *Broken) {
	if b == nil || b.Own || j.st.PlanAt(b.When) == nil {
		return
	}
	other := j.f.Lots[b.Other]
	j.find("broken-made", fmt.Sprintf("%s:%s", l.Code, other.Code), b.When, lotSubject(l),
		[]Value{word("lot", string(l.Code)), word("status", string(l.Status)), word("after", string(other.Code))}, b.By)
}

// brokenShipped are broken lots, or such as never were organic, that left as organic.
func (j *goodsJudge) brokenShipped(p *plan.Plan, t *lots.Transfer, broken func(lot int) *Broken) {
	if !t.Handover.Status.IsOrganic() {
		return
	}
	for _, portion := range t.Portions {
		b, l := broken(portion.Lot), j.f.Lots[portion.Lot]
		if l.Status.IsOrganic() && (b == nil || b.When > t.Record.Happened) {
			continue
		}
		why := "it is declared " + string(l.Status)
		evidence := []*state.Record{t.Record}
		if b != nil {
			why = fmt.Sprintf("since %s, by lot %s", b.When.Time().In(p.Location()).Format("2006-01-02"), j.f.Lots[b.Other].Code)
			evidence = []*state.Record{b.By, t.Record}
		}
		j.find("broken-shipped", t.Record.ID.String()+"/"+string(l.Code), t.Record.Happened, Subject{Lot: l.Code, Item: l.Item, Partner: t.Handover.To},
			[]Value{word("lot", string(l.Code)), word("partner", partnerName(p, t.Handover.To)), word("why", why)}, evidence...)
	}
}

// purgeSold is grain that was run through to clean and is declared organic.
func (j *goodsJudge) purgeSold(step *lots.Step) {
	if step.What != "purge" {
		return
	}
	for _, o := range step.Out {
		if o.Output.Status.IsOrganic() {
			l := j.f.Lots[o.Lot]
			j.find("purge-sold", step.Record.ID.String(), step.Record.Happened, lotSubject(l),
				[]Value{word("lot", string(l.Code)), word("status", string(o.Output.Status))}, step.Record)
		}
	}
}
