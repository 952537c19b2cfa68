package audittest

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/plan"
)

type window struct {
	opens, due, lapses records.Instant
	task               *plan.Task // of the plan in force at due
	rest               bool       // on a non-working day on which the task rests
	signoffs           []record
	after              records.Position // of the entry it follows; -1 none
	id                 string
}

// duties is every task at every station of every plan, sorted.
func (j *journal) duties() (list []duty) {
	for _, s := range j.plans {
		for _, t := range s.plan.Tasks {
			for _, at := range t.Stations {
				list = append(list, duty{t.Code, at})
			}
		}
	}
	slices.SortFunc(list, func(a, b duty) int {
		return cmp.Or(strings.Compare(string(a.task), string(b.task)), strings.Compare(string(a.station), string(b.station)))
	})
	return slices.Compact(list)
}

// earliest is how many days before a window is due its date can lie: the most a day time can add, and some for zones.
const earliest = 366 + 3

// windows expands a duty's windows that open by until, in order.
func (j *journal) windows(d duty, until records.Instant) (list []*window) {
	for _, s := range j.plans {
		task := s.plan.Task(d.task)
		if task == nil || !slices.Contains(task.Stations, d.station) {
			continue
		}
		working := s.plan.WorkingDays()
		add := func(day calendar.Date, opens, due, lapses records.Instant) {
			if s.from <= due && due < s.next && opens <= until && j.holds(task.While, d.station, opens, due) {
				list = append(list, &window{opens: opens, due: due, lapses: lapses, task: task, rest: task.NonWorking != "work" && !working.Works(day), after: -1})
			}
		}
		first, last := s.plan.Day(s.from).AddDays(-earliest), s.plan.Day(until).AddDays(1)
		for _, row := range task.When {
			switch {
			case row.Rule != nil:
				for _, day := range row.Rule.Between(*row.Starts, first, last) {
					add(day, s.plan.At(day, row.Opens), s.plan.At(day, row.Due), s.plan.At(day, row.Lapses))
				}
			case row.EachShift:
				for day := first; day <= last; day++ {
					if day < s.plan.Plant.Since {
						continue // there was no shift before the plant's first day
					}
					for _, shift := range s.plan.Shifts {
						end := plan.DayTime{Clock: shift.To}
						if shift.To <= shift.From {
							end.Days = 1
						}
						due := s.plan.At(day, end)
						add(day, s.plan.At(day, plan.DayTime{Clock: shift.From}), due, due.Add(row.Grace.Duration()))
					}
				}
			case row.After != nil:
				for _, r := range j.used {
					if j.matches(row.After, d.station, r) {
						n := len(list)
						add(s.plan.Day(r.Happened), r.Happened, r.Happened.Add(row.DueIn.Duration()), r.Happened.Add(row.LapsesIn.Duration()))
						for _, w := range list[n:] {
							w.after = r.pos
						}
					}
				}
			}
		}
	}
	slices.SortStableFunc(list, func(a, b *window) int {
		return cmp.Or(cmp.Compare(a.opens, b.opens), cmp.Compare(a.due, b.due), cmp.Compare(a.lapses, b.lapses))
	})
	// Of windows with the same opening and due time only the one that lapses last is a window.
	var kept []*window
	for i, w := range list {
		if i+1 < len(list) && list[i+1].opens == w.opens && list[i+1].due == w.due && list[i+1].lapses > w.lapses {
			continue
		}
		if n := len(kept); n > 0 && kept[n-1].opens == w.opens && kept[n-1].due == w.due {
			continue
		}
		w.id = w.opens.String()
		if n := len(kept); n > 0 && kept[n-1].opens == w.opens {
			w.id += "/" + w.due.String()
		}
		kept = append(kept, w)
	}
	return kept
}

// matches says whether an entry is one of those an event names, for a duty at a station.
func (j *journal) matches(e *plan.Event, station records.StationCode, r record) bool {
	if r.Kind != e.Kind {
		return false
	}
	here := func(at records.StationCode) bool {
		switch e.Station {
		case "any":
			return true
		case "", "same":
			return at == station
		}
		return string(at) == e.Station
	}
	switch fact := r.Fact.(type) {
	case *records.Signoff:
		return (e.Task == "" || fact.Task == e.Task) && here(fact.Station) && (!e.Passed || j.good[r.pos])
	case *records.Deviation:
		return here(fact.Station)
	}
	return true
}

