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

// windows are a duty's windows that open from since to until, in order of opening. at is the moment up to which entries are known.
func windows(st *state.State, d state.Duty, at, since, until records.Instant) []Window {
	return (&expander{st: st, at: at}).windows(d, since, until)
}

// expander makes the windows of one duty after the other, in the same room.
type expander struct {
	st    *state.State
	at    records.Instant // the moment up to which entries are known
	found []Window

	// What the clock asks for is the same at every station of a task, so what was expanded last is kept.
	last    term
	byClock []Window
}

// term is a task's time under one plan: the windows with from <= due < to that open from since to until.
type term struct {
	plan         *plan.Plan
	task         *plan.Task
	from, to     records.Instant
	since, until records.Instant
}

// windows are as the function has it, until they are asked for again. Each belongs to the plan in force when it is due, so a plan
// adopted later neither adds windows to the past nor takes any away.
func (x *expander) windows(d state.Duty, since, until records.Instant) []Window {
	x.found = x.found[:0]
	plans := x.st.Plans()
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
		x.expand(d, term{plan: in.Plan, task: task, from: in.From, to: to, since: since, until: until})
	}
	all := inOrder(x.found)
	// Two that open and are due together are one duty said twice; the one that lapses later stays.
	all = slices.CompactFunc(all, func(a, b Window) bool { return a.Opens == b.Opens && a.Due == b.Due })
	for i := 1; i < len(all); i++ {
		all[i].again = all[i].Opens == all[i-1].Opens
	}
	x.found = all
	return all
}

// inOrder puts windows in order of opening; one rule under one plan gives them so.
func inOrder(ws []Window) []Window {
	order := func(a, b Window) int {
		return cmp.Or(cmp.Compare(a.Opens, b.Opens), cmp.Compare(a.Due, b.Due), cmp.Compare(b.Lapses, a.Lapses))
	}
	if !slices.IsSortedFunc(ws, order) {
		slices.SortStableFunc(ws, order)
	}
	return ws
}

// expand puts a term's windows behind those found before.
func (x *expander) expand(d state.Duty, t term) {
	if x.last != t {
		x.last, x.byClock = t, t.byClock(x.byClock[:0])
	}
	before := len(x.found)
	x.found = append(x.found, x.byClock...)
	for i := range t.task.When {
		if e := t.task.When[i].After; e != nil {
			x.byEvent(d, t, &t.task.When[i])
		}
	}
	if w := t.task.While; w != nil {
		held := conditions(x.st, w, d.Station, t.since, x.at)
		mine := slices.DeleteFunc(x.found[before:], func(w Window) bool { return !held.during(w.Opens, w.Due) })
		x.found = x.found[:before+len(mine)]
	}
}

// byClock puts the windows that nothing but the clock opens into a list.
func (t *term) byClock(into []Window) []Window {
	c := clockwork{term: t, work: t.plan.WorkingDays(), wall: calendar.Wall{Zone: t.plan.Location()}, found: into}
	for i := range t.task.When {
		switch w := &t.task.When[i]; {
		case w.Rule != nil:
			c.byRule(w)
		case w.EachShift:
			c.byShift(w)
		}
	}
	return inOrder(c.found)
}

type clockwork struct {
	*term
	work  calendar.WorkingDays
	wall  calendar.Wall
	found []Window
}

// days is the civil dates on which a window that counts can begin: one due within [from, to) may have opened as much
// as `spread` days before.
func (t *term) days(spread int) (first, last calendar.Date) {
	end := min(t.until, t.to-1)
	return t.plan.Day(max(t.from, t.since)).AddDays(-spread - 1), t.plan.Day(end).AddDays(1)
}

func (c *clockwork) byRule(w *plan.When) {
	starts := c.plan.Plant.Since
	if w.Starts != nil {
		starts = *w.Starts
	}
	first, last := c.days(w.Due.Days)
	for _, day := range w.Rule.Between(starts, first, last) {
		c.add(c.moment(day, w.Opens), c.moment(day, w.Due), c.moment(day, w.Lapses), day)
	}
}

