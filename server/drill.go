package server

import (
	"html/template"
	"net/url"
	"slices"
	"strings"
	"time"
	"unicode"

	"grainward/audit"
	"grainward/audit/trace"
	"grainward/records"
	"grainward/records/state"
	"grainward/server/pages"
)

// reachMost is how many partners a drill's page has at most.
const reachMost = 200

func drillHref(code string) string { return "/drills/" + url.PathEscape(code) }

// drill is one recall drill: the clock, whom to call, who was reached, and the figures as they stand.
func (s *Server) drill(r *request) (reply, error) {
	p, err := s.drillPage(r, url.Values{}, "", nil)
	if err != nil {
		return reply{}, err
	}
	return page(p)
}

// theDrill is the one in the address. took is how long its subject took to trace: as of now while it goes on, else as of its finish.
func (s *Server) theDrill(r *request) (rep *audit.Report, d *trace.Drill, t *trace.Trace, took time.Duration, err error) {
	begun := time.Now()
	rep = s.report()
	d = trace.FindDrill(rep.State, rep.At, r.params["drill"])
	if d == nil || d.Start == nil {
		return nil, nil, nil, 0, notFound()
	}
	if d.Finish == nil {
		t, err = s.traceOf(rep, r.plan, d.Subject(), trace.Forward)
		return rep, d, t, time.Since(begun), err
	}
	then := &audit.Report{State: rep.State, At: d.Finish.Happened, Goods: &audit.Goods{Floor: audit.Floor(rep.State, d.Finish.Happened)}}
	subject, err := trace.ParseSubject(d.Subject(), r.plan.Location())
	if err != nil {
		return nil, nil, nil, 0, err
	}
	t, err = trace.Make(rep.State, then.Goods.Floor, trace.Build(then.Goods.Floor), subject, trace.Forward)
	return rep, d, t, time.Since(begun), err
}

// drillPage draws a drill; v is what was typed in the form of a partner, or of the finish when that is "finish".
func (s *Server) drillPage(r *request, v url.Values, of string, ms []pages.Message) (*pages.Drill, error) {
	rep, d, t, took, err := s.theDrill(r)
	if err != nil {
		return nil, err
	}
	fact, f := d.Start.Fact.(*records.Drill), d.Figures(t)
	p := &pages.Drill{Frame: s.frame(r, r.say("drill-title", d.Code), "drills"), Code: d.Code, Subject: fact.Subject, Why: fact.Why, Lead: personName(r.plan, fact.Lead), Level: f.Level, Started: r.moment(d.Start.Happened),
		StartedAt: d.Start.Happened.String(), Now: rep.At.String(), Elapsed: clockFace(rep.At.Sub(d.Start.Happened)), Open: d.Finish == nil, To: drillHref(d.Code), As: string(r.who.Code), Messages: ms, Unit: r.plan.MassUnit()}
	p.Figures = r.drillFigures(&f, t, took)
	left := len(f.Left())
	p.LeftN, p.ReachN = left, f.ToReach
	for i := range f.Rows {
		if i == reachMost {
			p.More = len(f.Rows) - reachMost
			break
		}
		p.Rows = append(p.Rows, r.reachRow(&f.Rows[i], f.Estimated, v, of))
	}
	slices.SortStableFunc(p.Rows, func(a, b pages.Reach) int { return reachOrder(a) - reachOrder(b) })
	for _, c := range t.Consignees {
		if !c.Direct {
			p.Onward = append(p.Onward, t.Partner(c.Partner).Name)
		}
	}
	for i := range t.Lots {
		if l := &t.Lots[i]; len(p.Lots) < rowsMost {
			p.Lots = append(p.Lots, pages.Link{Href: lotHref(l.Code), Title: string(l.Code)})
		} else {
			p.MoreLots++
		}
	}
	p.Finish = pages.DrillForm{Draft: records.NewEntryID().String()}
	if of == "finish" {
		p.Finish.Draft, p.Finish.Note = v.Get("id"), v.Get("lessons")
	}
	if d.Finish != nil {
		end := d.Finish.Fact.(*records.Drill)
		p.Elapsed, p.Lessons, p.Finished = clockFace(d.Finish.Happened.Sub(d.Start.Happened)), end.Lessons, r.moment(d.Finish.Happened)
		p.Recorded = r.recorded(end.Figures)
		p.FinishEntry = r.entryLink(d.Finish)
	}
	return p, nil
}

