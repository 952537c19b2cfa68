package audittest

import (
	"fmt"

	"grainward/records"
	"grainward/records/plan"
)

// expiringDays is how long before its last day a document is pointed out.
const expiringDays = 30

// judgeRegister looks at the documents that the plan in force at the moment wants on file.
func (j *journal) judgeRegister() {
	p := j.planAt(j.at)
	if p == nil {
		return
	}
	var since records.Instant
	for _, s := range j.plans {
		if s.plan == p {
			since = s.from
		}
	}
	today := p.Day(j.at)
	for _, want := range p.Documents {
		var newest *record
		open := false
		for _, r := range j.docs {
			doc := r.Fact.(*records.Document)
			switch {
			case doc.Code != want.Code:
			case doc.To == nil:
				open = true
			case newest == nil || *doc.To >= *newest.Fact.(*records.Document).To:
				newest = &r
			}
		}
		switch {
		case open:
		case newest == nil:
			j.find("document-missing", string(want.Code), since)
		default:
			to := *newest.Fact.(*records.Document).To
			id := fmt.Sprintf("%s:%s", want.Code, to)
			if to < today {
				j.find("document-expired", id, p.At(to.AddDays(1), plan.DayTime{}), newest.pos)
			} else if to.AddDays(-expiringDays) <= today {
				j.find("document-expiring", id, p.At(to.AddDays(-expiringDays), plan.DayTime{}), newest.pos)
			}
		}
	}
}

// judgeKept looks at whether the journal goes back as far as records must be kept.
func (j *journal) judgeKept() {
	p := j.planAt(j.at)
	if p == nil {
		return
	}
	years := max(p.Profile.Keep.Food, p.Profile.Keep.Organic)
	owed := max(p.Day(j.at).AddMonths(-12*years), p.Plant.Since)
	earliest := j.at
	for _, r := range j.used {
		if r.Kind != records.KindDocument && r.Kind != records.KindPlan {
			earliest = r.Happened
			break
		}
	}
	if begins := p.Day(earliest); begins > owed {
		j.find("not-kept", fmt.Sprintf("%s:%s", p.Plant.Since, begins), earliest)
	}
}
