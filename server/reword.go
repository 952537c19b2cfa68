package server

import (
	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/state"
	"grainward/server/pages"
)

// mending goes through what an entry says as it counts, in a copy: what was folded is shared and never changed. It is nil for a kind that
// has no form of this sort.
func (r *request) mending(rec *state.Record, x *sheet) (*mender, records.Fact, error) {
	row, err := records.Format(rec.Entry)
	if err != nil {
		return nil, nil, err
	}
	e, err := records.ParseTrusted(row.Bytes)
	if err != nil {
		return nil, nil, err
	}
	m := &mender{request: r, plan: r.planAt(rec.Happened), sheet: x}
	if !m.fact(e.Fact) {
		return nil, nil, nil
	}
	return m, e.Fact, nil
}

// rewordable is the entry in the address as it counts, when what it says can be put right by whoever asks; to says where to go when not.
func (r *request) rewordable() (rec *state.Record, to string, err error) {
	first, err := r.fixable()
	if err != nil {
		return nil, "", err
	}
	rec = r.view.State.Now(first.Position)
	if rec == nil {
		return nil, entryHref(first.Position), nil
	}
	m, _, err := r.mending(rec, nil)
	if err == nil && m == nil {
		return nil, "/withdraw/" + positionText(rec.Position), nil
	}
	return rec, "", err
}

func (s *Server) rewordForm(r *request) (reply, error) {
	rec, to, err := r.rewordable()
	switch {
	case err != nil:
		return reply{}, err
	case rec == nil:
		return redirect(to)
	}
	return s.rewordPage(r, rec, nil)
}

func (s *Server) rewordPage(r *request, rec *state.Record, ms []pages.Message) (reply, error) {
	m, _, err := r.mending(rec, nil)
	if err != nil {
		return reply{}, err
	}
	at := positionText(rec.Position)
	f := s.form(r, "reword", "", "correct-it")
	f.To, f.Messages, f.Again, f.Intro = "/reword/"+at, ms, asksAgain(r.fixMeaning(rec)), r.say("reason-hint")
	f.About = []pages.Notice{{Text: r.say(kindKey(rec.Kind)) + ", " + personName(r.planAt(rec.Happened), rec.Performer()) + ", " + r.moment(rec.Happened), Href: entryHref(rec.Position), Note: r.say("position", at)}}
	if rec.Kind.AboutGoods() {
		f.Caution = r.say("mend-goods")
		happened := rec.Happened
		m.moment("happened", "happened", &happened)
	}
	f.Fields, f.Hidden = append(m.fields, r.area("reason", "reason")), m.hidden
	f.Others = []pages.Link{{Href: "/withdraw/" + at, Title: r.say("withdraw-instead")}}
	if len(ms) > 0 {
		return again(f)
	}
	return page(f)
}

// dateField is a date, as it was sent or as the address proposes it.
func (r *request) dateField(name, label string) pages.FormField {
	return pages.FormField{Type: "date", Name: name, Label: r.say(label), Value: r.value(name)}
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
	m, fact, err := r.mending(rec, x)
	if err != nil {
		return reply{}, err
	}
	happened := rec.Happened
	m.moment("happened", "happened", &happened)
	c := &records.Correct{Target: r.view.State.First(rec.Position).ID, Reason: x.text("reason", textMost, "reason"), With: &records.Replacement{Kind: rec.Kind, Fact: fact}}
	if first := r.view.State.First(rec.Position); happened != first.Happened {
		c.With.Happened = happened // now, or by an earlier correction
	}
	_, ms, err := s.signEntry(r, r.entryOfForm(r.fixMeaning(rec), c, 0), false, x.ms)
	if err != nil {
		return reply{}, err
	}
	if len(ms) > 0 {
		return s.rewordPage(r, rec, ms)
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
