package audit

import (
	"grainward/records"
	"grainward/records/plan"
	"grainward/records/state"
)

// deviationFindings makes a finding of everything somebody reported as gone wrong. It stays until an answer closes it.
func deviationFindings(st *state.State, at records.Instant) (out []*Finding) {
	for _, r := range st.Kind(records.KindDeviation).Until(at) {
		p := planFor(st, r.Happened)
		fact := r.Fact.(*records.Deviation)
		evidence := []records.Position{r.Position}
		for _, id := range fact.Entries {
			if pos, ok := st.Find(id); ok {
				evidence = append(evidence, pos)
			}
		}
		var clauses []records.Clause
		if t := p.Task(fact.Task); t != nil {
			clauses = t.Clauses
		}
		out = append(out, find("deviation", r.ID.String(), r.Happened, Subject{Task: fact.Task, Station: fact.Station, Person: r.Performer()}, clauses,
			[]Value{word("person", personName(p, r.Performer())), word("what", fact.What)}, evidence...))
	}
	return out
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
