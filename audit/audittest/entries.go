package audittest

import (
	"cmp"
	"slices"

	"grainward/records"
	"grainward/records/calendar"
)

// judgeEntry looks at how an entry was written, and notes every deviation.
func (j *journal) judgeEntry(r record) {
	id := r.ID.String()
	if p := j.planAt(r.Happened); p != nil {
		if r.Kind != records.KindDocument && r.Recorded.Sub(r.Happened) > p.Profile.LateEntry.Duration() {
			j.find("late-entry", id, r.Recorded, r.pos)
		}
		leads := false
		switch fact := r.Fact.(type) {
		case *records.Adoption, *records.Review, *records.Excuse:
			leads = true
		case *records.Answer:
			leads = fact.Closes
		}
		if leads && !j.lead(r) {
			j.find("lead-only", id, r.Happened, r.pos)
		}
	}
	if fact, ok := r.Fact.(*records.Deviation); ok {
		evidence := []records.Position{r.pos}
		for _, shows := range fact.Entries {
			if p, known := j.byID[shows]; known {
				evidence = append(evidence, records.Position(p))
			}
		}
		j.find("deviation", id, r.Happened, evidence...)
	}
}

// judgeClock finds, for each day on which an entry was written down more than five minutes before the one ahead of it, the pair that is
// furthest apart.
func (j *journal) judgeClock() {
	pairs := map[calendar.Date][]int{} // the later of each
	for p := 1; p < len(j.entries); p++ {
		before := j.entries[p-1].Recorded
		if in := j.planAt(before); in != nil && before <= j.at && j.entries[p].Recorded+5*60*1000 < before {
			pairs[in.Day(before)] = append(pairs[in.Day(before)], p)
		}
	}
	for day, all := range pairs {
		far := slices.MaxFunc(all, func(a, b int) int {
			return cmp.Or(cmp.Compare(j.entries[a-1].Recorded-j.entries[a].Recorded, j.entries[b-1].Recorded-j.entries[b].Recorded), cmp.Compare(b, a))
		})
		j.find("clock-back", day.String(), j.entries[far-1].Recorded, records.Position(far-1), records.Position(far))
	}
}
