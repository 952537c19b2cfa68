package server

import (
	"cmp"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"grainward/audit"
	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/plan"
	"grainward/records/state"
	"grainward/server/pages"
)

// familyTexts are the keys of what families of tasks are called.
var familyTexts = map[string]string{plan.Sanitation: "family-sanitation", plan.Footwear: "family-footwear", plan.Floor: "family-floor", plan.CleanOut: "family-clean-out", plan.Turning: "family-turning",
	plan.Monitoring: "family-monitoring", plan.Pest: "family-pest", plan.Water: "family-water", plan.Calibration: "family-calibration", plan.TrainingLog: "family-training", plan.WalkRound: "family-walk-round",
	"other": "family-other"}

// badness is the order in which what became of windows is shown, worst first.
var badness = []string{"missed", "failed", "overdue", "open", "late", "put-right", "coming", "excused", "done"}

// grid is the windows of a stretch of days by duty and day. A window stands on the day on which it is due.
type grid struct {
	first calendar.Date
	days  int
	cells map[state.Duty][]square // one a day
	quiet int                     // duties of the plan with nothing in these days
}

// square is one duty's day.
type square struct {
	windows []*audit.Judged // in order of opening
	besides []*state.Record // sign-offs that answer no window, in order of time
}

// gridOf gathers a stretch of days: what the report has, and what the plan asks for beyond it.
func gridOf(rep *audit.Report, p *plan.Plan, first calendar.Date, days int) *grid {
	g := &grid{first: first, days: days, cells: map[state.Duty][]square{}}
	from, to := p.At(first, plan.DayTime{}), p.At(first.AddDays(days), plan.DayTime{})
	at := func(d state.Duty, when records.Instant) *square {
		if g.cells[d] == nil {
			g.cells[d] = make([]square, days)
		}
		return &g.cells[d][p.Day(when)-first]
	}
	for _, work := range [][]*audit.Work{rep.Work, rep.Ahead(to)} {
		for _, w := range work {
			windows, unplanned := w.Between(from, to)
			for i := range windows {
				if j := &windows[i]; from <= j.Due && j.Due < to {
					s := at(w.Duty, j.Due)
					s.windows = append(s.windows, j)
				}
			}
			for _, rec := range unplanned {
				s := at(w.Duty, rec.Happened)
				s.besides = append(s.besides, rec)
			}
		}
	}
	for i := range p.Tasks {
		for _, code := range p.Tasks[i].Stations {
			if g.cells[state.Duty{Task: p.Tasks[i].Code, Station: code}] == nil {
				g.quiet++
			}
		}
	}
	return g
}

// chips counts what became of the windows of a square, worst first.
func (s *square) chips() (out []pages.Chip) {
	n := map[string]int{}
	for _, j := range s.windows {
		n[markOf(j.Result)]++
	}
	for _, b := range badness {
		if n[b] > 0 {
			out = append(out, pages.Chip{State: b, N: n[b]})
		}
	}
	return out
}

func (s *Server) week(r *request) (reply, error)  { return s.gridPage(r, false) }
func (s *Server) month(r *request) (reply, error) { return s.gridPage(r, true) }

func (s *Server) gridPage(r *request, month bool) (reply, error) {
	rep := s.report()
	today := r.plan.Day(r.now)
	day, err := calendar.ParseDate(r.query.Get("day"))
	if err != nil || !drawable(day) {
		day = today
	}
	first, days := day.AddDays(-(int(day.Weekday())+6)%7), 7 // weeks begin on a Monday (ISO 8601)
	if month {
		_, _, d := day.Civil()
		first = day.AddDays(1 - d)
		days = int(first.AddMonths(1) - first)
	}
	by, only := r.query.Get("by"), r.query.Get("only")
	if by != "family" {
		by = "station"
	}
	g := gridOf(rep, r.plan, first, days)
	here, title := "/week", r.say("the-week", r.date(first), r.date(first.AddDays(days-1)))
	if month {
		y, m, _ := first.Civil()
		here, title = "/month", monthNames[r.lang][m-1]+" "+strconv.Itoa(y)
	}
	href := func(path string, day calendar.Date, by, only string) string {
		q := url.Values{"day": {day.String()}, "by": {by}}
		if only != "" {
			q.Set("only", only)
		}
		return path + "?" + q.Encode()
	}
	p := &pages.Week{Frame: s.frame(r, title, "week"), Month: month, By: by, Day: day.String(), Action: here, Quiet: g.quiet,
		Earlier: href(here, first.AddDays(-1), by, only), Later: href(here, first.AddDays(days), by, only), Now: href(here, today, by, only),
		ByStation: pages.Way{Link: pages.Link{Href: href(here, day, "station", ""), Title: r.say("by-station")}, Current: by == "station"},
		ByFamily:  pages.Way{Link: pages.Link{Href: href(here, day, "family", ""), Title: r.say("by-family")}, Current: by == "family"},
		Weekly:    pages.Way{Link: pages.Link{Href: href("/week", day, by, only), Title: r.say("one-week")}, Current: !month},
		Monthly:   pages.Way{Link: pages.Link{Href: href("/month", day, by, only), Title: r.say("one-month")}, Current: month}}
	works := r.plan.WorkingDays()
	for i := range days {
		d := first.AddDays(i)
		_, _, n := d.Civil()
		p.Heads = append(p.Heads, pages.DayHead{Day: d.String(), Name: weekdays[r.lang][d.Weekday()], N: n, Today: d == today, Rest: !works.Works(d)})
	}
	p.Groups, p.Only = r.gridGroups(g, by, only)
	rows := 0
	for i := range p.Groups {
		rows += len(p.Groups[i].Rows) + 1
	}
	p.Paper = paperSize(rows)
	p.Legend = badness
	return page(p)
}