// reachOrder puts those still to be reached first.
func reachOrder(x pages.Reach) int {
	switch {
	case x.Consignee && !x.Reached:
		return 0
	case x.Consignee:
		return 1
	}
	return 2
}

func (r *request) reachRow(x *trace.Reach, estimated bool, v url.Values, of string) pages.Reach {
	row := pages.Reach{Code: string(x.Partner.Code), Name: x.Partner.Name, Address: x.Partner.Address, Consignee: x.Consignee, Reached: x.Reached, Tried: len(x.Tries), Sent: r.plan.Mass(x.Sent), Estimated: estimated,
		Form: pages.DrillForm{Draft: records.NewEntryID().String()}}
	for _, night := range []bool{true, false} { // those who answer at any hour first
		for _, c := range x.Partner.Contacts {
			if c.AtNight == night {
				row.Contacts = append(row.Contacts, pages.Contact{Name: c.Name, Phone: c.Phone, Dial: dial(c.Phone), Email: c.Email, Hours: c.Hours, AtNight: c.AtNight})
			}
		}
	}
	if x.Holds != nil {
		row.Holds = r.plan.Mass(*x.Holds)
	}
	for _, try := range x.Tries {
		row.Tries = append(row.Tries, pages.Try{When: r.moment(try.When), Who: personName(r.plan, try.By), How: strings.TrimSpace(r.methodWord(try.Method) + " " + try.Spoke), Reached: try.Reached,
			Entry: pages.Link{Href: entryHref(try.Entry), Title: r.say("position", positionText(try.Entry))}})
	}
	if of == row.Code {
		row.Form = pages.DrillForm{Draft: v.Get("id"), Reached: v.Get("reached"), Method: v.Get("method"), Spoke: v.Get("spoke"), Holds: v.Get("holds"), Note: v.Get("note"), Typed: true}
	}
	return row
}

// dial is a telephone number as a link: digits, and a plus in front, only.
func dial(phone string) template.URL {
	number := strings.Map(func(c rune) rune {
		if c < unicode.MaxASCII && unicode.IsDigit(c) || c == '+' {
			return c
		}
		return -1
	}, phone)
	if number == "" {
		return ""
	}
	return template.URL("tel:" + number)
}

var methodTexts = map[string]string{"telephone": "by-telephone", "e-mail": "by-email", "visit": "by-visit"}

func (r *request) methodWord(m string) string {
	if key := methodTexts[m]; key != "" {
		return r.say(key)
	}
	return m
}

// clockFace is a length of time as hours, minutes and seconds.
func clockFace(d time.Duration) string {
	d = max(0, d.Truncate(time.Second))
	return time.Unix(0, 0).UTC().Add(d % (24 * time.Hour)).Format("15:04:05")
}

// drillFigures are a drill's figures as they stand.
func (r *request) drillFigures(f *trace.DrillFigures, t *trace.Trace, took time.Duration) (rows []pages.Row) {
	add := func(key, value string) { rows = append(rows, pages.Row{Name: r.say(key), Value: value}) }
	add("fig-reached", r.say("n-of-n", f.Reached, f.ToReach)+" ("+percent(f.Percent/100)+")")
	enough := r.say("not-yet")
	if f.Enough {
		enough = r.say("is-enough")
	}
	add("fig-required", r.say("level-asks", f.Level, f.Required)+", "+enough)
	add("fig-tried", r.say("n-of-n", f.Tried, f.ToReach))
	sent := r.plan.Mass(f.Shipped)
	if f.Estimated {
		sent += " " + r.say("est")
	}
	add("fig-shipped", sent)
	add("fig-found", r.plan.Mass(f.Found))
	best, _ := t.Account.Best()
	if share, ok := best.Share(); ok {
		value := percent(share)
		if t.Account.Estimated {
			value += " " + r.say("est")
		}
		add("fig-accounted", value)
	}
	if f.ToFirstContact != nil {
		add("fig-first", clockFace(*f.ToFirstContact))
	}
	if f.ToTrace != nil {
		took = *f.ToTrace
	}
	add("fig-trace", took.Round(time.Millisecond).String())
	return rows
}

var figureTexts = map[string]string{"trace": "fig-trace", "consignees to reach": "fig-to-reach", "required by the level": "fig-required", "tried": "fig-tried", "reached": "fig-reached", "reached, percent": "fig-percent",
	"shipped": "fig-shipped", "found with consignees": "fig-found", "accounted for": "fig-accounted"}

