package audittest

import (
	"grainward/records"
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
