package binder

import (
	"context"

	"grainward/audit"
	"grainward/records"
	"grainward/records/plan"
	"grainward/records/state"
)

// findingsSheet is the findings with their counts by severity and standing.
type findingsSheet struct {
	*table
	counts map[[2]string]int // severity and standing, in words
}

func (b *builder) findings(ctx context.Context, sel *selection) (*findingsSheet, error) {
	t, err := b.table(b.say("Findings"), b.say("Findings: what the records show; the certifier and the authority decide what follows"), []column{
		{b.say("Evidence"), 9.5, plain}, {b.say("Severity"), 7, plain}, {b.say("Standing"), 7, plain}, {b.say("Since"), 12, when},
		{b.say("Days open"), 6.5, whole}, {b.say("What the records show"), 45, plain}, {b.say("Task"), 18.5, plain}, {b.say("Station"), 14, plain},
		{b.say("About"), 15.5, plain}, {b.say("Clauses"), 23.5, plain}, {b.say("Answers"), 8, plain}, {b.say("Rule"), 11.5, plain}, {b.say("Finding"), 30, mono},
	})
	if err != nil {
		return nil, err
	}
	s := &findingsSheet{table: t, counts: map[[2]string]int{}}
	for _, f := range sel.findings {
		p := b.planAt(f.When)
		text, touched := b.names.clauses.ofFinding(f.Clauses)
		severity, standing := b.say(f.Severity.String()), b.standing(f)
		s.counts[[2]string{severity, standing}]++
		t.text(b.cite(f.Evidence...))
		t.text(severity)
		t.text(standing)
		t.when(f.When)
		if f.Closed {
			t.blank()
		} else {
			t.whole(max(0, int64(b.in.Report.At-f.When)/dayMillis))
			for _, i := range touched {
				b.names.clauses.lines[i].gaps++
			}
		}
		t.text(f.Sentence(b.lang))
		if f.Subject.Task != "" {
			t.text(b.names.taskTitle(p, f.Subject.Task))
		} else {
			t.blank()
		}
		t.text(b.names.at(p, f.Subject.Station))
		t.text(b.about(p, f.Subject))
		t.text(text)
		t.text(b.cite(f.Answers...))
		t.text(f.Rule)
		t.text(f.ID)
		if err := t.end(ctx); err != nil {
			return nil, err
		}
	}
	return s, t.close(ctx)
}

func (b *builder) standing(f *audit.Finding) string {
	if f.Closed {
		return b.say("closed")
	}
	return b.say("still open")
}

func (b *builder) about(p *plan.Plan, s audit.Subject) string {
	switch {
	case s.Document != "":
		if d := p.Document(s.Document); d != nil {
			return d.Title
		}
		return string(s.Document)
	case s.Instrument != "":
		if in := p.Instrument(s.Instrument); in != nil {
			return in.Title.In(b.lang)
		}
		return string(s.Instrument)
	case s.Agent != "":
		if a := p.Agent(s.Agent); a != nil {
			return a.Title.In(b.lang)
		}
		return string(s.Agent)
	}
	return b.names.person(p, s.Person)
}

