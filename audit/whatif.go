package audit

import (
	"crypto/sha256"
	"encoding/hex"
	"slices"

	"grainward/records"
	"grainward/records/state"
)

// WhatIf is how the findings of a stretch of time would differ under another plan.
type WhatIf struct {
	From       records.Instant // since when it was tried: not before the first plan, as nothing was owed before that
	Come, Gone []*Finding      // found only under the other plan, and only under those that are in force
	Same       int             // found under both
}

// UnderPlan judges what happened from an instant on as if a plan's text had been in force since then, against the plans that were.
// Nothing is changed: old records are judged by the plan that was in force when they were due, and stay so. The text must be one
// that plan.Parse takes.
func UnderPlan(st *state.State, text string, by records.PersonCode, from, now records.Instant) WhatIf {
	// A fold of its own: what is only tried must not reach the state that others read.
	trial := st.Prefix(st.Size())
	if plans := st.Plans(); len(plans) > 0 {
		from = max(from, plans[0].From)
	}
	sum := sha256.Sum256([]byte(text))
	fact := &records.Adoption{Text: text, SHA256: hex.EncodeToString(sum[:])}
	starts := []records.Instant{from}
	for _, in := range st.Plans() { // a plan adopted in between would put the other one out of force again
		if in.From > from && in.From <= now {
			starts = append(starts, in.From.Add(1e6))
		}
	}
	tried, recorded := trial.Size(), now
	if last := trial.First(tried - 1); last != nil {
		recorded = max(recorded, last.Recorded) // no clock goes back for the trial
	}
	for _, at := range starts {
		trial.Apply(trial.Size(), records.Entry{ID: records.NewEntryID(), Happened: at, Recorded: recorded, By: by, Kind: records.KindPlan, Meaning: records.Approved, Fact: fact})
	}
	after := slices.DeleteFunc(slices.Clone(At(trial, now).Findings), func(f *Finding) bool {
		return slices.ContainsFunc(f.Evidence, func(p records.Position) bool { return p >= tried }) // about the trial itself
	})
	since := func(fs []*Finding) []*Finding {
		return slices.DeleteFunc(slices.Clone(fs), func(f *Finding) bool { return f.When < from })
	}
	before := since(At(st, now).Findings)
	after = since(after)
	w := WhatIf{From: from}
	w.Come, w.Gone = Compare(before, after)
	w.Same = len(before) - len(w.Gone)
	return w
}

// Compare gives the findings that only the second list has, and those that only the first has.
func Compare(before, after []*Finding) (come, gone []*Finding) {
	had := map[string]bool{}
	for i := range before {
		had[before[i].ID] = true
	}
	for i := range after {
		if !had[after[i].ID] {
			come = append(come, after[i])
		}
		delete(had, after[i].ID)
	}
	for i := range before {
		if had[before[i].ID] {
			gone = append(gone, before[i])
		}
	}
	return come, gone
}
