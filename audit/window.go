package audit

import (
	"cmp"
	"math"
	"slices"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/plan"
	"grainward/records/state"
)

// Window is one stretch in which a duty is to be done.
type Window struct {
	Opens, Due, Lapses records.Instant
	Task               *plan.Task // as the plan in force at Due has it
	Plan               *plan.Plan
	Rest               bool // falls on a non-working day on which the task rests

	again  bool          // another window of the duty opens at the same instant and is due sooner
	opener *state.Record // the entry an event window follows
}

// id names a window among those of its duty, for ever: by its opening, and where two open together, the later due also
// by when it is due.
func (w *Window) id() string {
	if w.again {
		return w.Opens.String() + "/" + w.Due.String()
	}
	return w.Opens.String()
}

// fits says whether work that happened then can answer the window.
func (w *Window) fits(happened records.Instant) bool {
	return w.Opens <= happened && happened <= w.Lapses
}

const forever = records.Instant(math.MaxInt64)

// windows are a duty's windows that open from since to until, in order of opening. Each belongs to the plan in force when it is
// due, so a plan adopted later neither adds windows to the past nor takes any away. at is the moment up to which entries are known.
func windows(st *state.State, d state.Duty, at, since, until records.Instant) []Window {
	var all []Window
	plans := st.Plans()
	for i, in := range plans {
		to := forever
		if i+1 < len(plans) {
			to = plans[i+1].From
		}
		if to <= since {
			continue // what was due under it opened before
		}
		task := in.Plan.Task(d.Task)
		if task == nil || !slices.Contains(task.Stations, d.Station) || in.From == to {
			continue
		}
		x := expander{st: st, duty: d, plan: in.Plan, task: task, from: in.From, to: to, at: at, since: since, until: until, work: in.Plan.WorkingDays(),
			wall: calendar.Wall{Zone: in.Plan.Location()}, found: all}
		all = x.expand()
	}
	order := func(a, b Window) int {
		return cmp.Or(cmp.Compare(a.Opens, b.Opens), cmp.Compare(a.Due, b.Due), cmp.Compare(b.Lapses, a.Lapses))
	}
	if !slices.IsSortedFunc(all, order) { // one rule under one plan gives them in order
		slices.SortStableFunc(all, order)
	}
	// Two that open and are due together are one duty said twice; the one that lapses later stays.
	all = slices.CompactFunc(all, func(a, b Window) bool { return a.Opens == b.Opens && a.Due == b.Due })
	for i := 1; i < len(all); i++ {
		all[i].again = all[i].Opens == all[i-1].Opens
	}
	return all
}

// expander expands one duty under one plan: windows with from <= due < to that open from since to until.
type expander struct {
	st           *state.State
	duty         state.Duty
	plan         *plan.Plan
	task         *plan.Task
	from, to     records.Instant
	at           records.Instant
	since, until records.Instant
	work         calendar.WorkingDays
	wall         calendar.Wall
	found        []Window // after those of earlier plans
}

// expand puts the windows behind those found before.
func (x *expander) expand() []Window {
	before := len(x.found)
	for i := range x.task.When {
		switch w := &x.task.When[i]; {
		case w.Rule != nil:
			x.byRule(w)
		case w.EachShift:
			x.byShift(w)
		case w.After != nil:
			x.byEvent(w)
		}
	}
	if x.task.While != nil {
		held := conditions(x.st, x.task.While, x.duty.Station, x.at)
		mine := slices.DeleteFunc(x.found[before:], func(w Window) bool { return !held.during(w.Opens, w.Due) })
		x.found = x.found[:before+len(mine)]
	}
	return x.found
}

// days is the civil dates on which a window that counts can begin: one due within [from, to) may have opened as much
// as `spread` days before.
func (x *expander) days(spread int) (first, last calendar.Date) {
	end := min(x.until, x.to-1)
	return x.plan.Day(max(x.from, x.since)).AddDays(-spread - 1), x.plan.Day(end).AddDays(1)
}

func (x *expander) byRule(w *plan.When) {
	starts := x.plan.Plant.Since
	if w.Starts != nil {
		starts = *w.Starts
	}
	first, last := x.days(w.Due.Days)
	days := w.Rule.Between(starts, first, last)
	x.found = slices.Grow(x.found, len(days))
	for _, day := range days {
		x.add(x.moment(day, w.Opens), x.moment(day, w.Due), x.moment(day, w.Lapses), day)
	}
}

