package binder

import (
	"context"
	"strings"

	"grainward/records"
	"grainward/records/calendar"
)

// documents is what was on file: whatever holds on a day of the period or was filed in it.
func (b *builder) documents(ctx context.Context) (*table, error) {
	t, err := b.table(b.say("Documents"), b.say("Documents on file, with their validity and the SHA-256 of their bytes"), []column{
		{b.say("Position"), 9, whole}, {b.say("Document"), 26.5, plain}, {b.say("Code"), 16, mono}, {b.say("Type"), 11, plain}, {b.say("About"), 17, plain},
		{b.say("Issued by"), 17, plain}, {b.say("Number"), 11, plain}, {b.say("Holds from"), 9, day}, {b.say("Holds to"), 9, day},
		{b.say("At the end of the period"), 9.5, plain}, {b.say("Asked for by the plan"), 8, plain}, {b.say("SHA-256"), 31, mono}, {b.say("Bytes"), 8, whole}, {b.say("File"), 17, plain},
		{b.say("Note"), 15.5, plain}, {b.say("Person"), 14, plain}, {b.say("Done at"), 12, when}, {b.say("Written down at"), 12, when}, {b.say("Corrected by"), 9.5, plain},
	})
	if err != nil {
		return nil, err
	}
	for _, r := range b.in.Report.State.Kind(records.KindDocument).Until(b.in.Report.At) {
		d := r.Fact.(*records.Document)
		over := d.From != nil && *d.From > b.in.To || d.To != nil && *d.To < b.in.From
		if over && !b.per.holds(r.Happened) && !b.cited.has(r.Position) {
			continue
		}
		b.entry(t, r)
		t.text(d.Title)
		t.text(string(d.Code))
		t.text(d.Type)
		t.text(b.subject(d.Subject))
		t.text(d.Issuer)
		t.text(d.Number)
		t.day(d.From)
		t.day(d.To)
		t.text(b.validity(d))
		t.text(b.yesNo(b.per.plan.Document(d.Code) != nil))
		if d.File != nil {
			t.text(d.File.SHA256)
			t.whole(d.File.Size)
			t.text(strings.TrimSpace(d.File.Name + "\n" + d.File.Media))
		} else {
			t.text(b.say("no file"))
			t.blank()
			t.blank()
		}
		t.text(d.Note)
		b.signed(t, r)
		if err := t.end(ctx); err != nil {
			return nil, err
		}
	}
	return t, t.close(ctx)
}

func (b *builder) validity(d *records.Document) string {
	switch {
	case d.HoldsOn(b.in.To):
		return b.say("holds")
	case d.From != nil && *d.From > b.in.To:
		return b.say("not yet")
	}
	return b.say("ran out")
}

func (b *builder) subject(s records.Subject) string {
	p, name := b.per.plan, ""
	switch s.Of {
	case "plant":
		return b.say("the plant")
	case "partner":
		if x := p.Partner(records.PartnerCode(s.Code)); x != nil {
			name = x.Name
		}
	case "agent":
		if x := p.Agent(records.AgentCode(s.Code)); x != nil {
			name = x.Title.In(b.lang)
		}
	case "station":
		name = b.names.at(p, records.StationCode(s.Code))
	case "instrument":
		if x := p.Instrument(records.InstrumentCode(s.Code)); x != nil {
			name = x.Title.In(b.lang)
		}
	case "person":
		name = b.names.person(p, records.PersonCode(s.Code))
	case "item":
		if x := p.Item(records.ItemCode(s.Code)); x != nil {
			name = x.Title.In(b.lang)
		}
	}
	if name == "" {
		return s.Code
	}
	return name
}

