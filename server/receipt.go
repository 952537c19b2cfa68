package server

import (
	"grainward/audit"
	"grainward/records"
	"grainward/records/plan"
	"grainward/records/state"
	"grainward/server/pages"
)

const nextMost = 4

// receipt says that a sign-off, or a correction of one, is written down, how it stands, and what is next there.
func (s *Server) receipt(r *request) (reply, error) {
	pos, err := r.position()
	if err != nil {
		return reply{}, err
	}
	first := r.view.State.First(pos)
	_, corrects := first.Fact.(*records.Correct)
	rec := r.view.State.Now(r.view.State.Root(pos))
	if rec == nil {
		return redirect(entryHref(pos))
	}
	fact, ok := rec.Fact.(*records.Signoff)
	if !ok {
		return redirect(entryHref(pos))
	}
	p := &pages.Receipt{Frame: s.frame(r, r.say("written-down"), "today"), Position: positionText(pos), Corrected: corrects,
		Task: taskTitle(r.plan, fact.Task, r.lang), Station: stationTitle(r.plan, fact.Station, r.lang), When: r.moment(rec.Happened),
		Entry: entryHref(pos), Fix: "/correct/" + positionText(rec.Position), Place: stationHref(fact.Station)}
	p.Passes, p.Verdict = r.verdict(rec, fact)
	d := r.dayOf(s.report(), func(t *plan.Task, at records.StationCode) bool { return r.mine(t) && at == fact.Station })
	for _, next := range d.now[:min(nextMost, len(d.now))] {
		p.Next = append(p.Next, r.work(next, r.signHref))
	}
	return page(p)
}

// verdict is how a sign-off stands by the plan of its day, with what stands against it.
func (r *request) verdict(rec *state.Record, fact *records.Signoff) (passes bool, against []string) {
	c := audit.Check(r.planAt(rec.Happened).Task(fact.Task), fact)
	for _, a := range c.Outside {
		against = append(against, r.outsideText(a, fact))
	}
	for _, a := range append(c.Missing, c.WrongUnit...) {
		against = append(against, r.say("not-answered", a.Title.In(r.lang)))
	}
	if fact.Outcome == records.Failed {
		against = append(against, r.say("said-failed"))
	}
	return c.Passes, against
}
