package binder

import (
	"context"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"

	"grainward/audit"
	"grainward/records"
	"grainward/records/plan"
	"grainward/records/state"
)

// familySheet is the sheet of one family of tasks, with its counts for the cover.
type familySheet struct {
	*table
	family string
	counts map[string]int // by result, in words
	people map[string]int // by name in lower case, as formulas compare
	signed int
	owed   int
}

// familyColumns: what 21 CFR 117.305(f) asks of a record (plant, date and time, person, product and lot) stands in every
// row or, for the plant, above it.
func (b *builder) familyColumns() []column {
	return []column{
		{b.say("Position"), 9, whole}, {b.say("Task"), 17, plain}, {b.say("Station"), 11, plain},
		{b.say("Opens"), 12, when}, {b.say("Due"), 12, when}, {b.say("Lapses"), 12, when},
		{b.say("Result"), 8, plain}, {b.say("Owed"), 6, whole},
		{b.say("Done at"), 12, when}, {b.say("Written down at"), 12, when},
		{b.say("Person"), 11.5, plain}, {b.say("Others"), 11, plain},
		{b.say("Signed as"), 7, plain}, {b.say("Answers"), 34.5, plain},
		{b.say("Agents"), 14, plain}, {b.say("Lots"), 9.5, plain},
		{b.say("Action taken"), 18.5, plain}, {b.say("Note"), 15.5, plain},
		{b.say("Corrected by"), 9.5, plain}, {b.say("Clauses"), 18.5, plain}, {b.say("Leaf hash"), 9.5, mono},
	}
}

func (b *builder) family(ctx context.Context, family string, refs []ref) (*familySheet, error) {
	name := b.familyName(family)
	t, err := b.table(name, name, b.familyColumns())
	if err != nil {
		return nil, err
	}
	s := &familySheet{table: t, family: family, counts: map[string]int{}, people: map[string]int{}}
	for _, r := range refs {
		if err := s.row(ctx, r); err != nil {
			return nil, err
		}
	}
	return s, t.close(ctx)
}

// row writes one window with one sign-off; either may be missing.
func (s *familySheet) row(ctx context.Context, r ref) error {
	b := s.b
	var j *audit.Judged
	var rec *state.Record
	var p *plan.Plan
	var task *plan.Task
	switch {
	case r.window < 0:
		rec = r.work.Unplanned[r.signoff]
	default:
		j = &r.work.Windows[r.window]
		p, task = j.Plan, j.Task
		if r.signoff >= 0 {
			rec = j.Signoffs[r.signoff]
		}
	}
	if rec != nil {
		// what a sign-off had to say is what the plan asked when it happened, as the audit has it
		p = b.planAt(rec.Happened)
		if t := p.Task(r.work.Duty.Task); t != nil {
			task = t
		}
	}
	title, clauses := string(r.work.Duty.Task), ""
	var touched []int
	if task != nil {
		n := b.names.task(task)
		title, clauses, touched = n.title, n.clauses, n.touched
	}
	result, owed := b.result(j, r.signoff, task)
	s.count(result, owed, rec != nil, touched, j)

	if rec == nil {
		s.blank()
	} else {
		s.whole(int64(rec.Position))
		b.cited.add(rec.Position)
	}
	s.text(title)
	s.text(b.names.at(p, r.work.Duty.Station))
	if j != nil {
		s.when(j.Opens)
		s.when(j.Due)
		s.when(j.Lapses)
	} else {
		s.blank()
		s.blank()
		s.blank()
	}
	s.text(result)
	s.whole(int64(owed))
	if rec == nil {
		for s.n < len(s.cols)-2 {
			s.blank()
		}
		s.text(clauses)
		return s.end(ctx)
	}
	return s.signoff(ctx, rec, p, task, clauses)
}

// signoff fills in the part of the row that comes from the entry.
func (s *familySheet) signoff(ctx context.Context, rec *state.Record, p *plan.Plan, task *plan.Task, clauses string) error {
	b := s.b
	fact := rec.Fact.(*records.Signoff)
	s.when(rec.Happened)
	s.when(rec.Recorded)
	person := b.names.person(p, rec.Performer())
	s.text(person)
	s.people[strings.ToLower(visible(person))]++
	s.text(b.others(p, rec, fact))
	s.text(b.say(string(fact.Outcome)))
	s.text(b.answersText(task, fact))
	s.text(b.agentsText(p, fact))
	s.text(joined(fact.Lots))
	s.text(fact.Action)
	s.text(fact.Note)
	if rec.Corrected != nil {
		s.text(b.cite(b.in.Report.State.Corrections(rec.Position)...))
	} else {
		s.blank()
	}
	s.text(clauses)
	leaf, err := b.in.Leaf(rec.Position)
	if err != nil {
		return fmt.Errorf("leaf hash of the entry at position %d: %w", rec.Position, err)
	}
	s.put(textCell(hex.EncodeToString(leaf[:5])))
	return s.end(ctx)
}

