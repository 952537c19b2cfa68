package binder

import (
	"context"
	"strings"

	"grainward/audit"
	"grainward/records"
)

// reviewDays is what was to be reviewed, a row for each day on which it was written down.
func (b *builder) reviewDays(ctx context.Context) (*table, error) {
	t, err := b.table(b.say("Reviews due"), b.say("Reviews due: the records written on a day are verified together"), []column{
		{b.say("Positions"), 31, plain}, {b.say("Written on"), 9, day}, {b.say("Records"), 7, whole}, {b.say("Review by"), 9, day},
		{b.say("Reviewed at"), 12, when}, {b.say("Not reviewed"), 8, whole}, {b.say("Reviewed by entries"), 18.5, plain},
	})
	if err != nil {
		return nil, err
	}
	for i := range b.in.Report.Batches {
		batch := &b.in.Report.Batches[i]
		if batch.Day < b.in.From || batch.Day > b.in.To {
			continue
		}
		t.text(b.runs(batch.Runs))
		t.day(&batch.Day)
		t.whole(int64(batch.Count))
		t.day(&batch.Limit)
		t.when(batch.Reviewed)
		t.whole(int64(batch.Open))
		t.text(b.cite(batch.Reviews...))
		if err := t.end(ctx); err != nil {
			return nil, err
		}
	}
	return t, t.close(ctx)
}

func (b *builder) runs(all []audit.Run) string {
	var out []string
	for _, r := range all {
		if r.From == r.To {
			out = append(out, itoa(int(r.From)))
			continue
		}
		out = append(out, itoa(int(r.From))+"–"+itoa(int(r.To)))
	}
	return strings.Join(out, ", ")
}

// reviews is the entries by which a lead verified others.
func (b *builder) reviews(ctx context.Context) (*table, error) {
	t, err := b.table(b.say("Reviews"), b.say("Reviews: who verified which entries, and when"), []column{
		{b.say("Position"), 9, whole}, {b.say("From position"), 8, whole}, {b.say("To position"), 8, whole}, {b.say("Not accepted"), 18.5, plain},
		{b.say("Note"), 39, plain}, {b.say("Person"), 15.5, plain}, {b.say("Done at"), 12, when}, {b.say("Written down at"), 12, when}, {b.say("Corrected by"), 9.5, plain},
	})
	if err != nil {
		return nil, err
	}
	st := b.in.Report.State
	for _, r := range st.Kind(records.KindReview).Until(b.in.Report.At) {
		if !b.per.holds(r.Happened) && !b.cited.has(r.Position) {
			continue // cited: it covers a day of the period
		}
		v := r.Fact.(*records.Review)
		b.entry(t, r)
		t.whole(int64(v.From))
		t.whole(int64(v.To))
		var except []records.Position
		for _, id := range v.Except {
			if pos, ok := st.Find(id); ok {
				except = append(except, pos)
			}
		}
		t.text(b.cite(except...))
		t.text(v.Note)
		b.signed(t, r)
		if err := t.end(ctx); err != nil {
			return nil, err
		}
	}
	return t, t.close(ctx)
}

func (b *builder) excuses(ctx context.Context) (*table, error) {
	t, err := b.table(b.say("Excuses"), b.say("Excuses: due work the lead excused, and why"), []column{
		{b.say("Position"), 9, whole}, {b.say("From"), 12, when}, {b.say("To"), 12, when}, {b.say("Task"), 22, plain}, {b.say("Station"), 17, plain},
		{b.say("Reason"), 39, plain}, {b.say("Person"), 15.5, plain}, {b.say("Done at"), 12, when}, {b.say("Written down at"), 12, when}, {b.say("Corrected by"), 9.5, plain},
	})
	if err != nil {
		return nil, err
	}
	for _, r := range b.in.Report.State.Kind(records.KindExcuse).Until(b.in.Report.At) {
		e := r.Fact.(*records.Excuse)
		if e.To < b.per.from || e.From > b.per.to {
			continue
		}
		p := b.planAt(r.Happened)
		b.entry(t, r)
		t.when(e.From)
		t.when(e.To)
		if e.Task == "" {
			t.text(b.say("all"))
		} else {
			t.text(b.names.taskTitle(p, e.Task))
		}
		if e.Station == "" {
			t.text(b.say("all"))
		} else {
			t.text(b.names.at(p, e.Station))
		}
		t.text(e.Reason)
		b.signed(t, r)
		if err := t.end(ctx); err != nil {
			return nil, err
		}
	}
	return t, t.close(ctx)
}
