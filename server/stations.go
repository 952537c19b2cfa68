package server

import (
	"html/template"
	"net/url"
	"slices"
	"strings"

	"grainward/audit"
	"grainward/exports/timeline"
	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
	"grainward/server/pages"
)

// rowsMost is how many rows a table of goods has on one page.
const rowsMost = 50

// stretchOf is the stretch of time a page is asked for: a day, a week or a month around a day.
type stretchOf struct {
	name     string
	day      calendar.Date
	first    calendar.Date
	days     int
	from, to records.Instant // to is not part of it
}

func (r *request) stretch() stretchOf {
	s := stretchOf{name: r.query.Get("stretch")}
	var err error
	if s.day, err = calendar.ParseDate(r.query.Get("day")); err != nil || !drawable(s.day) {
		s.day = r.plan.Day(r.now)
	}
	switch s.name {
	case "day":
		s.first, s.days = s.day, 1
	case "month":
		_, _, d := s.day.Civil()
		s.first = s.day.AddDays(1 - d)
		s.days = int(s.first.AddMonths(1) - s.first)
	default:
		s.name, s.first, s.days = "week", s.day.AddDays(-(int(s.day.Weekday())+6)%7), 7
	}
	s.from, s.to = r.plan.At(s.first, plan.DayTime{}), r.plan.At(s.first.AddDays(s.days), plan.DayTime{})
	return s
}

func (s stretchOf) href(path, name string, day calendar.Date) string {
	return path + "?" + url.Values{"stretch": {name}, "day": {day.String()}}.Encode()
}

// choices are the links to other stretches.
func (r *request) choices(s stretchOf, path string) pages.Stretch {
	out := pages.Stretch{Title: r.say("the-week", r.date(s.first), r.date(s.first.AddDays(s.days-1))), Earlier: s.href(path, s.name, s.first.AddDays(-1)), Later: s.href(path, s.name, s.first.AddDays(s.days)),
		Now: s.href(path, s.name, r.plan.Day(r.now))}
	if s.days == 1 {
		out.Title = r.date(s.first)
	}
	for _, c := range []struct{ name, title string }{{"day", r.say("one-day")}, {"week", r.say("one-week")}, {"month", r.say("one-month")}} {
		out.Lengths = append(out.Lengths, pages.Way{Link: pages.Link{Href: s.href(path, c.name, s.day), Title: c.title}, Current: c.name == s.name})
	}
	return out
}

// stations is every station that goods stand in or pass: what is there now, and a stretch of its timeline.
func (s *Server) stations(r *request) (reply, error) {
	rep, at := s.report(), r.stretch()
	gaps := gapsOf(rep)
	p := &pages.Stations{Frame: s.frame(r, r.say("stations"), "stations"), Stretch: r.choices(at, "/stations")}
	for i := range r.plan.Stations {
		row := &r.plan.Stations[i]
		if row.Holds == "nothing" && rep.Goods.Contacts[row.Code].Len() == 0 {
			continue
		}
		x := pages.StationRow{Link: pages.Link{Href: at.href(placeHref(row.Code), at.name, at.day), Title: row.Title.In(r.lang)}, Now: r.contentsInWords(rep, row.Code)}
		if len(contactsIn(rep.Goods, row.Code, at.from, at.to))+len(rep.Goods.Cleanings(rep.State, row.Code, at.from, at.to-1)) == 0 {
			p.Rows = append(p.Rows, x) // nothing to draw
			continue
		}
		var err error
		if x.Drawing, _, err = r.drawTimeline(rep, row.Code, at, gaps); err != nil {
			return reply{}, err
		}
		p.Rows = append(p.Rows, x)
	}
	return page(p)
}

func placeHref(c records.StationCode) string { return "/stations/" + url.PathEscape(string(c)) }
func lotHref(c records.LotCode) string       { return "/lots/" + url.PathEscape(string(c)) }

