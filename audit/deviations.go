package audit

import (
	"slices"

	"grainward/records"
	"grainward/records/plan"
	"grainward/records/state"
)

// deviationMemo is what was found of the deviations known last. Most are the same ones the next time.
type deviationMemo struct {
	plans   uint64
	n       records.Position // of the state
	known   []*state.Record
	found   []*Finding // one of each
	unknown bool       // one names an entry that is not there, and may come yet
}

// at makes a finding of everything somebody reported as gone wrong. It stays until an answer closes it.
func (m *deviationMemo) at(st *state.State, at records.Instant) []*Finding {
	if p := st.Kind(records.KindPlan).Version(); m.plans != p || m.n > st.Size() || m.unknown {
		*m = deviationMemo{plans: p}
	}
	m.n = st.Size()
	now := st.Kind(records.KindDeviation).Until(at)
	same := state.Common(m.known, now)
	m.known, m.found = now, slices.Clip(m.found[:same])
	for _, r := range now[same:] {
		m.found = append(m.found, m.find(st, r))
	}
	return m.found
}

func (m *deviationMemo) find(st *state.State, r *state.Record) *Finding {
	p := planFor(st, r.Happened)
	fact := r.Fact.(*records.Deviation)
	evidence := []records.Position{r.Position}
	for _, id := range fact.Entries {
		if pos, ok := st.Find(id); ok {
			evidence = append(evidence, pos)
		} else {
			m.unknown = true
		}
	}
	var clauses []records.Clause
	if t := p.Task(fact.Task); t != nil {
		clauses = t.Clauses
	}
	return find("deviation", r.ID.String(), r.Happened, Subject{Task: fact.Task, Station: fact.Station, Person: r.Performer()}, clauses,
		[]Value{word("person", personName(p, r.Performer())), word("what", fact.What)}, evidence...)
}

// planFor is the plan in force, or the first there was, or an empty one: what somebody reported is never passed over for
// want of a plan.
func planFor(st *state.State, at records.Instant) *plan.Plan {
	if p := st.PlanAt(at); p != nil {
		return p
	}
	if all := st.Plans(); len(all) > 0 {
		return all[0].Plan
	}
	return new(plan.Plan)
}

// answeredBy is the id of the finding that an entry answers. An answer to a deviation is one to the finding made of it.
func answeredBy(r *state.Record) string {
	fact := r.Fact.(*records.Answer)
	if fact.Finding != "" {
		return fact.Finding
	}
	return "deviation:" + fact.Deviation.String()
}

// answer notes on a finding who answered it. Only a lead's answer closes; the last one that says so or not counts.
func (f *Finding) answer(st *state.State, by []*state.Record) {
	f.Answers = positions(by)
	for _, r := range by {
		if isLead(st, r) {
			f.Closed = r.Fact.(*records.Answer).Closes
		}
	}
}
