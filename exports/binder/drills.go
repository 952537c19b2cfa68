package binder

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"grainward/audit/trace"
	"grainward/records"
	"grainward/records/state"
)

// drills writes every step of the period's recall drills, and what each drill came to.
func (b *builder) drills(ctx context.Context, g *goods, w *written) ([]*table, error) {
	all := b.inPeriod(records.KindDrill)
	if len(all) == 0 {
		return nil, nil
	}
	steps, err := b.drillSteps(ctx, g, all)
	if err != nil {
		return nil, err
	}
	w.evidence = append(w.evidence, evidence{kind: records.KindDrill, table: steps, n: steps.entries})
	figures, err := b.drillFigures(ctx, g)
	return []*table{steps, figures}, err
}

func (b *builder) drillSteps(ctx context.Context, g *goods, all []*state.Record) (*table, error) {
	t, err := b.table(b.say("Drills"), b.say("Recall drills, step by step: who was called, who was reached, and what they hold"), []column{
		{b.say("Position"), 9, whole}, {b.say("Drill"), 13, plain}, {b.say("Step"), 9, plain}, {b.say("What is traced, and why"), 28, plain}, {b.say("Level"), 6, plain}, {b.say("Lead"), 14, plain},
		{b.say("Partner"), 18, plain}, {b.say("Method"), 12, plain}, {b.say("Reached"), 8, plain}, {b.say("Spoke with"), 14, plain}, {g.in(b.say("They hold")), 11, mass}, {b.say("As written"), 11, plain},
		{b.say("Figures"), 20, plain}, {b.say("Lessons"), 26, plain}, {b.say("Note"), 14, plain},
		{b.say("Person"), 13, plain}, {b.say("Done at"), 12, when}, {b.say("Written down at"), 12, when}, {b.say("Corrected by"), 9.5, plain},
	})
	if err != nil {
		return nil, err
	}
	for _, r := range all {
		f := r.Fact.(*records.Drill)
		p := b.planAt(r.Happened)
		b.entry(t, r)
		t.text(f.Drill)
		t.text(b.say(map[string]string{"start": "start", "contact": "contact", "finish": "finish"}[f.Step]))
		t.text(strings.TrimSpace(f.Subject + "\n" + f.Why))
		t.text(f.Level)
		t.text(b.names.person(p, f.Lead))
		t.text(b.partner(p, f.Partner))
		t.text(f.Method)
		if f.Step == "contact" {
			t.text(b.yesNo(f.Reached))
		} else {
			t.blank()
		}
		t.text(f.Spoke)
		if f.Holds != nil {
			m, _ := g.exact(*f.Holds)
			t.mass(g, m)
			t.text(f.Holds.String())
		} else {
			t.blank()
			t.blank()
		}
		var figures []string
		for _, x := range f.Figures {
			figures = append(figures, x.Name+": "+x.Value.String())
		}
		t.text(strings.Join(figures, "\n"))
		t.text(f.Lessons)
		t.text(f.Note)
		b.signed(t, r)
		if err := t.end(ctx); err != nil {
			return nil, err
		}
	}
	return t, t.close(ctx)
}

