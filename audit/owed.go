package audit

import (
	"cmp"
	"slices"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/state"
)

// Owed are the batches with records that nobody reviewed, the one with the earliest limit first.
func (r *Report) Owed() (out []*Batch) {
	for i := range r.Batches {
		if b := &r.Batches[i]; b.Open > 0 {
			out = append(out, b)
		}
	}
	slices.SortStableFunc(out, func(a, b *Batch) int { return cmp.Or(cmp.Compare(a.Limit, b.Limit), cmp.Compare(a.Day, b.Day)) })
	return out
}

// Batch is the batch of a day, or nil when nothing written on it has to be reviewed.
func (r *Report) Batch(day calendar.Date) *Batch {
	for i := range r.Batches {
		if r.Batches[i].Day == day {
			return &r.Batches[i]
		}
	}
	return nil
}

// Late says whether the time for the review is over at a moment.
func (b *Batch) Late(at records.Instant) bool { return at >= b.deadline }

// Left is how many working days the review still has after the day of a moment; 0 on the last one and when it is late.
func (b *Batch) Left(at records.Instant) (n int) {
	work := b.plan.WorkingDays()
	for d := b.plan.Day(at); d < b.Limit; n++ {
		if d = work.Add(d, 1); d > b.Limit { // the limit itself is worked, so this is a plan without working days
			break
		}
	}
	return n
}

// Reviewed is one record of a batch, as the paper was written.
type Reviewed struct {
	Record   *state.Record
	Family   string        // of its task; empty for what is no sign-off
	By       *state.Record // the first review that covers it; nil while none does
	Excepted *state.Record // the last review that covers it and did not accept it
}

// ReviewOf is every record of a batch, in journal order.
func (r *Report) ReviewOf(b *Batch) (out []Reviewed) {
	all := reviews(r.State, r.At)
	for _, run := range b.Runs {
		for pos := run.From; pos <= run.To; pos++ {
			rec := r.State.First(pos)
			if rec == nil {
				continue
			}
			v := Reviewed{Record: rec}
			if s, ok := rec.Fact.(*records.Signoff); ok {
				if t := planFor(r.State, rec.Happened).Task(s.Task); t != nil {
					v.Family = t.Family
				}
			}
			for _, by := range all {
				switch {
				case pos < by.From || pos > by.To || pos >= by.rec.Position:
				case slices.Contains(by.except, pos):
					v.Excepted = by.rec
				case v.By == nil:
					v.By = by.rec
				}
			}
			out = append(out, v)
		}
	}
	return out
}