// recorded are the figures that were written down with a finish.
func (r *request) recorded(ms []records.Measured) (rows []pages.Row) {
	for _, m := range ms {
		name := m.Name
		if key := figureTexts[name]; key != "" {
			name = r.say(key)
		}
		rows = append(rows, pages.Row{Name: name, Value: m.Value.String()})
	}
	return rows
}

// drills lists those that go on, then the finished ones, newest first, with the form to start one.
func (s *Server) drills(r *request) (reply, error) {
	p, err := s.drillsPage(r, url.Values{"id": {records.NewEntryID().String()}, "lead": {string(r.who.Code)}, "level": {"A"}}, nil)
	if err != nil {
		return reply{}, err
	}
	return page(p)
}

func (s *Server) drillsPage(r *request, v url.Values, ms []pages.Message) (*pages.Drills, error) {
	rep := s.report()
	p := &pages.Drills{Frame: s.frame(r, r.say("drills"), "drills"), Messages: ms, Draft: v.Get("id"), As: string(r.who.Code), What: v.Get("what"), Why: v.Get("why"), Code: v.Get("code"), From: v.Get("from"), Until: v.Get("to")}
	for _, of := range []struct{ value, key string }{{"lot", "of-lot"}, {"their-lot", "of-their-lot"}, {"station", "of-station"}, {"partner", "of-partner"}, {"agent", "of-agent"}} {
		p.Of = append(p.Of, pages.Option{Value: of.value, Title: r.say(of.key), Chosen: v.Get("of") == of.value})
	}
	for _, level := range []struct{ value, key string }{{"A", "level-A"}, {"B", "level-B"}, {"C", "level-C"}, {"D", "level-D"}, {"E", "level-E"}} {
		p.Levels = append(p.Levels, pages.Option{Value: level.value, Title: r.say(level.key), Chosen: v.Get("level") == level.value})
	}
	for i := range r.plan.People {
		if who := &r.plan.People[i]; who.Role == "lead" && who.AtWork(r.plan.Day(r.now)) {
			p.Leads = append(p.Leads, pages.Option{Value: string(who.Code), Title: who.Name, Chosen: v.Get("lead") == string(who.Code)})
		}
	}
	all := trace.Drills(rep.State, rep.At)
	slices.Reverse(all)
	for i := range all {
		d := &all[i]
		if d.Start == nil {
			continue
		}
		row := pages.DrillRow{Link: pages.Link{Href: drillHref(d.Code), Title: d.Code}, Subject: d.Subject(), Started: r.moment(d.Start.Happened), Lead: personName(r.plan, d.Start.Fact.(*records.Drill).Lead)}
		if d.Finish == nil {
			p.Open = append(p.Open, row)
			continue
		}
		if len(p.Done) == rowsMost {
			p.More++
			continue
		}
		row.Took, row.Figures = clockFace(d.Finish.Happened.Sub(d.Start.Happened)), r.recorded(d.Finish.Fact.(*records.Drill).Figures)
		p.Done = append(p.Done, row)
	}
	return p, nil
}

// startOf is the drill a form starts, with a code made from the day when none was typed; one that was sent before keeps its own.
func (r *request) startOf(st *state.State) (*records.Drill, []pages.Message) {
	text := func(name string) string { return strings.TrimSpace(r.form.Get(name)) }
	f := &records.Drill{Drill: text("code"), Step: "start", Why: text("why"), Lead: records.PersonCode(text("lead")), Level: text("level")}
	what := text("what")
	switch of := text("of"); {
	case of == "lot" && strings.ContainsAny(what, "/# "):
		f.Subject = "label:" + what
	case of == "station":
		f.Subject = "station:" + what
		if text("from")+text("to") != "" {
			f.Subject += "@" + text("from") + ".." + text("to")
		}
	case of == "lot" || of == "their-lot" || of == "partner" || of == "agent":
		f.Subject = of + ":" + what
	}
	var ms []pages.Message
	for _, x := range []struct{ field, value, title string }{{"what", what, "what-traced"}, {"why", f.Why, "drill-why"}, {"lead", string(f.Lead), "led-by"}} {
		if x.value == "" {
			ms = append(ms, pages.Message{Field: x.field, Text: r.say("answer-missing", r.say(x.title))})
		}
	}
	if pos, sent := st.Find(draftOf(r.form)); sent && f.Drill == "" {
		if first, is := st.First(pos).Fact.(*records.Drill); is {
			f.Drill = first.Drill
		}
	}
	if f.Drill == "" {
		f.Drill = trace.FreeDrillCode(st, r.now)
	}
	return f, ms
}