// paperSize names the print size at which a table of so many rows goes onto one sheet across.
func paperSize(rows int) string {
	for _, x := range []struct {
		most int
		name string
	}{{24, "few"}, {52, "some"}, {74, "many"}, {94, "packed"}, {118, "lots"}} {
		if rows <= x.most {
			return x.name
		}
	}
	return "endless"
}

// gridGroups are the rows of a grid by station or by family, in the plan's order, and the choices of the filter.
func (r *request) gridGroups(g *grid, by, only string) (gs []pages.GridGroup, choices []pages.Option) {
	type group struct{ key, title string }
	keyOf := func(d state.Duty) group {
		if by == "family" {
			family := "other"
			if t := r.plan.Task(d.Task); t != nil {
				family = t.Family
			}
			return group{family, r.say(familyTexts[family])}
		}
		return group{string(d.Station), stationTitle(r.plan, d.Station, r.lang)}
	}
	order := map[string]int{}
	for i := range r.plan.Stations {
		order[string(r.plan.Stations[i].Code)] = i
	}
	for i, family := range plan.Families() {
		order[family] = i
	}
	tasks := map[records.TaskCode]int{}
	for i := range r.plan.Tasks {
		tasks[r.plan.Tasks[i].Code] = i
	}
	place := func(m int, ok bool) int { // what the plan no longer has comes last
		if !ok {
			return 1 << 30
		}
		return m
	}
	duties := make([]state.Duty, 0, len(g.cells))
	for d := range g.cells {
		duties = append(duties, d)
	}
	slices.SortFunc(duties, func(a, b state.Duty) int {
		ka, kb := keyOf(a).key, keyOf(b).key
		ia, aok := order[ka]
		ib, bok := order[kb]
		ta, taok := tasks[a.Task]
		tb, tbok := tasks[b.Task]
		return cmp.Or(cmp.Compare(place(ia, aok), place(ib, bok)), strings.Compare(ka, kb), cmp.Compare(place(ta, taok), place(tb, tbok)),
			strings.Compare(string(a.Task), string(b.Task)), cmp.Compare(order[string(a.Station)], order[string(b.Station)]), strings.Compare(string(a.Station), string(b.Station)))
	})
	var last string
	for _, d := range duties {
		k := keyOf(d)
		if k.key != last || len(choices) == 0 {
			choices = append(choices, pages.Option{Value: k.key, Title: k.title, Chosen: k.key == only})
			last = k.key
			if only == "" || k.key == only {
				gs = append(gs, pages.GridGroup{Title: k.title})
			}
		}
		if only != "" && k.key != only {
			continue
		}
		row := pages.GridRow{Task: taskTitle(r.plan, d.Task, r.lang)}
		if by == "family" {
			row.Station = stationTitle(r.plan, d.Station, r.lang)
		}
		for i := range g.cells[d] {
			row.Cells = append(row.Cells, r.gridCell(g, d, i))
		}
		gs[len(gs)-1].Rows = append(gs[len(gs)-1].Rows, row)
	}
	return gs, choices
}

func (r *request) gridCell(g *grid, d state.Duty, i int) pages.GridCell {
	sq, day := &g.cells[d][i], g.first.AddDays(i)
	c := pages.GridCell{Chips: sq.chips(), Besides: len(sq.besides), N: len(sq.windows), Today: day == r.plan.Day(r.now)}
	if len(sq.windows)+len(sq.besides) == 0 {
		return c
	}
	c.Href = cellHref(day, d)
	return c
}

func cellHref(day calendar.Date, d state.Duty) string {
	return "/week/" + day.String() + "/" + url.PathEscape(string(d.Task)) + "/" + url.PathEscape(string(d.Station))
}

var monthNames = map[string][12]string{
	"en": {"January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"},
	"es": {"enero", "febrero", "marzo", "abril", "mayo", "junio", "julio", "agosto", "septiembre", "octubre", "noviembre", "diciembre"},
}

// date is a civil date in words; the year is said when it is another.
func (r *request) date(d calendar.Date) string {
	y, m, n := d.Civil()
	return r.day(time.Date(y, m, n, 12, 0, 0, 0, r.plan.Location()))
}

// drawable says whether a day lies where a plant's days can: arithmetic near the ends of the calendar stops there.
func drawable(d calendar.Date) bool {
	y, _, _ := d.Civil()
	return 1900 < y && y < 2200
}