// result says what became of a window by one of its sign-offs, and whether the row counts as a window that was owed.
func (b *builder) result(j *audit.Judged, signoff int32, task *plan.Task) (word string, owed int) {
	switch {
	case j == nil && task != nil && len(task.When) == 0:
		return b.say("as needed"), 0
	case j == nil:
		return b.say("unplanned"), 0
	case signoff >= 0 && int(signoff) < len(j.Signoffs)-1:
		return b.say("earlier try"), 0
	case j.Result == audit.Excused || j.Result == audit.Open:
		return b.say(string(j.Result)), 0
	}
	return b.say(string(j.Result)), 1
}

func (s *familySheet) count(result string, owed int, signed bool, touched []int, j *audit.Judged) {
	s.counts[result]++
	s.owed += owed
	if signed {
		s.signed++
	}
	for _, i := range touched {
		l := s.b.names.clauses.lines[i]
		if signed || owed == 1 {
			s.b.names.clauses.seen[i] = true
		}
		if signed {
			l.evidence++
		}
		l.owed += owed
		if owed == 1 && j.Result == audit.Done {
			l.onTime++
		}
		if owed == 1 && j.Result == audit.Missed {
			l.missed++
		}
	}
}

// others are the people beside the one who signed.
func (b *builder) others(p *plan.Plan, rec *state.Record, f *records.Signoff) string {
	var out []string
	if f.Second != "" {
		out = append(out, b.say("second")+": "+b.names.person(p, f.Second))
	}
	if len(f.Trainees) > 0 {
		out = append(out, b.say("trained")+": "+b.names.list(p, f.Trainees))
	}
	if rec.Paper != nil {
		out = append(out, b.names.typed(p, rec))
	}
	return strings.Join(out, "\n")
}

// answersText has one line for each answer, with its limit and, in capitals, when it lies outside it.
func (b *builder) answersText(task *plan.Task, f *records.Signoff) string {
	c := audit.Check(task, f)
	var t strings.Builder
	for i := range f.Answers {
		r := &f.Answers[i]
		if i > 0 {
			t.WriteByte('\n')
		}
		var ask *plan.Ask
		if task != nil {
			ask = task.Ask(r.Ask)
		}
		if ask == nil {
			t.WriteString(string(r.Ask) + ": " + b.answerValue(r))
			continue
		}
		n := b.names.ask(ask)
		t.WriteString(n.title)
		t.WriteString(": ")
		t.WriteString(b.answerValue(r))
		if n.limits != "" {
			t.WriteString(" (" + n.limits + ")")
		}
		switch {
		case slices.Contains(c.Outside, ask) && r.Value != nil:
			t.WriteString(" " + b.say("OUTSIDE"))
		case slices.Contains(c.Outside, ask):
			t.WriteString(" " + b.say("NOT RIGHT"))
		case slices.Contains(c.WrongUnit, ask):
			t.WriteString(" " + b.say("OTHER UNIT"))
		}
	}
	for _, ask := range c.Missing {
		if t.Len() > 0 {
			t.WriteByte('\n')
		}
		t.WriteString(b.names.ask(ask).title + ": " + b.say("NOT ANSWERED"))
	}
	return t.String()
}

func (b *builder) answerValue(r *records.Response) string {
	switch {
	case r.Value != nil:
		return r.Value.String()
	case r.Yes != nil && *r.Yes:
		return b.say("yes")
	case r.Yes != nil:
		return b.say("no")
	case r.Choice != "":
		return r.Choice
	case r.Text != "":
		return r.Text
	case r.Photo != "":
		return b.say("photo") + " " + r.Photo
	}
	return ""
}

func (b *builder) agentsText(p *plan.Plan, f *records.Signoff) string {
	var out []string
	for _, use := range f.Agents {
		s := string(use.Agent)
		if a := p.Agent(use.Agent); a != nil {
			s = a.Title.In(b.lang)
		}
		if use.Lot != "" {
			s += ", " + b.say("container") + " " + use.Lot
		}
		if use.Strength != nil {
			s += ", " + use.Strength.String()
		}
		out = append(out, s)
	}
	return strings.Join(out, "\n")
}

func joined[S ~string](all []S) string {
	out := make([]string, len(all))
	for i, s := range all {
		out[i] = string(s)
	}
	return strings.Join(out, ", ")
}
