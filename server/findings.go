package server

import (
	"net/url"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"grainward/audit"
	"grainward/records"
	"grainward/server/pages"
)

const findingsMost = 50 // on one page

func (s *Server) findings(r *request) (reply, error) {
	rep := s.report()
	every := r.query.Get("show") == "all"
	severity := r.query.Get("severity")
	p := &pages.Findings{Frame: s.frame(r, r.say("findings"), "findings"), At: r.exactly(rep.At), OnlyOpen: !every}
	n := map[string]int{}
	open, all := 0, 0
	var shown []*audit.Finding
	for i := range rep.Findings {
		f := &rep.Findings[i]
		all++
		if !f.Closed {
			open++
		}
		if f.Closed && !every {
			continue
		}
		n[f.Severity.String()]++
		if severity == "" || f.Severity.String() == severity {
			shown = append(shown, f)
		}
	}
	p.Open = pages.Link{Href: findingsHref(false, severity, 0), Title: r.say("open-ones", open)}
	p.Every = pages.Link{Href: findingsHref(true, severity, 0), Title: r.say("all-of-them", all)}
	for _, sev := range []string{"critical", "major", "minor", "note"} {
		c := pages.Count{Severity: sev, N: n[sev], Href: findingsHref(every, sev, 0), Current: sev == severity}
		if c.Current {
			c.Href = findingsHref(every, "", 0)
		}
		p.Counts = append(p.Counts, c)
	}
	at, err := strconv.Atoi(r.query.Get("page"))
	if err != nil || at < 0 || at*findingsMost >= len(shown) {
		at = 0
	}
	p.Total = len(shown)
	p.Some = severity != "" && n["critical"]+n["major"]+n["minor"]+n["note"] > 0
	p.From, p.To = at*findingsMost+1, min(len(shown), (at+1)*findingsMost)
	if at > 0 {
		p.Newer = findingsHref(every, severity, at-1)
	}
	if p.To < p.Total {
		p.Older = findingsHref(every, severity, at+1)
	}
	if len(shown) > 0 {
		p.Groups = r.bySeverity(shown[p.From-1 : p.To])
	}
	return page(p)
}

func findingsHref(every bool, severity string, at int) string {
	q := url.Values{}
	if every {
		q.Set("show", "all")
	}
	if severity != "" {
		q.Set("severity", severity)
	}
	if at > 0 {
		q.Set("page", strconv.Itoa(at))
	}
	return (&url.URL{Path: "/findings", RawQuery: q.Encode()}).String()
}

// bySeverity words findings; they come worst first.
func (r *request) bySeverity(fs []*audit.Finding) (gs []pages.SeverityGroup) {
	for _, f := range fs {
		sev := f.Severity.String()
		if len(gs) == 0 || gs[len(gs)-1].Severity != sev {
			gs = append(gs, pages.SeverityGroup{Severity: sev})
		}
		row := pages.Finding{Sentence: f.Sentence(r.lang), When: r.moment(f.When), Age: r.age(f.When), Standing: standing(f), Evidence: entryLinks(f.Evidence), Answers: entryLinks(f.Answers)}
		for _, c := range f.Clauses {
			row.Clauses = append(row.Clauses, string(c))
		}
		if r.role >= lead && !f.Closed {
			row.Answer = "/answer?" + url.Values{"finding": {f.ID}}.Encode()
		}
		g := &gs[len(gs)-1]
		g.Rows = append(g.Rows, row)
	}
	return gs
}

func standing(f *audit.Finding) string {
	switch {
	case f.Closed:
		return "closed"
	case len(f.Answers) > 0:
		return "answered"
	}
	return "open"
}

func entryLinks(ps []records.Position) (ls []pages.Link) {
	for _, p := range ps {
		ls = append(ls, pages.Link{Href: entryHref(p), Title: positionText(p)})
	}
	return ls
}

// theFinding is the one of an id, or not found: it may have gone since the page was drawn.
func (s *Server) theFinding(id string) (*audit.Finding, error) {
	fs := s.report().Findings
	i := slices.IndexFunc(fs, func(f audit.Finding) bool { return f.ID == id })
	if i < 0 {
		return nil, notFound()
	}
	return &fs[i], nil
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
		Sentence: f.Sentence(r.lang), When: r.moment(f.When), Messages: ms, Earlier: entryLinks(f.Answers),
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
		return reply{redirect: "/findings"}, err
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
	return redirect("/findings")
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