func (b *builder) answers(ctx context.Context, sel *selection) (*table, error) {
	t, err := b.table(b.say("Answers"), b.say("Answers to findings and deviations: cause, action, lots, prevention"), []column{
		{b.say("Position"), 9, whole}, {b.say("Answers the finding"), 30, mono}, {b.say("What the records show"), 28, plain},
		{b.say("Cause"), 23.5, plain}, {b.say("Action taken"), 23.5, plain}, {b.say("Lots"), 20.5, plain}, {b.say("Prevention"), 23.5, plain},
		{b.say("Closes it"), 6, plain}, {b.say("Person"), 14, plain}, {b.say("Done at"), 12, when}, {b.say("Written down at"), 12, when},
		{b.say("Corrected by"), 9.5, plain},
	})
	if err != nil {
		return nil, err
	}
	byID, shown := map[string]*audit.Finding{}, map[string]bool{}
	for _, f := range b.in.Report.Findings {
		byID[f.ID] = f
	}
	for _, f := range sel.findings {
		shown[f.ID] = true
	}
	for _, r := range b.in.Report.State.Kind(records.KindAnswer).Until(b.in.Report.At) {
		a := r.Fact.(*records.Answer)
		id := a.Finding
		if id == "" {
			id = "deviation:" + a.Deviation.String()
		}
		if !b.per.holds(r.Happened) && !shown[id] {
			continue
		}
		b.entry(t, r)
		t.text(id)
		if f := byID[id]; f != nil {
			t.text(f.Sentence(b.lang))
		} else {
			t.text(b.say("no such finding at this moment"))
		}
		t.text(a.Cause)
		t.text(a.Action)
		t.text(a.Lots)
		t.text(a.Prevention)
		t.text(b.yesNo(a.Closes))
		b.signed(t, r)
		if err := t.end(ctx); err != nil {
			return nil, err
		}
	}
	return t, t.close(ctx)
}

func (b *builder) deviations(ctx context.Context) (*table, error) {
	t, err := b.table(b.say("Deviations"), b.say("Deviations: what somebody saw go wrong"), []column{
		{b.say("Position"), 9, whole}, {b.say("What went wrong"), 39, plain}, {b.say("Task"), 20.5, plain}, {b.say("Station"), 15.5, plain},
		{b.say("Lots"), 14, plain}, {b.say("Entries that show it"), 11, plain}, {b.say("Action taken"), 26.5, plain}, {b.say("Clauses"), 20.5, plain},
		{b.say("Person"), 14, plain}, {b.say("Done at"), 12, when}, {b.say("Written down at"), 12, when}, {b.say("Corrected by"), 9.5, plain},
	})
	if err != nil {
		return nil, err
	}
	st := b.in.Report.State
	for _, r := range b.inPeriod(records.KindDeviation) {
		d := r.Fact.(*records.Deviation)
		p := b.planAt(r.Happened)
		b.entry(t, r)
		t.text(d.What)
		clauses := ""
		if d.Task != "" {
			t.text(b.names.taskTitle(p, d.Task))
		} else {
			t.blank()
		}
		if task := p.Task(d.Task); task != nil {
			n := b.names.task(task)
			clauses = n.clauses
			for _, i := range n.touched {
				b.names.clauses.lines[i].evidence++
				b.names.clauses.lines[i].onlyDeviations++
			}
		}
		t.text(b.names.at(p, d.Station))
		t.text(joined(d.Lots))
		var show []records.Position
		for _, id := range d.Entries {
			if pos, ok := st.Find(id); ok {
				show = append(show, pos)
			}
		}
		t.text(b.cite(show...))
		t.text(d.Action)
		t.text(clauses)
		b.signed(t, r)
		if err := t.end(ctx); err != nil {
			return nil, err
		}
	}
	return t, t.close(ctx)
}

// inPeriod is a kind's entries that happened in the period, by the moment.
func (b *builder) inPeriod(k records.Kind) []*state.Record {
	return b.in.Report.State.Kind(k).Between(b.per.from, min(b.per.to, b.in.Report.At))
}

// entry begins a row that is one entry; signed ends it.
func (b *builder) entry(t *table, r *state.Record) {
	t.whole(int64(r.Position))
	b.cited.add(r.Position)
}

func (b *builder) signed(t *table, r *state.Record) {
	t.text(b.names.signer(b.planAt(r.Happened), r))
	t.when(r.Happened)
	t.when(r.Recorded)
	if r.Corrected == nil {
		t.blank()
		return
	}
	t.text(b.cite(b.in.Report.State.Corrections(r.Position)...))
}

func (b *builder) yesNo(yes bool) string {
	if yes {
		return b.say("yes")
	}
	return b.say("no")
}
