package server

import (
	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/state"
	"grainward/server/pages"
)

// wording is one text of a fact that a form can put right.
type wording struct {
	name, label string
	most        int
	required    bool
	to          *string
}

// reworded is a copy of a fact with its texts, or nil for a kind whose texts have no form. Changing the texts changes the copy only:
// what is a list or a date is the same as before.
func reworded(f records.Fact) (records.Fact, []wording) {
	long := func(name, label string, required bool, to *string) wording {
		return wording{name, label, textMost, required, to}
	}
	switch f := f.(type) {
	case *records.Deviation:
		c := *f
		return &c, []wording{long("what", "row-what", true, &c.What), long("action", "row-action", false, &c.Action)}
	case *records.Answer:
		c := *f
		return &c, []wording{long("cause", "cause", true, &c.Cause), long("action", "answer-action", true, &c.Action), long("lots", "lots", true, &c.Lots), long("prevention", "prevention", true, &c.Prevention)}
	case *records.Excuse:
		c := *f
		return &c, []wording{long("text", "excuse-why", true, &c.Reason)}
	case *records.Review:
		c := *f
		return &c, []wording{long("note", "row-note", false, &c.Note)}
	case *records.Hold:
		c := *f
		return &c, []wording{long("why", "stop-why", true, &c.Why)}
	case *records.Release:
		c := *f
		return &c, []wording{long("why", "stop-why", true, &c.Why)}
	case *records.Result:
		c := *f
		return &c, []wording{{"method", "method", 200, false, &c.Method}, long("note", "row-note", false, &c.Note)}
	case *records.Document:
		c := *f
		return &c, []wording{{"title", "paper-title", 200, true, &c.Title}, {"type", "paper-type", 60, true, &c.Type}, {"issuer", "row-issuer", 200, false, &c.Issuer},
			{"number", "row-number", 100, false, &c.Number}, long("note", "row-note", false, &c.Note)}
	}
	return nil, nil
}

// rewordable is the entry in the address as it counts, when its texts can be put right by whoever asks; to says where to go when not.
func (r *request) rewordable() (rec *state.Record, to string, err error) {
	first, err := r.fixable()
	if err != nil {
		return nil, "", err
	}
	rec = r.view.State.Now(first.Position)
	if rec == nil {
		return nil, entryHref(first.Position), nil
	}
	if _, ws := reworded(rec.Fact); ws == nil {
		return nil, "/withdraw/" + positionText(rec.Position), nil
	}
	return rec, "", nil
}

func (s *Server) rewordForm(r *request) (reply, error) {
	rec, to, err := r.rewordable()
	switch {
	case err != nil:
		return reply{}, err
	case rec == nil:
		return redirect(to)
	}
	return page(s.rewordPage(r, rec, nil))
}

func (s *Server) rewordPage(r *request, rec *state.Record, ms []pages.Message) *pages.Form {
	at := positionText(rec.Position)
	f := s.form(r, "reword", "", "correct-it")
	f.To, f.Messages, f.Again, f.Intro = "/reword/"+at, ms, asksAgain(r.fixMeaning(rec)), r.say("reason-hint")
	f.About = []pages.Notice{{Text: r.say(kindKey(rec.Kind)) + ", " + personName(r.planAt(rec.Happened), rec.Performer()) + ", " + r.moment(rec.Happened), Href: entryHref(rec.Position), Note: r.say("position", at)}}
	_, ws := reworded(rec.Fact)
	for _, w := range ws {
		kind := "area"
		if w.most < textMost {
			kind = "text"
		}
		field := pages.FormField{Type: kind, Name: w.name, Label: r.say(w.label), Value: *w.to, Max: w.most}
		if v, sent := r.form[w.name]; sent {
			field.Value = v[0]
		}
		f.Fields = append(f.Fields, field)
	}
	if d, is := rec.Fact.(*records.Document); is {
		f.Fields = append(f.Fields, r.dateField("from", "paper-first", d.From), r.dateField("to", "paper-last", d.To))
	}
	f.Fields = append(f.Fields, r.area("reason", "reason"))
	f.Others = []pages.Link{{Href: "/withdraw/" + at, Title: r.say("withdraw-instead")}}
	return f
}

// dateField is a date, as it was sent or as it stands.
func (r *request) dateField(name, label string, have *calendar.Date) pages.FormField {
	f := pages.FormField{Type: "date", Name: name, Label: r.say(label), Value: r.query.Get(name)}
	if have != nil {
		f.Value = have.String()
	}
	if v, sent := r.form[name]; sent {
		f.Value = v[0]
	}
	return f
}

func (s *Server) reword(r *request) (reply, error) {
	rec, to, err := r.rewordable()
	switch {
	case err != nil:
		return reply{}, err
	case rec == nil:
		return redirect(to)
	}
	x := r.sheet()
	fact, ws := reworded(rec.Fact)
	for _, w := range ws {
		label := ""
		if w.required {
			label = w.label
		}
		*w.to = x.text(w.name, w.most, label)
	}
	if d, is := fact.(*records.Document); is {
		d.From, d.To = x.date("from"), x.date("to")
	}
	c := &records.Correct{Target: r.view.State.First(rec.Position).ID, Reason: x.text("reason", textMost, "reason"), With: &records.Replacement{Kind: rec.Kind, Fact: fact}}
	if rec.Corrected != nil && rec.Happened != rec.Corrected.First.Happened {
		c.With.Happened = rec.Happened // an earlier correction moved it
	}
	_, ms, err := s.signEntry(r, r.entryOfForm(r.fixMeaning(rec), c, 0), false, x.ms)
	if err != nil {
		return reply{}, err
	}
	if len(ms) > 0 {
		return again(s.rewordPage(r, rec, ms))
	}
	return redirect(entryHref(rec.Position))
}

// date reads a civil date, or nil when none was given.
func (x *sheet) date(name string) *calendar.Date {
	text := x.form.Get(name)
	if text == "" {
		return nil
	}
	d, err := calendar.ParseDate(text)
	if err != nil {
		x.fault(name, x.say("day-unreadable"))
		return nil
	}
	return &d
}