// contentsInWords is what is at a station now, in a line.
func (r *request) contentsInWords(rep *audit.Report, code records.StationCode) string {
	here, sum := rep.Goods.Contents(lots.Place{Station: code})
	switch len(here) {
	case 0:
		return r.say("nothing-there")
	case 1:
		return r.say("one-lot-there", r.plan.Mass(sum), here[0].Code)
	}
	return r.say("lots-there", r.plan.Mass(sum), len(here))
}

// drawTimeline draws a station's stretch. left is how many lots there was no room for.
func (r *request) drawTimeline(rep *audit.Report, code records.StationCode, at stretchOf, gaps stationGaps) (template.HTML, int, error) {
	g := rep.Goods
	in := timeline.Input{ID: "tl-" + string(code), Title: stationTitle(r.plan, code, r.lang), From: at.from, To: at.to, Now: rep.At}
	if at.days == 1 {
		for hour := range 24 {
			if hour%2 == 0 {
				c := calendar.Clock(hour * 3600)
				in.Days = append(in.Days, timeline.Mark{At: r.plan.At(at.first, plan.DayTime{Clock: c}), Label: c.String()})
			}
		}
	} else {
		for i := range at.days {
			d := at.first.AddDays(i)
			in.Days = append(in.Days, timeline.Mark{At: r.plan.At(d, plan.DayTime{}), Label: r.dayMark(d, at.days)})
		}
	}
	for _, c := range contactsIn(g, code, at.from, at.to) {
		l := g.Lots[c.Lot]
		in.Bars = append(in.Bars, timeline.Bar{From: c.From, To: min(c.To, max(rep.At, c.From)), Code: string(l.Code), Status: l.Status, Says: r.contactWords(g, c), Href: lotHref(l.Code),
			Held: l.HeldAt(min(c.To, at.to)), Purge: c.Purge, Stays: c.To == lots.Forever})
	}
	for _, c := range g.Cleanings(rep.State, code, at.from, at.to-1) {
		sign := timeline.Sign{From: c.From, To: c.To, Short: r.cleaningName(c), Says: r.cleaningWords(c), Purge: c.Purge, Passed: c.Passed}
		if r.role >= crew {
			sign.Href = entryHref(c.Record.Position)
		}
		in.Signs = append(in.Signs, sign)
	}
	for _, x := range gaps.in(rep, code, at.from, at.to) {
		in.Gaps = append(in.Gaps, timeline.Gap{From: x.from, To: x.to, Says: x.finding.Sentence(r.lang), Href: findingHref(x.finding)})
	}
	in.Says = r.say("timeline-says", len(in.Bars), len(in.Signs), len(in.Gaps))
	var b strings.Builder
	drawn, err := timeline.Write(&b, in)
	return template.HTML(b.String()), drawn.Left, err // the drawing writes every text as text
}

func (r *request) dayMark(d calendar.Date, days int) string {
	_, _, n := d.Civil()
	if days > 7 {
		return positionText(records.Position(n))
	}
	return weekdays[r.lang][d.Weekday()] + " " + positionText(records.Position(n))
}

func contactsIn(g *audit.Goods, code records.StationCode, from, to records.Instant) (out []lots.Contact) {
	for c := range g.Contacts[code].All() {
		if c.From < to && c.To >= from {
			out = append(out, *c)
		}
	}
	return out
}

func (r *request) contactWords(g *audit.Goods, c lots.Contact) string {
	l := g.Lots[c.Lot]
	until := r.say("still-there")
	switch {
	case c.Purge:
		until = r.say("as-purge")
	case c.To == c.From:
		until = r.say("ran-through")
	case c.To != lots.Forever:
		until = r.say("until", r.moment(c.To))
	}
	return r.say("contact-says", l.Code, r.statusWord(l.Status), itemTitle(r.plan, l.Item, r.lang), r.moment(c.From), until)
}

func (r *request) cleaningName(c audit.Cleaning) string {
	if c.Purge {
		return r.say("purge-of", c.Record.Fact.(*records.Purge).Weight.Mass.String())
	}
	return gradeTitle(r.planAt(c.To), c.Grade, r.lang)
}