func (b *builder) drillFigures(ctx context.Context, g *goods) (*table, error) {
	toReach, required, reached := b.say("Consignees to reach"), b.say("Required by the level"), b.say("Reached")
	shipped, found := g.in(b.say("Shipped to them")), g.in(b.say("Found with them"))
	t, err := b.table(b.say("Drill figures"), b.say("Recall drills: what each came to, by the trace at its finish, or at the moment of the binder while it goes on (21 CFR 7.42)"), []column{
		{b.say("Position"), 9, whole}, {b.say("Drill"), 16, plain}, {b.say("What is traced, and why"), 28, plain}, {b.say("Level"), 7, plain}, {toReach, 10, whole}, {required, 9, whole}, {b.say("Tried"), 8, whole}, {reached, 8, whole},
		{b.say("Reached of them"), 9, share}, {b.say("Enough by the level"), 9, center}, {b.say("Not reached"), 24, plain}, {shipped, 12, mass}, {found, 12, mass}, {b.say("Found of shipped"), 9, share},
		{b.say("Mass accounted for"), 10, share}, {b.say("Trace took"), 10, plain}, {b.say("First contact after"), 10, plain}, {b.say("Finished after"), 10, plain}, {b.say("Standing"), 13, plain},
	})
	if err != nil {
		return nil, err
	}
	for _, d := range trace.Drills(b.in.Report.State, b.in.Report.At) {
		entries := slices.Concat([]*state.Record{d.Start}, d.Contacts, []*state.Record{d.Finish}, d.Again)
		entries = slices.DeleteFunc(entries, func(r *state.Record) bool { return r == nil })
		if !slices.ContainsFunc(entries, func(r *state.Record) bool { return b.per.holds(r.Happened) }) {
			continue
		}
		tr, known := b.drillTrace(g, &d)
		f := d.Figures(tr)
		b.entry(t, entries[0])
		t.text(d.Code)
		t.text(b.drillSubject(&d, known))
		t.text(f.Level)
		t.whole(int64(f.ToReach))
		t.whole(int64(f.Required))
		t.whole(int64(f.Tried))
		t.whole(int64(f.Reached))
		if f.ToReach > 0 {
			if err := t.formula(t.ref(reached)+"/"+t.ref(toReach), float64(f.Reached)/float64(f.ToReach)); err != nil {
				return nil, err
			}
		} else {
			t.blank()
		}
		if err := t.formula(fmt.Sprintf(`IF(%s>=%s,"%s","%s")`, t.ref(reached), t.ref(required), b.say("yes"), b.say("no")), b.yesNo(f.Enough)); err != nil {
			return nil, err
		}
		var left []string
		for _, c := range f.Left() {
			left = append(left, b.partner(b.per.plan, c))
		}
		t.text(strings.Join(left, "\n"))
		t.mass(g, f.Shipped)
		t.mass(g, f.Found)
		if f.Shipped > 0 {
			if err := t.formula(t.ref(found)+"/"+t.ref(shipped), g.number(f.Found)/g.number(f.Shipped)); err != nil {
				return nil, err
			}
		} else {
			t.blank()
		}
		sums, _ := tr.Account.Best()
		if s, ok := sums.Share(); ok {
			t.number(s)
		} else {
			t.blank()
		}
		t.text(took(f.ToTrace))
		t.text(took(f.ToFirstContact))
		t.text(took(f.ToFinish))
		if d.Interrupted() {
			t.text(b.say("not finished"))
		} else {
			t.text(b.say("finished"))
		}
		if err := t.end(ctx); err != nil {
			return nil, err
		}
	}
	return t, t.close(ctx)
}

// drillTrace is the trace of a drill's subject, and whether there is such a subject.
func (b *builder) drillTrace(g *goods, d *trace.Drill) (*trace.Trace, bool) {
	f := g.Floor
	if d.Finish != nil && d.Finish.Happened < f.At {
		f = b.floorAt(d.Finish.Happened)
	}
	s, err := trace.ParseSubject(d.Subject(), b.per.zone)
	if err != nil {
		return &trace.Trace{}, false
	}
	t, err := trace.Make(b.in.Report.State, f, trace.Build(f), s, trace.Forward)
	if err != nil {
		return &trace.Trace{}, false // nothing of the name was there
	}
	return t, true
}

func (b *builder) drillSubject(d *trace.Drill, known bool) string {
	s := d.Subject()
	if d.Start != nil {
		s += "\n" + d.Start.Fact.(*records.Drill).Why
	}
	if !known {
		s += "\n" + b.say("THE SUBJECT IS NOT ON RECORD")
	}
	return strings.TrimSpace(s)
}

// took is a length of time, to the second below an hour.
func took(d *time.Duration) string {
	switch {
	case d == nil:
		return ""
	case *d < time.Minute:
		return fmt.Sprintf("%g s", d.Seconds())
	case *d < time.Hour:
		return fmt.Sprintf("%d min %d s", int(d.Minutes()), int(d.Seconds())%60)
	}
	return fmt.Sprintf("%d h %d min", int(d.Hours()), int(d.Minutes())%60)
}
