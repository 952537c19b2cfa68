package main

import (
	"grainward/records"
	"grainward/records/plan"
	"grainward/records/state"
)

// momentFlags ask about goods at a moment; commands that look back embed them.
type momentFlags struct {
	At      string `placeholder:"TIME" help:"The moment asked about: entries that had happened by then; now when left out."`
	AsKnown string `placeholder:"TIME" help:"Only what had been written down by then."`
}

// of gives the state and the moment that the flags ask for.
func (m *momentFlags) of(st *state.State, now records.Instant) (*state.State, records.Instant, *plan.Plan, error) {
	p, at := st.PlanAt(now), now
	var err error
	if m.At != "" {
		if at, err = parseMoment("--at", m.At, p, dayEnd); err != nil {
			return nil, 0, nil, err
		}
	}
	if m.AsKnown != "" {
		known, err := parseMoment("--as-known", m.AsKnown, p, dayEnd)
		if err != nil {
			return nil, 0, nil, err
		}
		st = st.AsKnown(known)
	}
	if q := st.PlanAt(at); q != nil {
		p = q
	}
	return st, at, p, nil
}

// periodFlags ask about a stretch of time.
type periodFlags struct {
	From string `placeholder:"TIME" help:"The beginning; the first entry when left out."`
	To   string `placeholder:"TIME" help:"The end; now when left out."`
}

func (f *periodFlags) of(p *plan.Plan, now records.Instant) (from, to records.Instant, err error) {
	to = now
	if f.From != "" {
		if from, err = parseMoment("--from", f.From, p, dayStart); err != nil {
			return 0, 0, err
		}
	}
	if f.To != "" {
		if to, err = parseMoment("--to", f.To, p, dayEnd); err != nil {
			return 0, 0, err
		}
	}
	if from > to {
		return 0, 0, wrongFlag("--from", f.From, "a time not after --to")
	}
	return from, min(to, now), nil
}
