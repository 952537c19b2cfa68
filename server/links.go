package server

import (
	"errors"
	"net/url"
	"strconv"
	"strings"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/plan"
	"grainward/server/auth"
	"grainward/server/pages"
)

const (
	accessesMost = 100 // on one page
	linkDays     = 14  // a new link is good for, unless said otherwise
)

func (s *Server) links(r *request) (reply, error) {
	p, err := s.linksPage(r)
	return reply{page: p}, err
}

func (s *Server) linksPage(r *request) (*pages.Links, error) {
	all, err := s.Auth.Links(r.ctx)
	if err != nil {
		return nil, err
	}
	today := r.plan.Day(r.now)
	p := &pages.Links{Frame: s.frame(r, r.say("links"), "links"), For: r.form.Get("for"), From: r.form.Get("from"), To: r.form.Get("to"), Ends: r.form.Get("ends")}
	if r.method == "GET" {
		p.From, p.To, p.Ends = today.AddMonths(-12).String(), today.String(), today.AddDays(linkDays).String()
	}
	for i := range all {
		p.Rows = append(p.Rows, r.linkRow(&all[i]))
	}
	return p, nil
}

func (r *request) linkRow(l *auth.Link) pages.LinkRow {
	row := pages.LinkRow{Href: "/links/" + l.ID, For: l.For, Period: r.say("period", l.From.String(), l.To.String()), Ends: r.moment(l.Ends), Opened: l.Opened, Good: l.Good(r.now)}
	if l.Last != 0 {
		row.Last = r.moment(l.Last)
	}
	if l.Withdrawn != 0 {
		row.Gone = r.say("link-withdrawn-by", personName(r.plan, l.WithdrawnBy), r.moment(l.Withdrawn))
	}
	return row
}

// linkAsk is what a link is made from, by the form or by a program.
type linkAsk struct {
	For  string        `json:"for"`
	From calendar.Date `json:"from"` // of the records shown, both days included
	To   calendar.Date `json:"to"`
	Ends calendar.Date `json:"ends"` // the last day on which it is good
}

func (s *Server) newLink(r *request, ask linkAsk) (token string, l auth.Link, err error) {
	l = auth.Link{For: strings.Join(strings.Fields(ask.For), " "), From: ask.From, To: ask.To, By: r.who.Code, Ends: r.plan.At(ask.Ends.AddDays(1), plan.DayTime{})}
	return s.Auth.MakeLink(r.ctx, l)
}

// makeLink shows the link on the page that answers: its secret is kept nowhere, so there is no address to see it again.
func (s *Server) makeLink(r *request) (reply, error) {
	p, err := s.linksPage(r)
	if err != nil {
		return reply{}, err
	}
	ask := linkAsk{For: p.For}
	for _, part := range []struct {
		name, text, title string
		to                *calendar.Date
	}{{"from", p.From, "from-day", &ask.From}, {"to", p.To, "to-day", &ask.To}, {"ends", p.Ends, "link-last-day", &ask.Ends}} {
		if *part.to, err = calendar.ParseDate(part.text); err != nil {
			p.Messages = append(p.Messages, pages.Message{Field: part.name, Text: r.say(part.title) + ": " + r.say("day-unreadable")})
		}
	}
	if len(p.Messages) > 0 {
		return again(p)
	}
	token, made, err := s.newLink(r, ask)
	var own *records.Error
	if errors.As(err, &own) && own.Kind == records.Invalid {
		p.Messages = r.linkFaults(own)
		return again(p)
	}
	if err != nil {
		return reply{}, err
	}
	s.Log.Info("link for reading made", "request", r.id)
	p.Rows = append([]pages.LinkRow{r.linkRow(&made)}, p.Rows...)
	p.For = ""
	p.Made = &pages.MadeLink{For: made.For, Link: s.address(r) + "/auditor/" + url.PathEscape(token), Until: r.moment(made.Ends)}
	return page(p)
}

func (r *request) linkFaults(own *records.Error) (ms []pages.Message) {
	for _, f := range own.Fields {
		switch f.Field {
		case "to":
			ms = append(ms, pages.Message{Field: "to", Text: r.say("days-reversed")})
		case "ends":
			ms = append(ms, pages.Message{Field: "ends", Text: r.say("link-ends-bad")})
		default:
			ms = append(ms, pages.Message{Field: "for", Text: r.say("link-for-bad")})
		}
	}
	if len(ms) == 0 {
		ms = append(ms, pages.Message{Field: "for", Text: r.say("link-for-bad")})
	}
	return ms
}

// theLink is the one in the address.
func (s *Server) theLink(r *request) (*auth.Link, error) {
	all, err := s.Auth.Links(r.ctx)
	if err != nil {
		return nil, err
	}
	for i := range all {
		if all[i].ID == r.params["link"] {
			return &all[i], nil
		}
	}
	return nil, notFound()
}

// linkPage is one link with every page that was read with it.
func (s *Server) linkPage(r *request) (reply, error) {
	l, err := s.theLink(r)
	if err != nil {
		return reply{}, err
	}
	at, err := strconv.Atoi(r.query.Get("page"))
	if err != nil || at < 0 {
		at = 0
	}
	read, err := s.Auth.Accesses(r.ctx, l.ID, at*accessesMost, accessesMost)
	if err != nil {
		return reply{}, err
	}
	p := &pages.LinkUse{Frame: s.frame(r, l.For, "links"), Row: r.linkRow(l)}
	for _, a := range read {
		p.Reads = append(p.Reads, pages.Row{Name: r.exactly(a.At), Value: a.Path})
	}
	if len(read) == accessesMost {
		p.Older = "/links/" + l.ID + "?page=" + strconv.Itoa(at+1)
	}
	return page(p)
}

func (s *Server) withdrawLink(r *request) (reply, error) {
	l, err := s.theLink(r)
	if err != nil {
		return reply{}, err
	}
	if err := s.Auth.WithdrawLink(r.ctx, l.ID, r.who.Code); err != nil {
		return reply{}, err
	}
	return redirect("/links/" + l.ID)
}

// linkJSON is a link for programs. Secret is given once, when it is made.
type linkJSON struct {
	auth.Link
	Secret string `json:"secret,omitempty"` // the last part of the address /auditor/SECRET
}

type linksJSON struct {
	Links []linkJSON `json:"links"`
}

func (s *Server) apiLinks(r *request) (reply, error) {
	all, err := s.Auth.Links(r.ctx)
	if err != nil {
		return reply{}, err
	}
	out := linksJSON{Links: []linkJSON{}}
	for _, l := range all {
		out.Links = append(out.Links, linkJSON{Link: l})
	}
	return reply{json: out}, nil
}

func (s *Server) apiMakeLink(r *request) (reply, error) {
	var ask linkAsk
	if err := r.readJSON(&ask); err != nil {
		return reply{}, err
	}
	token, made, err := s.newLink(r, ask)
	if err != nil {
		return reply{}, err
	}
	return reply{status: 201, json: linkJSON{made, token}}, nil
}

func (s *Server) apiWithdrawLink(r *request) (reply, error) {
	l, err := s.theLink(r)
	if err != nil {
		return reply{}, err
	}
	if err := s.Auth.WithdrawLink(r.ctx, l.ID, r.who.Code); err != nil {
		return reply{}, err
	}
	return reply{status: 204}, nil
}
