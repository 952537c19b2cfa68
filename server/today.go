package server

import (
	"cmp"
	"net/url"
	"slices"

	"grainward/audit"
	"grainward/records"
	"grainward/records/plan"
	"grainward/records/state"
	"grainward/server/pages"
)

// doneMost is how many rows of what was done a page shows: more than a day of a malt house has, and few enough that a page costs the same
// whatever was signed.
const doneMost = 200

// piece is one piece of work, before it is worded.
type piece struct {
	task    *plan.Task
	station records.StationCode
	window  *audit.Judged // nil for work that is never due, or was done out of turn
	record  *state.Record // that decided it, when there is one
	state   string        // a mark's name
	at      records.Instant
}

// day is today's work in the order in which it is shown.
type day struct{ now, later, done, needed []piece }

// dayOf sorts what the report says of the windows into today's parts. keep chooses the duties.
func (r *request) dayOf(rep *audit.Report, keep func(*plan.Task, records.StationCode) bool) (d day) {
	today := r.plan.Day(rep.At)
	from, to := r.plan.At(today, plan.DayTime{}), r.plan.At(today.AddDays(1), plan.DayTime{})
	within := func(at records.Instant) bool { return from <= at && at < to }
	for _, w := range rep.Work {
		task := r.plan.Task(w.Duty.Task)
		if task == nil || !slices.Contains(task.Stations, w.Duty.Station) || !keep(task, w.Duty.Station) {
			continue
		}
		windows, unplanned := w.Between(from, to)
		for i := range windows {
			j := &windows[i]
			p := piece{task: task, station: w.Duty.Station, window: j, record: j.Last(), state: markOf(j.Result), at: j.Due}
			switch {
			case j.Result == audit.Excused:
				if within(j.Due) {
					d.done = append(d.done, p)
				}
			case j.Waiting(rep.At):
				d.now = append(d.now, p)
			case j.Result == audit.Coming:
				d.later = append(d.later, p)
			case p.record != nil && within(p.record.Happened), j.Lapses < to && within(j.Lapses):
				if p.record != nil {
					p.at = p.record.Happened
				}
				d.done = append(d.done, p)
			}
		}
		for _, rec := range unplanned {
			d.done = append(d.done, piece{task: task, station: w.Duty.Station, record: rec, state: markOfRecord(task, rec), at: rec.Happened})
		}
		if len(task.When) == 0 {
			d.needed = append(d.needed, piece{task: task, station: w.Duty.Station})
		}
	}
	for _, part := range [][]piece{d.now, d.later, d.done} {
		slices.SortStableFunc(part, func(a, b piece) int { return cmp.Compare(a.at, b.at) })
	}
	slices.SortStableFunc(d.now, func(a, b piece) int { return cmp.Compare(urgency(a.state), urgency(b.state)) })
	return d
}

// urgency puts what is overdue or did not pass before the rest.
func urgency(state string) int {
	if state == "overdue" || state == "failed" {
		return 0
	}
	return 1
}

func markOf(res audit.Result) string {
	if res == audit.PutRight {
		return "put-right"
	}
	return string(res)
}

func markOfRecord(task *plan.Task, rec *state.Record) string {
	if audit.Check(task, rec.Fact.(*records.Signoff)).Passes {
		return "done"
	}
	return "failed"
}

// mine says whether a task is shown to whoever asks: a lead's work is a lead's.
func (r *request) mine(t *plan.Task) bool { return r.role >= lead || roleOf(t.Who) < lead }

func (s *Server) today(r *request) (reply, error) {
	station := records.StationCode(r.params["station"])
	if station != "" && r.plan.Station(station) == nil {
		return reply{}, notFound()
	}
	d := r.dayOf(s.report(), func(t *plan.Task, _ records.StationCode) bool { return r.mine(t) })
	waiting := map[records.StationCode]int{}
	for _, p := range d.now {
		waiting[p.station]++
	}
	here := func(ps []piece) []piece {
		return slices.DeleteFunc(ps, func(p piece) bool { return station != "" && p.station != station })
	}
	done, more := here(d.done), pages.Link{}
	if n := len(done); n > doneMost {
		more = pages.Link{Title: r.say("done-last", doneMost, n)}
		if r.role >= crew {
			more.Href = "/records"
		}
		done = done[n-doneMost:]
	}
	p := &pages.Today{Frame: s.frame(r, r.say("todays-work"), "today"), Date: r.day(r.now.Time().In(r.plan.Location())), CanSign: r.role >= crew,
		Now: r.groups(here(d.now), r.signHref), Later: r.groups(here(d.later), nil), Done: r.groups(done, r.entryOf), MoreDone: more, AsNeeded: r.groups(here(d.needed), r.signHref)}
	if station != "" {
		p.Station = stationTitle(r.plan, station, r.lang)
		p.Title = p.Station
		for _, part := range [][]pages.Group{p.Now, p.Later, p.Done, p.AsNeeded} {
			for i := range part {
				part[i].Title = "" // the page says it already
			}
		}
	}
	p.Stations = append(p.Stations, pages.StationLink{Link: pages.Link{Href: "/today", Title: r.say("whole-plant")}, Current: station == ""})
	for i := range r.plan.Stations {
		st := &r.plan.Stations[i]
		p.Stations = append(p.Stations, pages.StationLink{Link: pages.Link{Href: stationHref(st.Code), Title: st.Title.In(r.lang)}, Waiting: waiting[st.Code], Current: st.Code == station})
	}
	return page(p)
}

func stationHref(c records.StationCode) string { return "/station/" + url.PathEscape(string(c)) }

// groups puts pieces under their stations; the stations come in the order of their first piece.
func (r *request) groups(ps []piece, href func(piece) string) (gs []pages.Group) {
	at := map[records.StationCode]int{}
	for _, p := range ps {
		i, there := at[p.station]
		if !there {
			i = len(gs)
			at[p.station] = i
			gs = append(gs, pages.Group{Title: stationTitle(r.plan, p.station, r.lang)})
		}
		gs[i].Rows = append(gs[i].Rows, r.work(p, href))
	}
	return gs
}

func (r *request) work(p piece, href func(piece) string) pages.Work {
	w := pages.Work{Task: p.task.Title.In(r.lang), State: p.state, Lead: roleOf(p.task.Who) == lead}
	if href != nil {
		w.Href = href(p)
	}
	switch {
	case p.window == nil:
	case p.state == "coming":
		w.Due = r.say("opens-due", r.clock(p.window.Opens), r.clock(p.window.Due))
	case p.state == "open" || p.state == "overdue" || p.state == "failed" || p.state == "missed":
		w.Due = r.say("due-by", r.clock(p.window.Due))
	}
	if p.record != nil {
		w.Detail = r.say("done-by", personName(r.plan, p.record.Performer()), r.clock(p.record.Happened))
	}
	return w
}

func (r *request) signHref(p piece) string {
	if r.role < crew {
		return ""
	}
	u := url.URL{Path: "/sign/" + string(p.task.Code) + "/" + string(p.station)}
	if p.window != nil {
		u.RawQuery = url.Values{"window": {p.window.Opens.String()}}.Encode()
	}
	return u.String()
}

func (r *request) entryOf(p piece) string {
	if p.record == nil || r.role < crew {
		return ""
	}
	return entryHref(p.record.Position)
}
