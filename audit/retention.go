package audit

import (
	"fmt"

	"grainward/records"
	"grainward/records/state"
)

// retentionFindings says for how much of the time that must still be kept the journal has no records: the plant ran
// before the journal began. Food records are kept 2 years (21 CFR 117.315(a)), organic ones 5 (7 CFR 205.103(b)(4));
// a plan may ask for more, and the longer of the two is what a certified-organic plant owes.
func retentionFindings(st *state.State, at records.Instant) []*Finding {
	p := st.PlanAt(at)
	if p == nil {
		return nil
	}
	years := max(p.Profile.Keep.Food, p.Profile.Keep.Organic)
	owed := max(p.Day(at).AddMonths(-12*years), p.Plant.Since)
	first := firstHappened(st, at)
	begins := p.Day(first)
	if begins <= owed {
		return nil
	}
	return []*Finding{find("not-kept", fmt.Sprintf("%s:%s", p.Plant.Since, begins), first, Subject{}, nil, []Value{
		word("from", owed.String()), word("to", begins.AddDays(-1).String()), count("years", years)})}
}

// firstHappened is when the oldest work in the journal happened; filed documents and the plan itself are not work.
func firstHappened(st *state.State, at records.Instant) records.Instant {
	first := at
	for _, row := range records.Kinds() {
		if row.Kind == records.KindDocument || row.Kind == records.KindPlan {
			continue
		}
		if oldest := st.Kind(row.Kind).First(); oldest != nil {
			first = min(first, oldest.Happened)
		}
	}
	return first
}