func (r *request) cleaningWords(c audit.Cleaning) string {
	said := r.say("did-not-pass")
	if c.Passed {
		said = r.say("did-pass")
	}
	return r.say("cleaning-says", r.cleaningName(c), said, r.moment(c.To), personName(r.planAt(c.To), c.Record.By))
}

func gradeTitle(p *plan.Plan, code records.GradeCode, lang string) string {
	if n, ok := p.GradeRank(code); ok {
		return p.Grades[n].Title.In(lang)
	}
	return string(code)
}

func itemTitle(p *plan.Plan, c records.ItemCode, lang string) string {
	if i := p.Item(c); i != nil {
		return i.Title.In(lang)
	}
	return string(c)
}

var statusTexts = map[records.Status]string{records.Organic100: "status-organic-100", records.Organic: "status-organic", records.MadeWith: "status-made-with", records.Conventional: "status-conventional", "": "status-unknown"}

// statusWord is an organic status in the reader's language.
func (r *request) statusWord(s records.Status) string {
	if key := statusTexts[s]; key != "" {
		return r.say(key)
	}
	return string(s)
}

// gapIn is a stretch about which a finding speaks.
type gapIn struct {
	from, to records.Instant
	finding  *audit.Finding
}

// stationGaps are the findings about unlike lots, by station: a page of all stations goes through the findings once.
type stationGaps map[records.StationCode][]*audit.Finding

func gapsOf(rep *audit.Report) stationGaps {
	out := stationGaps{}
	for _, f := range rep.Findings {
		switch f.Rule {
		case "gap", "weak-clean-out", "allergen-gap", "together":
			out[f.Subject.Station] = append(out[f.Subject.Station], f)
		}
	}
	return out
}

// in are the stretches of a station for which the records show no evidence between unlike lots, or unlike lots together.
func (g stationGaps) in(rep *audit.Report, code records.StationCode, from, to records.Instant) (out []gapIn) {
	if len(g[code]) == 0 {
		return nil
	}
	apart := rep.Goods.Segregation.At(code)
	since := map[string]records.Instant{} // when the unlike lot left, by the finding's subject and moment
	for i := range apart.Arrivals {
		if a := &apart.Arrivals[i]; a.Evidence == nil {
			key := string(rep.Goods.Lots[a.Lot].Code) + a.Contact.From.String()
			if was, ok := since[key]; !ok || a.Since > was {
				since[key] = a.Since
			}
		}
	}
	ends := map[string]records.Instant{}
	for _, x := range apart.Together {
		ends[string(rep.Goods.Lots[x.B].Code)+x.From.String()] = x.To
	}
	for _, f := range g[code] {
		x := gapIn{f.When, f.When, f}
		key := string(f.Subject.Lot) + f.When.String()
		if f.Rule == "together" {
			x.to = min(ends[key], rep.At)
		} else {
			x.from = since[key]
		}
		if x.from < to && x.to >= from {
			out = append(out, x)
		}
	}
	return out
}

// findingHref is where a finding about a station can be read.
func findingHref(f *audit.Finding) string { return placeHref(f.Subject.Station) + "#" + anchor(f) }