// holds says whether a condition held at some moment from opens to due, both included.
func (j *journal) holds(c *plan.While, station records.StationCode, opens, due records.Instant) bool {
	if c == nil {
		return true
	}
	for _, from := range j.signed[duty{c.From, station}] {
		if !j.good[from.pos] {
			continue
		}
		until := never
		for _, r := range j.signed[duty{c.Until, station}] {
			// At one instant, what ends comes before what begins: only a later one ends this stretch.
			if j.good[r.pos] && r.Happened > from.Happened {
				until = r.Happened
				break
			}
		}
		if from.Happened <= due && opens < until {
			return true
		}
	}
	return false
}

// answered gives a duty's windows with the sign-offs that went to each, and the sign-offs that went to none.
func (j *journal) answered(d duty, until records.Instant) (windows []*window, unplanned []record) {
	windows = j.windows(d, until)
	for _, s := range j.signed[d] {
		named := s.Fact.(*records.Signoff).Window
		var to *window
		for _, w := range windows {
			if !(w.opens <= s.Happened && s.Happened <= w.lapses) || j.passed(w) || w.after == s.pos {
				continue
			}
			if to == nil {
				to = w
			}
			if named != 0 && w.opens == named {
				to = w
				break
			}
		}
		if to == nil {
			unplanned = append(unplanned, s)
		} else {
			to.signoffs = append(to.signoffs, s)
		}
	}
	return windows, unplanned
}

func (j *journal) passed(w *window) bool {
	return slices.ContainsFunc(w.signoffs, func(s record) bool { return j.good[s.pos] })
}

// result is what became of a window at the moment.
func (j *journal) result(d duty, w *window) string {
	switch {
	case j.passed(w) && len(w.signoffs) > 1:
		return "put right"
	case j.passed(w) && w.signoffs[0].Happened <= w.due:
		return "done"
	case j.passed(w):
		return "late"
	case len(w.signoffs) > 0:
		return "failed"
	case w.rest || j.excused(d, w):
		return "excused"
	case j.at > w.lapses:
		return "missed"
	case j.at > w.due:
		return "overdue"
	case j.at >= w.opens:
		return "open"
	}
	return "coming"
}

func (j *journal) excused(d duty, w *window) bool {
	return slices.ContainsFunc(j.used, func(r record) bool {
		x, ok := r.Fact.(*records.Excuse)
		return ok && (x.Task == "" || x.Task == d.task) && (x.Station == "" || x.Station == d.station) && x.From <= w.opens && w.due <= x.To && j.lead(r)
	})
}

// heavy are the families of which a missed window is a major finding.
var heavy = []string{plan.Sanitation, plan.Floor, plan.CleanOut, plan.Turning, plan.Water}

func (j *journal) judgeDuties() {
	list := j.duties()
	for d := range j.signed {
		if !slices.Contains(list, d) {
			list = append(list, d)
		}
	}
	for _, d := range list {
		windows, unplanned := j.answered(d, j.at)
		for _, w := range windows {
			id := fmt.Sprintf("%s@%s:%s", d.task, d.station, w.id)
			var evidence []records.Position
			var last records.Instant
			for _, s := range w.signoffs {
				evidence, last = append(evidence, s.pos), s.Happened
			}
			switch result := j.result(d, w); result {
			case "missed":
				j.find("missed", id, w.due)
				if slices.Contains(heavy, w.task.Family) {
					j.found[len(j.found)-1].Severity = "major"
				}
			case "overdue":
				j.find("overdue", id, w.due)
			case "late", "failed":
				j.find(result, id, last, evidence...)
			case "put right":
				j.find("put-right", id, last, evidence...)
			}
		}
		for _, s := range unplanned {
			if p := j.planAt(s.Happened); p != nil {
				if t := p.Task(d.task); t != nil && slices.Contains(t.Stations, d.station) && len(t.When) > 0 {
					j.find("unplanned", s.ID.String(), s.Happened, s.pos)
				}
			}
		}
	}
}
