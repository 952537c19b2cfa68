package server

import (
	"errors"
	"net/url"
	"strings"

	"grainward/audit/trace"
	"grainward/records"
	"grainward/server/pages"
)

// startDrill traces the subject before it writes the start down: one that never existed is told now, not at the end.
func (s *Server) startDrill(r *request) (reply, error) {
	rep := s.report()
	fact, ms := r.startOf(rep.State)
	comesBack := func(ms []pages.Message) (reply, error) {
		p, err := s.drillsPage(r, r.form, ms)
		if err != nil {
			return reply{}, err
		}
		return again(p)
	}
	e := r.drillEntry(fact)
	if _, sent, err := s.written(e, false); sent {
		return reply{redirect: drillHref(fact.Drill)}, err
	}
	if len(ms) == 0 {
		if trace.FindDrill(rep.State, rep.At, fact.Drill) != nil {
			ms = append(ms, pages.Message{Field: "code", Text: r.say("drill-there", fact.Drill)})
		}
		t, err := s.traceOf(rep, r.plan, fact.Subject, trace.Forward)
		var own *records.Error
		switch {
		case errors.As(err, &own):
			text := own.What + ". " + own.Do
			if r.lang != "en" { // the trace speaks English
				text = r.say("not-traced", fact.Subject)
			}
			ms = append(ms, pages.Message{Field: "what", Text: text})
		case err != nil:
			return reply{}, err
		case len(t.Lots) == 0:
			ms = append(ms, pages.Message{Field: "what", Text: r.say("nothing-traced")})
		}
	}
	if ms = append(ms, r.asItself()...); len(ms) > 0 {
		return comesBack(ms)
	}
	if _, ms, err := s.put(r, e, false); err != nil || len(ms) > 0 {
		if err != nil {
			return reply{}, err
		}
		return comesBack(ms)
	}
	return redirect(drillHref(fact.Drill))
}

func (r *request) drillEntry(f *records.Drill) records.Entry {
	return records.Entry{ID: draftOf(r.form), Happened: r.now, By: r.who.Code, Meaning: records.Performed, Kind: records.KindDrill, Fact: f}
}

// asItself finds a form that was made for somebody else.
func (r *request) asItself() []pages.Message {
	if as := records.PersonCode(r.form.Get("as")); as != r.who.Code {
		return []pages.Message{{Text: r.say("not-you", personName(r.plan, as), r.who.Name)}}
	}
	return nil
}

// contactDrill writes down that somebody was tried, reached or not, and what they hold.
func (s *Server) contactDrill(r *request) (reply, error) {
	text := func(name string) string { return strings.TrimSpace(r.form.Get(name)) }
	f := &records.Drill{Drill: r.params["drill"], Step: "contact", Partner: records.PartnerCode(text("partner")), Method: text("method"), Spoke: text("spoke"), Note: text("note"), Reached: text("reached") == "yes"}
	ms := r.asItself()
	if v := text("reached"); v != "yes" && v != "no" {
		ms = append(ms, pages.Message{Field: "reached-" + string(f.Partner), Text: r.say("say-reached")})
	}
	if r.plan.Partner(f.Partner) == nil {
		ms = append(ms, pages.Message{Text: r.say("choose-partner")})
	}
	if h := text("holds"); h != "" {
		m, err := records.ParseMass(pointed(h) + " " + r.plan.MassUnit())
		if err != nil {
			m, err = records.ParseMass(h)
		}
		if err != nil {
			ms = append(ms, pages.Message{Field: "holds-" + string(f.Partner), Text: r.say("mass-unreadable", h, r.plan.MassUnit())})
		} else {
			f.Holds = &m
		}
	}
	return s.drillStep(r, f, ms, string(f.Partner), "#partner-"+url.PathEscape(string(f.Partner)))
}

// finishDrill writes the end down with the figures as they then stand.
func (s *Server) finishDrill(r *request) (reply, error) {
	f := &records.Drill{Drill: r.params["drill"], Step: "finish", Lessons: strings.TrimSpace(r.form.Get("lessons"))}
	ms := r.asItself()
	if f.Lessons == "" {
		ms = append(ms, pages.Message{Field: "lessons", Text: r.say("answer-missing", r.say("lessons"))})
	}
	if pos, sent := s.Book.View().State.Find(draftOf(r.form)); sent { // a second tap: the figures of the first count
		if first, is := s.Book.View().State.First(pos).Fact.(*records.Drill); is {
			f.Figures = first.Figures
		}
	} else if len(ms) == 0 {
		_, d, t, took, err := s.theDrill(r)
		if err != nil {
			return reply{}, err
		}
		figures := d.Figures(t)
		f.Figures = figures.Measured(t, took, r.plan.MassUnit())
	}
	return s.drillStep(r, f, ms, "finish", "")
}

// drillStep writes a step of a drill that goes on, once.
func (s *Server) drillStep(r *request, f *records.Drill, ms []pages.Message, of, anchor string) (reply, error) {
	e := r.drillEntry(f)
	if _, sent, err := s.written(e, false); sent {
		return reply{redirect: drillHref(f.Drill) + anchor}, err
	}
	rep := s.report()
	d := trace.FindDrill(rep.State, rep.At, f.Drill)
	switch {
	case d == nil || d.Start == nil:
		return reply{}, notFound()
	case d.Finish != nil: // somebody else has finished it meanwhile
		ms = append(ms, pages.Message{Text: r.say("drill-over")})
	}
	var err error
	if len(ms) == 0 {
		if _, ms, err = s.put(r, e, false); err != nil {
			return reply{}, err
		}
	}
	if len(ms) == 0 {
		return redirect(drillHref(f.Drill) + anchor)
	}
	p, err := s.drillPage(r, r.form, of, ms)
	if err != nil {
		return reply{}, err
	}
	return again(p)
}