// moment is plan.At, quicker for one after the other.
func (c *clockwork) moment(day calendar.Date, t plan.DayTime) records.Instant {
	return records.InstantOf(c.wall.At(day.AddDays(t.Days), t.Clock))
}

func (c *clockwork) byShift(w *plan.When) {
	first, last := c.days(1)
	for day := max(first, c.plan.Plant.Since); day <= last; day++ { // there was no night shift before the plant's first day
		for _, s := range c.plan.Shifts {
			end := plan.DayTime{Clock: s.To}
			if s.To <= s.From {
				end.Days = 1
			}
			due := c.moment(day, end)
			c.add(c.moment(day, plan.DayTime{Clock: s.From}), due, due.Add(w.Grace.Duration()), day)
		}
	}
}

func (c *clockwork) add(opens, due, lapses records.Instant, day calendar.Date) {
	if c.has(opens, due) {
		c.found = append(c.found, c.window(opens, due, lapses, c.work, day))
	}
}

// has says whether a window that opens and is due then is of the term.
func (t *term) has(opens, due records.Instant) bool {
	return t.from <= due && due < t.to && t.since <= opens && opens <= t.until
}

func (t *term) window(opens, due, lapses records.Instant, work calendar.WorkingDays, day calendar.Date) Window {
	return Window{Opens: opens, Due: due, Lapses: lapses, Task: t.task, Plan: t.plan, Rest: t.task.NonWorking != "work" && !work.Works(day)}
}

func (x *expander) byEvent(d state.Duty, t term, w *plan.When) {
	work := t.plan.WorkingDays()
	for _, r := range events(x.st, d, w.After, t.since, min(t.until, x.at)) { // a window opens when its event happens
		if due := r.Happened.Add(w.DueIn.Duration()); t.has(r.Happened, due) {
			o := t.window(r.Happened, due, r.Happened.Add(w.LapsesIn.Duration()), work, t.plan.Day(r.Happened))
			o.opener = r
			x.found = append(x.found, o)
		}
	}
}

// events are the entries a window follows that happened between two instants, both included.
func events(st *state.State, d state.Duty, e *plan.Event, from, to records.Instant) []*state.Record {
	var out []*state.Record
	for _, r := range eventSource(d, e).of(st).Between(from, to) {
		if s, ok := r.Fact.(*records.Signoff); ok {
			if e.Task != "" && s.Task != e.Task || e.Station != "any" && s.Station != eventStation(d, e) || e.Passed && !passes(st, r) {
				continue
			}
		}
		if dev, ok := r.Fact.(*records.Deviation); ok && e.Station != "any" && dev.Station != eventStation(d, e) {
			continue
		}
		out = append(out, r)
	}
	return out
}

// eventSource is the shortest timeline that has all of an event's entries.
func eventSource(d state.Duty, e *plan.Event) source {
	if e.Kind == records.KindSignoff && e.Task != "" && e.Station != "any" {
		return signoffsOf(e.Task, eventStation(d, e))
	}
	return source{kind: e.Kind}
}

func eventStation(d state.Duty, e *plan.Event) records.StationCode {
	if e.Station == "" || e.Station == "same" {
		return d.Station
	}
	return records.StationCode(e.Station)
}

// stretch is a stretch of time in which a condition holds; the end is not part of it.
type stretch struct{ from, to records.Instant }

type stretches []stretch

// conditions are the stretches in which a condition held at a station, of those that go on after an instant: from a passing sign-off of one
// task until the next passing one of another. One that has not ended by the moment is taken to go on.
func conditions(st *state.State, w *plan.While, at records.StationCode, since, moment records.Instant) (all stretches) {
	begin, end := signoffsOf(w.From, at).of(st), signoffsOf(w.Until, at).of(st)
	from, until := begin.Between(since+1, moment), end.Between(since+1, moment)
	on := false
	if begun := lastPassed(st, begin.Until(min(since, moment))); begun != nil {
		ended := lastPassed(st, end.Until(min(since, moment)))
		if on = ended == nil || ended.Happened <= begun.Happened; on {
			all = append(all, stretch{begun.Happened, forever})
		}
	}
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
