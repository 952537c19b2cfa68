package server

import (
	"bytes"
	"context"
	"io"
	"net/url"
	"strings"
	"unicode"

	"grainward/audit/trace"
	"grainward/exports"
	"grainward/exports/journey"
	"grainward/records"
	"grainward/records/company"
	"grainward/records/plan"
	"grainward/server/pages"
)

// stillLeads asks who is signed in as for a new request, but does not count as use.
func (s *Server) stillLeads(r *request) bool {
	ctx, cancel := context.WithTimeout(context.Background(), askedTime)
	defer cancel()
	*r = request{ctx: ctx, token: r.token, quiet: true, now: s.Now()}
	return s.identify(r) == nil && r.role >= lead
}

// journeyOf is a trace through the plants that whoever asks may see.
func (s *Server) journeyOf(r *request, at, subject, direction string) (*journey.Form, error) {
	in, err := s.journey(r, at, subject, direction)
	if err != nil {
		return nil, err
	}
	return journey.Flatten(*in), nil
}

func (s *Server) journey(r *request, at, subject, direction string) (*journey.Input, error) {
	dir, ok := directions[direction]
	if !ok {
		return nil, queryFault("direction", direction, r.say("want-direction"))
	}
	all := s.plantsOf(r)
	plans := map[company.PlantCode]*plan.Plan{}
	unread := map[company.PlantCode]bool{}
	servers := map[company.PlantCode]*Server{}
	for _, one := range all {
		switch {
		case one.server != nil && one.lead:
			plans[one.Plant], servers[one.Plant] = one.plan, one.server
		case one.server == nil:
			unread[one.Plant] = true
		}
	}
	from := company.PlantCode(at)
	if plans[from] == nil {
		return nil, queryFault("plant", at, r.say("want-plant"))
	}
	what, err := trace.ParseSubject(subject, plans[from].Location())
	if err != nil {
		return nil, err
	}
	t, err := s.across(all).Trace(from, what, dir)
	if err != nil {
		return nil, err
	}
	return &journey.Input{Trace: t, At: r.now, Lang: r.lang, Plan: func(code company.PlantCode) *plan.Plan { return plans[code] },
		Stamp: func(code company.PlantCode) exports.Stamp {
			return s.stampOf(servers[code].Book.View().Head, plans[code], r.now, r.who.Name)
		},
		Closed: func(code company.PlantCode) journey.Closed {
			if unread[code] {
				return journey.Unread
			}
			return journey.Hidden
		}}, nil
}

func (s *Server) apiCompanyTrace(r *request) (reply, error) {
	f, err := s.journeyOf(r, r.query.Get("plant"), r.query.Get("subject"), r.query.Get("direction"))
	if err != nil {
		return reply{}, err
	}
	return reply{json: f}, nil
}

// The trace as a drawing and as a workbook, for the links below the page's form and for programs.

func (s *Server) apiCompanyTraceDrawing(r *request) (reply, error) {
	return s.journeyFile(r, journey.WriteDrawing, drawingMedia, ".svg")
}

func (s *Server) apiCompanyTraceSheets(r *request) (reply, error) {
	return s.journeyFile(r, journey.WriteSheets, binderMedia, ".xlsx")
}

func (s *Server) journeyFile(r *request, write func(io.Writer, journey.Input) error, media, ending string) (reply, error) {
	in, err := s.journey(r, r.query.Get("plant"), r.query.Get("subject"), r.query.Get("direction"))
	if err != nil {
		return reply{}, err
	}
	var b bytes.Buffer
	if err := write(&b, *in); err != nil {
		return reply{}, err
	}
	return reply{data: b.Bytes(), media: media, name: "trace-" + plainName(r.query.Get("plant")+"-"+r.query.Get("subject")) + ending}, nil
}

// plainName is a text as part of a file's name: letters, digits, and a hyphen for anything else.
func plainName(text string) string {
	parts := strings.FieldsFunc(text, func(c rune) bool { return c > unicode.MaxASCII || !unicode.IsLetter(c) && !unicode.IsDigit(c) })
	name := strings.Join(parts, "-")
	return name[:min(len(name), 80)]
}

const drawingMedia = "image/svg+xml"

// companyTrace is the form, and below it the trace that was asked for.
func (s *Server) companyTrace(r *request) (reply, error) {
	p := &pages.Journey{Frame: s.frame(r, r.say("nav-trace"), "company-trace"), Subject: strings.TrimSpace(r.query.Get("subject"))}
	way := r.query.Get("direction")
	for _, d := range []struct{ value, says string }{{"both", "way-both"}, {"back", "way-back"}, {"forward", "way-forward"}} {
		p.Directions = append(p.Directions, pages.Option{Value: d.value, Title: r.say(d.says), Chosen: d.value == way})
	}
	hosts := map[string]string{}
	for _, one := range s.plantsOf(r) {
		if one.server != nil && one.lead {
			p.Plants = append(p.Plants, pages.Option{Value: string(one.Plant), Title: one.plan.Plant.Name, Chosen: string(one.Plant) == r.query.Get("plant")})
			hosts[string(one.Plant)] = s.plantAddress(one.plant)
		}
	}
	if p.Subject == "" {
		return page(p)
	}
	f, err := s.journeyOf(r, r.query.Get("plant"), p.Subject, way)
	switch records.KindOf(err) {
	case records.NotFound, records.Invalid:
		t := s.explain(r, err)
		p.Problem = t.text
		if records.KindOf(err) == records.NotFound {
			p.Problem = r.say("trace-nothing", p.Subject)
		}
		for _, fault := range t.faults {
			p.Problem += " " + r.faultText(fault)
		}
		return reply{status: t.status, page: p}, nil
	}
	if err != nil {
		return reply{}, err
	}
	p.Made = true
	asked := url.Values{"plant": {r.query.Get("plant")}, "subject": {p.Subject}, "direction": {f.Direction}}.Encode()
	p.Drawing, p.Sheets = "/api/trace.svg?"+asked, "/api/trace.xlsx?"+asked
	for _, x := range f.Plants {
		leg := pages.Leg{Name: x.Name, Code: x.Code}
		for _, l := range x.Lots {
			leg.Lots = append(leg.Lots, pages.LegLot{Code: string(l.Code), Href: hosts[x.Code] + "lots/" + url.PathEscape(string(l.Code)), Role: r.say("role-of-" + l.Role), Subject: l.Role == "subject", Title: l.Title, Mass: l.Mass, Where: l.Where})
		}
		p.Legs = append(p.Legs, leg)
	}
	for _, j := range f.Joins {
		p.Joins = append(p.Joins, pages.JoinRow{Says: j.Says, Differs: j.Differs})
	}
	for _, l := range f.Loose {
		p.Loose = append(p.Loose, l.Says)
	}
	return page(p)
}
