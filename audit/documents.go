package audit

import (
	"slices"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/plan"
	"grainward/records/state"
)

// expiringDays is how long before its last day a document is named as running out.
const expiringDays = 30

// held says whether, by what is on file at the moment, a document held on a day. Putting a certificate on file a week
// after it was first needed is late filing, not a lapse, so it does not matter when it was filed.
func held(st *state.State, code records.DocumentCode, day calendar.Date, at records.Instant) bool {
	return slices.ContainsFunc(st.Documents(code).Until(at), func(r *state.Record) bool { return r.Fact.(*records.Document).HoldsOn(day) })
}

func documentTitle(p *plan.Plan, code records.DocumentCode) string {
	if d := p.Document(code); d != nil {
		return d.Title
	}
	return string(code)
}

// documentFindings goes through the documents the plan wants on file: those missing, run out and running out.
func documentFindings(st *state.State, at records.Instant) (out []*Finding) {
	p := st.PlanAt(at)
	if p == nil {
		return nil
	}
	today := p.Day(at)
	for i := range p.Documents {
		want := &p.Documents[i]
		newest, last := newestDocument(st, want.Code, at)
		subject := Subject{Document: want.Code}
		name := word("document", want.Title)
		switch {
		case newest == nil:
			since := inForceSince(st, at)
			out = append(out, find("document-missing", string(want.Code), since, subject, nil, []Value{name}))
		case last == nil:
			// open-ended
		case *last < today:
			out = append(out, find("document-expired", string(want.Code)+":"+last.String(), p.At(last.AddDays(1), plan.DayTime{}), subject, nil,
				[]Value{name, word("day", last.String())}, newest.Position))
		case last.AddDays(-expiringDays) <= today:
			out = append(out, find("document-expiring", string(want.Code)+":"+last.String(), p.At(last.AddDays(-expiringDays), plan.DayTime{}), subject, nil,
				[]Value{name, word("day", last.String())}, newest.Position))
		}
	}
	return out
}

// newestDocument is the filing that holds longest, and its last day; nil for one that does not run out.
func newestDocument(st *state.State, code records.DocumentCode, at records.Instant) (newest *state.Record, last *calendar.Date) {
	for _, r := range st.Documents(code).Until(at) {
		d := r.Fact.(*records.Document)
		if newest == nil || d.To == nil || last != nil && *d.To >= *last {
			newest, last = r, d.To
		}
		if last == nil {
			return newest, nil
		}
	}
	return newest, last
}

func inForceSince(st *state.State, at records.Instant) records.Instant {
	since := at
	for _, in := range st.Plans() {
		if in.From <= at {
			since = in.From
		}
	}
	return since
}