// people is who may sign, under which initials, and what they were trained in.
func (b *builder) people(ctx context.Context, sel *selection, signed []*familySheet) (*table, error) {
	t, err := b.table(b.say("People"), b.say("People, their initials, and what they were trained in"), []column{
		{b.say("Position"), 9, whole}, {b.say("Name"), 18.5, plain}, {b.say("Initials"), 6, plain}, {b.say("Code"), 10, mono}, {b.say("Role"), 8, plain},
		{b.say("First day"), 9, day}, {b.say("Last day"), 9, day}, {b.say("Trained, by the plan"), 43.5, plain}, {b.say("Trained, by sign-offs"), 34.5, plain},
		{b.say("Records signed here"), 8, whole},
	})
	if err != nil {
		return nil, err
	}
	trainings := b.trainings()
	seen := map[records.PersonCode]bool{}
	for i := len(sel.plans) - 1; i >= 0; i-- { // the newest plan that knows somebody says who they are
		in := sel.plans[i]
		for k := range in.Plan.People {
			who := &in.Plan.People[k]
			if seen[who.Code] {
				continue
			}
			seen[who.Code] = true
			b.entry(t, in.Record)
			t.text(who.Name)
			t.text(who.Initials)
			t.text(string(who.Code))
			t.text(b.say(who.Role))
			t.day(who.From)
			t.day(who.Until)
			var by []string
			for _, tr := range who.Trained {
				by = append(by, b.names.taskTitle(in.Plan, tr.Task)+": "+tr.On.String())
			}
			t.text(strings.Join(by, "\n"))
			t.text(strings.Join(trainings[who.Code], "\n"))
			name := visible(b.names.person(in.Plan, who.Code))
			n := 0
			var terms []string
			for _, s := range signed {
				n += s.people[strings.ToLower(name)]
				for _, r := range s.ranges(b.say("Person")) {
					terms = append(terms, "COUNTIFS("+r+","+criterion(name)+")")
				}
			}
			if err := t.formula(strings.Join(terms, "+"), int64(n)); err != nil {
				return nil, err
			}
			if err := t.end(ctx); err != nil {
				return nil, err
			}
		}
	}
	return t, t.close(ctx)
}

// trainings lists, for each person, the training sign-offs that name them, up to the end of the period.
func (b *builder) trainings() map[records.PersonCode][]string {
	out := map[records.PersonCode][]string{}
	for _, r := range b.in.Report.State.Kind(records.KindSignoff).Until(min(b.per.to, b.in.Report.At)) {
		s := r.Fact.(*records.Signoff)
		if len(s.Trainees) == 0 {
			continue
		}
		p := b.planAt(r.Happened)
		line := b.names.taskTitle(p, s.Task) + ": " + calendar.DateOf(r.Happened.Time(), b.per.zone).String() + ", " + b.say(string(s.Outcome)) + ", " + b.say("position") + " " + b.cite(r.Position)
		for _, who := range s.Trainees {
			out[who] = append(out[who], line)
		}
	}
	return out
}

// plans is the plans in force in the period, and planText their words.
func (b *builder) plans(ctx context.Context, sel *selection) (*table, error) {
	t, err := b.table(b.say("Plans"), b.say("The plan in force, each that was in the period"), []column{
		{b.say("Position"), 9, whole}, {b.say("In force from"), 12, when}, {b.say("In force until"), 12, when}, {b.say("SHA-256 of its text"), 60, mono},
		{b.say("Lines"), 6, whole}, {b.say("Note"), 31, plain}, {b.say("Person"), 15.5, plain}, {b.say("Done at"), 12, when}, {b.say("Written down at"), 12, when}, {b.say("Corrected by"), 9.5, plain},
	})
	if err != nil {
		return nil, err
	}
	all := b.in.Report.State.Plans()
	for _, in := range sel.plans {
		fact := in.Record.Fact.(*records.Adoption)
		b.entry(t, in.Record)
		t.when(in.From)
		var until records.Instant
		for i := range all {
			if all[i].Record == in.Record && i+1 < len(all) {
				until = all[i+1].From
			}
		}
		t.when(until)
		t.text(fact.SHA256)
		t.whole(int64(len(planLines(fact.Text))))
		t.text(fact.Note)
		b.signed(t, in.Record)
		if err := t.end(ctx); err != nil {
			return nil, err
		}
	}
	return t, t.close(ctx)
}

func (b *builder) planText(ctx context.Context, sel *selection) (*table, error) {
	t, err := b.table(b.say("Plan text"), b.say("The plan's whole text, line by line"), []column{
		{b.say("Position"), 9, whole}, {b.say("Line"), 5.5, whole}, {b.say("Text"), 130, mono},
	})
	if err != nil {
		return nil, err
	}
	for _, in := range sel.plans {
		for i, l := range planLines(in.Record.Fact.(*records.Adoption).Text) {
			t.whole(int64(in.Record.Position))
			t.whole(int64(i + 1))
			t.text(l)
			if err := t.end(ctx); err != nil {
				return nil, err
			}
		}
	}
	return t, t.close(ctx)
}

func planLines(text string) []string { return strings.Split(strings.TrimSuffix(text, "\n"), "\n") }
