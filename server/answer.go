package server

import (
	"net/url"
	"slices"
	"strings"
	"unicode/utf8"

	"grainward/audit"
	"grainward/records"
	"grainward/server/pages"
)

// theFinding is the one of an id, or not found: it may have gone since the page was drawn.
func (s *Server) theFinding(id string) (*audit.Finding, error) {
	fs := s.report().Findings
	i := slices.IndexFunc(fs, func(f *audit.Finding) bool { return f.ID == id })
	if i < 0 {
		return nil, notFound()
	}
	return fs[i], nil
}

func (s *Server) answerForm(r *request) (reply, error) {
	f, err := s.theFinding(r.query.Get("finding"))
	if err != nil {
		return reply{}, err
	}
	return page(s.answerPage(r, f, url.Values{"id": {records.NewEntryID().String()}, "as": {string(r.who.Code)}}, nil))
}

func (s *Server) answerPage(r *request, f *audit.Finding, v url.Values, ms []pages.Message) *pages.Answer {
	return &pages.Answer{Frame: s.frame(r, r.say("answer-finding"), "findings"), Draft: v.Get("id"), As: v.Get("as"), Finding: f.ID, Severity: f.Severity.String(),
		Sentence: f.Sentence(r.lang), When: r.moment(f.When), Messages: ms, Next: r.next(), Earlier: entryLinks(f.Answers),
		Cause: v.Get("cause"), Action: v.Get("action"), Lots: v.Get("lots"), Prevention: v.Get("prevention"), Closes: v.Get("closes")}
}

func (s *Server) answer(r *request) (reply, error) {
	f, err := s.theFinding(r.form.Get("finding"))
	if err != nil {
		return reply{}, err
	}
	fact, ms := r.decodeAnswer(f)
	e := records.Entry{ID: draftOf(r.form), Happened: r.now, By: r.who.Code, Meaning: records.Verified, Kind: records.KindAnswer, Fact: fact}
	if _, sent, err := s.written(e, false); sent {
		return reply{redirect: r.back("/findings")}, err
	}
	if len(ms) == 0 && asksAgain(e.Meaning) {
		if ms, err = s.confirm(r); err != nil {
			return reply{}, err
		}
	}
	if len(ms) == 0 {
		if _, ms, err = s.put(r, e, false); err != nil {
			return reply{}, err
		}
	}
	if len(ms) > 0 {
		return again(s.answerPage(r, f, r.form, ms))
	}
	return redirect(r.back("/findings"))
}

func (r *request) decodeAnswer(f *audit.Finding) (*records.Answer, []pages.Message) {
	fact := &records.Answer{Finding: f.ID, Closes: r.form.Get("closes") == "yes"}
	if id, of := strings.CutPrefix(f.ID, "deviation:"); of {
		if entry, err := records.ParseEntryID(id); err == nil {
			fact.Finding, fact.Deviation = "", entry
		}
	}
	var ms []pages.Message
	if as := records.PersonCode(r.form.Get("as")); as != r.who.Code {
		ms = append(ms, pages.Message{Text: r.say("not-you", personName(r.plan, as), r.who.Name)})
		r.form.Set("as", string(r.who.Code))
	}
	for _, part := range []struct {
		name, title string
		to          *string
	}{{"cause", "cause", &fact.Cause}, {"action", "answer-action", &fact.Action}, {"lots", "lots", &fact.Lots}, {"prevention", "prevention", &fact.Prevention}} {
		*part.to = strings.TrimSpace(r.form.Get(part.name))
		switch {
		case *part.to == "":
			ms = append(ms, pages.Message{Field: part.name, Text: r.say("answer-missing", r.say(part.title))})
		case utf8.RuneCountInString(*part.to) > textMost:
			ms = append(ms, pages.Message{Field: part.name, Text: r.say("too-long", textMost)})
		}
	}
	if c := r.form.Get("closes"); c != "yes" && c != "no" {
		ms = append(ms, pages.Message{Field: "closes", Text: r.say("answer-missing", r.say("closes"))})
	}
	return fact, ms
}

// back is where a form was opened from, or else the page given.
func (r *request) back(or string) string {
	if next := r.next(); next != "" {
		return next
	}
	return or
}
