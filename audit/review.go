package audit

import (
	"fmt"
	"slices"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/plan"
	"grainward/records/state"
)

// Batch is the records of one civil day that the lead is to review together: those written down on it. Grouping them
// by day keeps one forgotten week from being a thousand findings.
type Batch struct {
	Day      calendar.Date
	Limit    calendar.Date      // the last day of the time allowed
	Runs     []Run              // positions to be reviewed
	Count    int                // how many records that is
	Open     int                // of them not reviewed by the moment
	Reviewed records.Instant    // when the last of them was; 0 while some are open
	Reviews  []records.Position // that cover some of it
	plan     *plan.Plan
	deadline records.Instant // the first instant after the time allowed
}

// Run is a run of neighbouring positions, both ends included.
type Run struct{ From, To records.Position }

// needsReview says whether a record is a monitoring or corrective-action record (21 CFR 117.165(a)(4)(i)): sign-offs
// of the families the plan names (all when it names none), deviations, answers, and corrections.
func needsReview(p *plan.Plan, r *state.Record) bool {
	switch fact := r.Fact.(type) {
	case *records.Signoff:
		t := p.Task(fact.Task)
		return len(p.Profile.ReviewFamilies) == 0 || t == nil || slices.Contains(p.Profile.ReviewFamilies, t.Family)
	case *records.Deviation, *records.Answer, *records.Correct:
		return true
	}
	return false
}

// batches groups what has to be reviewed by the day on which it was written down. Positions from `from` on are added
// to what is already there.
func batches(st *state.State, have []Batch, from records.Position) []Batch {
	byDay := map[calendar.Date]int{}
	for i := range have {
		byDay[have[i].Day] = i
	}
	var day calendar.Date
	var dayFrom, dayTo records.Instant // the instants of `day`, so that the zone is asked once a day and not once an entry
	var dayPlan *plan.Plan
	for pos := from; pos < st.Size(); pos++ {
		r := st.First(pos) // the paper as it was written; a correction is a record of its own
		if r == nil {
			continue
		}
		p := st.PlanAt(r.Recorded)
		if p == nil || !needsReview(p, r) {
			continue
		}
		if p != dayPlan || r.Recorded < dayFrom || r.Recorded >= dayTo {
			day, dayPlan = p.Day(r.Recorded), p
			dayFrom, dayTo = p.At(day, plan.DayTime{}), p.At(day.AddDays(1), plan.DayTime{})
		}
		i, ok := byDay[day]
		if !ok {
			i = len(have)
			byDay[day] = i
			limit := p.WorkingDays().Add(day, p.Profile.ReviewDays)
			have = append(have, Batch{Day: day, Limit: limit, plan: p, deadline: p.At(limit.AddDays(1), plan.DayTime{})})
		}
		b := &have[i]
		b.Count++
		if n := len(b.Runs); n > 0 && b.Runs[n-1].To == pos-1 {
			b.Runs[n-1].To = pos
		} else {
			b.Runs = append(b.Runs, Run{pos, pos})
		}
	}
	return have
}

// review is a review entry signed by a lead.
type review struct {
	*records.Review
	rec    *state.Record
	except []records.Position
}

func reviews(st *state.State, at records.Instant) (out []review) {
	for _, r := range st.Kind(records.KindReview).Until(at) {
		if !isLead(st, r) {
			continue
		}
		out = append(out, readReview(st, r))
	}
	return out
}

func readReview(st *state.State, r *state.Record) review {
	v := review{Review: r.Fact.(*records.Review), rec: r}
	for _, id := range v.Except {
		if pos, ok := st.Find(id); ok {
			v.except = append(v.except, pos)
		}
	}
	return v
}

// reached says whether a review's range reaches into the batch.
func (b *Batch) reached(v *records.Review) bool {
	return v.From <= b.Runs[len(b.Runs)-1].To && v.To >= b.Runs[0].From
}

// cover works out when a batch was reviewed. An entry counts as reviewed at the first review whose range has it and
// does not except it; a review can not cover what was written down after it.
func (b *Batch) cover(all []review) {
	b.Open, b.Reviewed, b.Reviews = 0, 0, nil
	var near []review
	for _, v := range all {
		if b.reached(v.Review) {
			near = append(near, v)
			b.Reviews = append(b.Reviews, v.rec.Position)
		}
	}
	for _, run := range b.Runs {
		for pos := run.From; pos <= run.To; pos++ {
			when := forever
			for _, v := range near {
				if v.From <= pos && pos <= v.To && pos < v.rec.Position && !slices.Contains(v.except, pos) {
					when = v.rec.Happened
					break // reviews come in the order in which they happened
				}
			}
			if when == forever {
				b.Open++
				continue
			}
			b.Reviewed = max(b.Reviewed, when)
		}
	}
	if b.Open > 0 {
		b.Reviewed = 0
	}
}

func (b *Batch) findings(at records.Instant) []*Finding {
	values := func(more ...Value) []Value {
		return append([]Value{word("day", b.Day.String()), word("limit", b.Limit.String())}, more...)
	}
	switch {
	case b.Open > 0 && at >= b.deadline:
		return []*Finding{find("review-missed", b.Day.String(), b.deadline, Subject{}, nil, values(count("n", b.Open)), b.Reviews...)}
	case b.Open == 0 && b.Reviewed >= b.deadline:
		return []*Finding{find("review-late", b.Day.String(), b.Reviewed, Subject{}, nil, values(count("n", b.Count), moment("done", b.plan, b.Reviewed)), b.Reviews...)}
	}
	return nil
}

// own notes a review of the reviewer's own work: it may stand, and an auditor will ask.
func (v *review) own(st *state.State) []*Finding {
	n := 0
	for pos := v.From; pos <= v.To && pos < v.rec.Position; pos++ {
		if r := st.First(pos); r != nil && r.Kind == records.KindSignoff && r.Performer() == v.rec.Performer() && !slices.Contains(v.except, pos) {
			n++
		}
	}
	p := st.PlanAt(v.rec.Happened)
	if n == 0 || p == nil {
		return nil
	}
	return []*Finding{find("review-own", v.rec.ID.String(), v.rec.Happened, Subject{Person: v.rec.Performer()}, nil, []Value{
		word("person", personName(p, v.rec.Performer())), word("from", fmt.Sprint(v.From)), word("to", fmt.Sprint(v.To)), count("n", n)}, v.rec.Position)}
}
