package audittest

import (
	"fmt"
	"slices"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/plan"
)

// toReview says whether an entry as first written is a record the lead has to review, and on which day it was written.
func (j *journal) toReview(e records.Entry) (day calendar.Date, ok bool) {
	p := j.planAt(e.Recorded)
	if p == nil {
		return 0, false
	}
	day = p.Day(e.Recorded)
	switch fact := e.Fact.(type) {
	case *records.Deviation, *records.Answer, *records.Correct:
		return day, true
	case *records.Signoff:
		families, task := p.Profile.ReviewFamilies, p.Task(fact.Task)
		return day, len(families) == 0 || task == nil || slices.Contains(families, task.Family)
	}
	return 0, false
}

func (j *journal) judgeReviews() {
	var reviews []record // that have effect, in order
	for _, r := range j.used {
		if r.Kind == records.KindReview && j.lead(r) {
			reviews = append(reviews, r)
			j.judgeOwn(r)
		}
	}
	days := map[calendar.Date][]records.Position{}
	for p, e := range j.entries {
		if day, ok := j.toReview(e); ok {
			days[day] = append(days[day], records.Position(p))
		}
	}
	for day, batch := range days {
		p := j.planAt(j.entries[batch[0]].Recorded)
		deadline := p.At(p.WorkingDays().Add(day, p.Profile.ReviewDays).AddDays(1), plan.DayTime{})
		open, last := false, records.Instant(0)
		for _, pos := range batch {
			when, ok := j.reviewed(pos, reviews)
			if !ok {
				open = true
			}
			last = max(last, when)
		}
		var evidence []records.Position
		for _, r := range reviews {
			if v := r.Fact.(*records.Review); v.From <= batch[len(batch)-1] && batch[0] <= v.To {
				evidence = append(evidence, r.pos)
			}
		}
		switch {
		case open && j.at >= deadline:
			j.find("review-missed", day.String(), deadline, evidence...)
		case !open && last >= deadline:
			j.find("review-late", day.String(), last, evidence...)
		}
	}
}

// reviewed is when the entry at a position was first reviewed.
func (j *journal) reviewed(pos records.Position, reviews []record) (when records.Instant, ok bool) {
	for _, r := range reviews {
		v := r.Fact.(*records.Review)
		if v.From <= pos && pos <= v.To && pos < r.pos && !slices.Contains(v.Except, j.entries[pos].ID) {
			return r.Happened, true
		}
	}
	return 0, false
}

// judgeOwn notes a review that covers the reviewer's own sign-offs.
func (j *journal) judgeOwn(r record) {
	v := r.Fact.(*records.Review)
	for p, e := range j.entries {
		pos := records.Position(p)
		if e.Kind == records.KindSignoff && didIt(e) == didIt(r.Entry) && v.From <= pos && pos <= v.To && pos < r.pos && !slices.Contains(v.Except, e.ID) {
			j.find("review-own", fmt.Sprint(r.ID), r.Happened, r.pos)
			return
		}
	}
}