// place is one station: what is there now, its residents, its timeline and what the records show about it.
func (s *Server) placePage(r *request) (reply, error) {
	code := records.StationCode(r.params["station"])
	rep, at := s.report(), r.stretch()
	row := r.plan.Station(code)
	if row == nil && rep.Goods.Contacts[code].Len() == 0 {
		return reply{}, notFound()
	}
	p := &pages.Place{Frame: s.frame(r, stationTitle(r.plan, code, r.lang), "stations"), Station: stationTitle(r.plan, code, r.lang), Stretch: r.choices(at, placeHref(code)), Work: stationHref(code),
		All: at.href("/stations", at.name, at.day)}
	here, sum := rep.Goods.Contents(lots.Place{Station: code})
	p.Sum = r.plan.Mass(sum)
	known := rep.Goods.Stations[code]
	mixed := known != nil && known.Mixed
	for _, l := range here[:min(len(here), rowsMost)] {
		p.Here = append(p.Here, r.lotRow(rep, l, r.plan.Mass(l.At.Of(lots.Place{Station: code})), mixed && len(here) > 1))
	}
	p.More = len(here) - len(p.Here)
	if mixed {
		p.Mixed, p.Proven = true, r.say("never")
		if known.Proven != 0 {
			p.Proven = r.moment(known.Proven)
		}
		for _, i := range known.Residents[:min(len(known.Residents), rowsMost)] {
			l := rep.Goods.Lots[i]
			p.Residents = append(p.Residents, r.lotRow(rep, l, r.plan.Mass(l.At.Of(lots.Place{Station: code})), true))
		}
	}
	if row != nil && row.Capacity != nil {
		p.Capacity = row.Capacity.String()
	}
	var err error
	gaps := gapsOf(rep)
	if p.Drawing, p.Left, err = r.drawTimeline(rep, code, at, gaps); err != nil {
		return reply{}, err
	}
	p.Events, p.MoreEvents = r.events(rep, code, at, gaps)
	var about []*audit.Finding
	for _, f := range rep.Findings {
		if f.Subject.Station == code && f.Subject.Task == "" {
			about = append(about, f)
		}
	}
	p.MoreFindings = max(0, len(about)-rowsMost)
	for _, f := range about[:min(len(about), rowsMost)] {
		p.Findings = append(p.Findings, r.findingRow(rep, f, placeHref(code)))
	}
	return page(p)
}

// events is the timeline as a table, newest first.
func (r *request) events(rep *audit.Report, code records.StationCode, at stretchOf, gaps stationGaps) (rows []pages.StationEvent, more int) {
	type event struct {
		at  records.Instant
		row pages.StationEvent
	}
	var all []event
	g := rep.Goods
	for _, c := range contactsIn(g, code, at.from, at.to) {
		l := g.Lots[c.Lot]
		all = append(all, event{c.From, pages.StationEvent{When: r.moment(c.From), What: r.contactWords(g, c), Lot: pages.Link{Href: lotHref(l.Code), Title: string(l.Code)}, Entry: r.entryLink(c.Began)}})
	}
	for _, c := range g.Cleanings(rep.State, code, at.from, at.to-1) {
		state := "failed"
		if c.Passed {
			state = "done"
		}
		all = append(all, event{c.To, pages.StationEvent{When: r.moment(c.To), What: r.cleaningWords(c), Mark: state, Entry: r.entryLink(c.Record)}})
	}
	for _, x := range gaps.in(rep, code, at.from, at.to) {
		all = append(all, event{x.to, pages.StationEvent{When: r.moment(x.finding.When), What: x.finding.Sentence(r.lang), Mark: x.finding.Severity.String(), Entry: pages.Link{Href: findingHref(x.finding), Title: r.say("the-finding")}}})
	}
	slices.SortStableFunc(all, func(a, b event) int { return int(max(-1, min(1, b.at-a.at))) })
	for _, e := range all[:min(len(all), 2*rowsMost)] {
		rows = append(rows, e.row)
	}
	return rows, len(all) - len(rows)
}

func (r *request) entryLink(rec *state.Record) pages.Link {
	if rec == nil || r.role < crew {
		return pages.Link{}
	}
	return pages.Link{Href: entryHref(rec.Position), Title: r.say("position", positionText(rec.Position))}
}

// lotRow is a lot in a list.
func (r *request) lotRow(rep *audit.Report, l *lots.Lot, mass string, estimated bool) pages.LotRow {
	return pages.LotRow{Link: pages.Link{Href: lotHref(l.Code), Title: string(l.Code)}, Item: itemTitle(r.plan, l.Item, r.lang), Status: statusShape(l.Status), StatusWord: r.statusWord(l.Status),
		Mass: mass, Estimated: estimated, Held: l.HeldAt(rep.At), Rejected: l.Rejected != nil, Since: r.moment(l.Begins)}
}

// statusShape is the mark of a status.
func statusShape(s records.Status) string {
	switch {
	case s == records.Organic || s == records.Organic100:
		return "organic"
	case s == records.MadeWith:
		return "made-with"
	case s == "":
		return "unknown"
	}
	return "conventional"
}