// moment is plan.At, quicker for one after the other.
func (x *expander) moment(day calendar.Date, t plan.DayTime) records.Instant {
	return records.InstantOf(x.wall.At(day.AddDays(t.Days), t.Clock))
}

func (x *expander) byShift(w *plan.When) {
	first, last := x.days(1)
	for day := max(first, x.plan.Plant.Since); day <= last; day++ { // there was no night shift before the plant's first day
		for _, s := range x.plan.Shifts {
			end := plan.DayTime{Clock: s.To}
			if s.To <= s.From {
				end.Days = 1
			}
			due := x.moment(day, end)
			x.add(x.moment(day, plan.DayTime{Clock: s.From}), due, due.Add(w.Grace.Duration()), day)
		}
	}
}

func (x *expander) byEvent(w *plan.When) {
	for _, r := range x.events(w.After) {
		n := len(x.found)
		x.add(r.Happened, r.Happened.Add(w.DueIn.Duration()), r.Happened.Add(w.LapsesIn.Duration()), x.plan.Day(r.Happened))
		if len(x.found) > n {
			x.found[n].opener = r
		}
	}
}

// events are the entries a window follows, as far as they are known at the moment.
func (x *expander) events(e *plan.Event) []*state.Record {
	var out []*state.Record
	for _, r := range x.eventTimeline(e).Between(x.since, x.at) { // a window opens when its event happens
		if s, ok := r.Fact.(*records.Signoff); ok {
			if e.Task != "" && s.Task != e.Task || e.Station != "any" && s.Station != x.eventStation(e) || e.Passed && !passes(x.st, r) {
				continue
			}
		}
		if dev, ok := r.Fact.(*records.Deviation); ok && e.Station != "any" && dev.Station != x.eventStation(e) {
			continue
		}
		out = append(out, r)
	}
	return out
}

// eventTimeline is the shortest timeline that has all of an event's entries.
func (x *expander) eventTimeline(e *plan.Event) state.Timeline {
	if e.Kind == records.KindSignoff && e.Task != "" && e.Station != "any" {
		return x.st.Signoffs(state.Duty{Task: e.Task, Station: x.eventStation(e)})
	}
	return x.st.Kind(e.Kind)
}

func (x *expander) eventStation(e *plan.Event) records.StationCode {
	if e.Station == "" || e.Station == "same" {
		return x.duty.Station
	}
	return records.StationCode(e.Station)
}

func (x *expander) add(opens, due, lapses records.Instant, day calendar.Date) {
	if due < x.from || due >= x.to || opens < x.since || opens > x.until {
		return
	}
	x.found = append(x.found, Window{Opens: opens, Due: due, Lapses: lapses, Task: x.task, Plan: x.plan,
		Rest: x.task.NonWorking != "work" && !x.work.Works(day)})
}

// stretch is a stretch of time in which a condition holds; the end is not part of it.
type stretch struct{ from, to records.Instant }

type stretches []stretch

// conditions are the stretches in which a condition held at a station: from a passing sign-off of one task until the
// next passing one of another. One that has not ended by the moment is taken to go on.
func conditions(st *state.State, w *plan.While, at records.StationCode, moment records.Instant) (all stretches) {
	from := st.Signoffs(state.Duty{Task: w.From, Station: at}).Until(moment)
	until := st.Signoffs(state.Duty{Task: w.Until, Station: at}).Until(moment)
	on := false
	for len(from)+len(until) > 0 {
		// at equal instants what ends comes before what starts
		if len(until) > 0 && (len(from) == 0 || until[0].Happened <= from[0].Happened) {
			if on && passes(st, until[0]) {
				all[len(all)-1].to, on = until[0].Happened, false
			}
			until = until[1:]
			continue
		}
		if !on && passes(st, from[0]) {
			all, on = append(all, stretch{from[0].Happened, forever}), true
		}
		from = from[1:]
	}
	return all
}

// during says whether the condition held at some moment from one instant to another, both included.
func (ss stretches) during(from, to records.Instant) bool {
	i, _ := slices.BinarySearchFunc(ss, from, func(s stretch, at records.Instant) int {
		if s.to <= at {
			return -1
		}
		return 1
	})
	return i < len(ss) && ss[i].from <= to
}
