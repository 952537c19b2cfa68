package binder

import (
	"context"
	"slices"

	"grainward/audit"
	"grainward/records"
	"grainward/records/plan"
	"grainward/records/state"
)

// readingsSheet has one row for each number that was read, so that it can be sorted, charted and judged again.
type readingsSheet struct {
	*table
	outside  int // by the program
	disagree int // rows in which the reader's formula comes to something else
}

func (b *builder) readings(ctx context.Context, sel *selection) (*readingsSheet, error) {
	t, err := b.table(b.say("Readings"), b.say("Readings: every number, held against its limits twice"), []column{
		{b.say("Position"), 9, whole}, {b.say("Done at"), 12, when}, {b.say("Task"), 23.5, plain}, {b.say("Station"), 15.5, plain},
		{b.say("Person"), 14, plain}, {b.say("Question"), 23.5, plain}, {b.say("Reading"), 8, number}, {b.say("Unit"), 7, plain},
		{b.say("Low limit"), 7, number}, {b.say("High limit"), 7, number}, {b.say("In limits"), 7, center}, {b.say("The program says"), 9.5, plain},
		{b.say("Instrument"), 15.5, plain}, {b.say("Where the limit comes from"), 26.5, plain},
	})
	if err != nil {
		return nil, err
	}
	s := &readingsSheet{table: t}
	for _, family := range append(plan.Families(), "") {
		for _, r := range sel.families[family] {
			var rec *state.Record
			switch {
			case r.signoff < 0:
				continue
			case r.window < 0:
				rec = r.work.Unplanned[r.signoff]
			default:
				rec = r.work.Windows[r.window].Signoffs[r.signoff]
			}
			if err := s.of(ctx, rec); err != nil {
				return nil, err
			}
		}
	}
	return s, t.close(ctx)
}

func (s *readingsSheet) of(ctx context.Context, rec *state.Record) error {
	fact := rec.Fact.(*records.Signoff)
	p := s.b.planAt(rec.Happened)
	task := p.Task(fact.Task)
	var c audit.Checked
	checked := false
	for i := range fact.Answers {
		r := &fact.Answers[i]
		if r.Value == nil {
			continue
		}
		if !checked {
			c, checked = audit.Check(task, fact), true
		}
		if err := s.row(ctx, rec, p, task, r, &c); err != nil {
			return err
		}
	}
	return nil
}

func (s *readingsSheet) row(ctx context.Context, rec *state.Record, p *plan.Plan, task *plan.Task, r *records.Response, c *audit.Checked) error {
	b, fact := s.b, rec.Fact.(*records.Signoff)
	s.whole(int64(rec.Position))
	s.when(rec.Happened)
	s.text(b.names.taskTitle(p, fact.Task))
	s.text(b.names.at(p, fact.Station))
	s.text(b.names.signer(p, rec))
	var ask *plan.Ask
	if task != nil {
		ask = task.Ask(r.Ask)
	}
	if ask == nil || ask.Type != "number" {
		s.text(string(r.Ask))
		s.number(r.Value.Value.Float())
		s.text(r.Value.Unit)
		return s.end(ctx)
	}
	s.text(b.names.ask(ask).title)
	s.number(r.Value.Value.Float())
	s.text(r.Value.Unit)
	s.limit(ask.Limits.Min)
	s.limit(ask.Limits.Max)
	outside := slices.Contains(c.Outside, ask)
	if answeredAgain(fact, r) {
		s.blank()
		s.text(b.say("a later answer counts"))
	} else if err := s.verdict(ask, r, outside, slices.Contains(c.WrongUnit, ask)); err != nil {
		return err
	}
	if in := p.Instrument(ask.Instrument); in != nil {
		s.text(in.Title.In(b.lang))
	} else {
		s.blank()
	}
	s.text(ask.Source)
	return s.end(ctx)
}

// answeredAgain says whether a later answer of the sign-off is to the same question.
func answeredAgain(f *records.Signoff, r *records.Response) bool {
	for i := len(f.Answers) - 1; &f.Answers[i] != r; i-- {
		if f.Answers[i].Ask == r.Ask {
			return true
		}
	}
	return false
}

// verdict fills in the formula, which compares the cells of the row, and beside it what the audit says of the same answer.
func (s *readingsSheet) verdict(ask *plan.Ask, r *records.Response, outside, otherUnit bool) error {
	b := s.b
	lo, hi := ask.Limits.Min, ask.Limits.Max
	switch {
	case otherUnit:
		s.blank()
		s.text(b.say("other unit"))
		return nil
	case lo == nil && hi == nil:
		s.blank()
		s.text(b.say("no limit"))
		return nil
	}
	row := s.next
	if row > b.limit {
		row = headRows + 1 // this row will open the next sheet
	}
	n := itoa(row)
	f, v, in := "", r.Value.Value.Float(), true
	switch {
	case lo == nil:
		f, in = "G"+n+"<=J"+n, v <= hi.Float()
	case hi == nil:
		f, in = "G"+n+">=I"+n, v >= lo.Float()
	default:
		f, in = "AND(G"+n+">=I"+n+",G"+n+"<=J"+n+")", v >= lo.Float() && v <= hi.Float()
	}
	// in words: not every program shows a truth as one
	if err := s.formula(`IF(`+f+`,"`+b.say("yes")+`","`+b.say("no")+`")`, b.yesNo(in)); err != nil {
		return err
	}
	word := b.say("within")
	if outside {
		word = b.say("outside")
		s.outside++
	}
	if in == outside {
		s.disagree++
	}
	s.text(word)
	return nil
}
