package demoplant

import (
	"math"
	"slices"
	"time"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/plan"
)

// duties puts on the list everything the plans on the wall ask for by the calendar and by the shift, and what is done
// as needed on the dry side. What follows the grain is in grain.go.
func (s *sim) duties() {
	for i, v := range s.versions {
		to := s.until.Add(72 * time.Hour)
		if i+1 < len(s.versions) {
			to = s.versions[i+1].from
		}
		for t := range v.plan.Tasks {
			task := &v.plan.Tasks[t]
			for w := range task.When {
				for _, station := range task.Stations {
					switch {
					case task.When[w].Rule != nil:
						s.byRule(v, to, task, &task.When[w], station)
					case task.When[w].EachShift:
						s.byShift(v, to, task, station)
					}
				}
			}
		}
	}
	s.asNeeded()
}

func (s *sim) byRule(v version, to records.Instant, t *plan.Task, w *plan.When, station records.StationCode) {
	var held []stretch
	if t.While != nil {
		held = s.held(t.While.From, station)
	}
	days := w.Rule.Between(v.plan.Plant.Since, v.plan.Day(v.from)-calendar.Date(w.Due.Days)-1, v.plan.Day(to)+1)
	for _, d := range days {
		j := job{task: t.Code, station: station, opens: v.plan.At(d, w.Opens), due: v.plan.At(d, w.Due)}
		if j.due < v.from || j.due >= to || t.NonWorking == "rest" && !s.works(d) || s.excused(&j) {
			continue
		}
		if t.While == nil {
			j.at = s.getRound(&j, d)
			s.routine(&j)
			continue
		}
		for _, in := range held {
			if in.from <= j.due && in.to > j.opens {
				j.at = between(s.rand("while", t.Code, station, j.opens), max(j.opens, in.from), min(j.due, in.to-1), 0.05, 0.85)
				j.lots = []records.LotCode{in.lot}
				if t.Code == "kiln-watch" {
					j.reads = kilnCurve(j.at.Sub(in.from))
				}
				s.jobs = append(s.jobs, j)
				break
			}
		}
	}
}

func (s *sim) byShift(v version, to records.Instant, t *plan.Task, station records.StationCode) {
	for d := v.plan.Day(v.from) - 1; d <= v.plan.Day(to); d++ {
		for _, shift := range v.plan.Shifts {
			end := plan.DayTime{Clock: shift.To}
			if shift.To <= shift.From {
				end.Days = 1
			}
			j := job{task: t.Code, station: station, opens: v.plan.At(d, plan.DayTime{Clock: shift.From}), due: v.plan.At(d, end)}
			if j.due < v.from || j.due >= to || s.excused(&j) {
				continue
			}
			begin := max(j.opens, s.versions[0].from) // on the first morning the plan came up on the wall after five
			j.at = between(s.rand("shift", t.Code, j.opens), begin.Add(time.Minute), begin.Add(25*time.Minute), 0, 1)
			s.jobs = append(s.jobs, j)
		}
	}
}

// habit is when in the day people do a thing, where the window leaves them the choice.
type habit struct{ from, to calendar.Clock }

var habits = map[records.TaskCode]habit{
	"moisture-meter-check": {clock(5, 20), clock(6, 40)},
	"thermometer-check":    {clock(5, 20), clock(6, 40)},
	"kiln-probe-check":     {clock(5, 20), clock(6, 40)},
	"ozone-meter-check":    {clock(5, 20), clock(6, 40)},
	"air-meter-check":      {clock(5, 20), clock(6, 40)},
	"scale-check":          {clock(6, 0), clock(8, 15)},
	"bag-check":            {clock(9, 30), clock(15, 30)},
	"sieve-test":           {clock(10, 0), clock(15, 0)},
	"footwear-wash":        {clock(13, 30), clock(17, 0)},
	"dry-clean":            {clock(13, 15), clock(17, 30)},
}

// usually is the habit of everything else; the assistant lead's day is shorter.
var usually = map[string]habit{"crew": {clock(6, 30), clock(16, 30)}, "lead": {clock(7, 15), clock(15, 30)}}

// getRound is when somebody gets round to a job whose window begins on a date: the same day, or when there are days to
// spare on one of the next working days.
func (s *sim) getRound(j *job, d calendar.Date) records.Instant {
	r := s.rand("round", j.task, j.station, j.opens)
	t := s.planAt(j.due).Task(j.task)
	if last := s.day(j.due); last-d > 1 {
		later := d + calendar.Date(r.IntN(min(int(last-d), 5)))
		if t.NonWorking == "rest" {
			later = s.working(later)
		}
		if later < last {
			d = later
		}
	}
	h, ok := habits[j.task]
	if !ok {
		h = usually[t.Who]
	}
	p := s.versions[0].plan
	from, to := p.At(d, plan.DayTime{Clock: h.from}), p.At(d, plan.DayTime{Clock: h.to})
	return between(r, max(from, j.opens), min(to, j.due), 0, 0.95)
}

// routine puts a job of the calendar on the list, with what it brings along.
func (s *sim) routine(j *job) {
	if s.planAt(j.at).Task(j.task).Family == plan.TrainingLog {
		j.trainees = s.everybody(j.at)
	}
	if j.task == "silo-clean" {
		j.at = s.whenEmpty(j)
	}
	if j.task == "silo-temperature" { // grain outdoors follows the year: coldest in February
		_, month, _ := s.day(j.at).Civil()
		j.reads = map[records.AskCode]float64{"warmest": 56 - 14*math.Cos(2*math.Pi*float64(month-2)/12)}
	}
	s.jobs = append(s.jobs, *j)
}

// kilnCurve is the schedule of the kiln: drying, then rising, then curing.
func kilnCurve(since time.Duration) map[records.AskCode]float64 {
	on, off := 128.0, 82.0
	switch h := since.Hours(); {
	case h > 18:
		on, off = 186, 172
	case h > 13:
		on, off = 168, 140
	case h > 9:
		on, off = 148, 104
	}
	return map[records.AskCode]float64{"air-on": on, "air-off": off}
}

// excused says whether a window lies in a stretch that the lead excused beforehand or because of a power cut.
func (s *sim) excused(j *job) bool {
	return slices.ContainsFunc(s.away, func(e records.Excuse) bool {
		return (e.Task == "" || e.Task == j.task) && (e.Station == "" || e.Station == j.station) && e.From <= j.opens && j.due <= e.To
	})
}

// asNeeded is the dry side's work that no calendar asks for: trucks in and out, and equipment washed wet.
func (s *sim) asNeeded() {
	wash := 0
	washable := []records.StationCode{"mixer", "cleaner", "conveyor"} // mill and bagger are washed after wheat, see dryside.go
	for d := s.since; s.at(d, 0, 0) <= s.until; d++ {
		if !s.works(d) {
			continue
		}
		r := s.rand("day", d)
		at := func(fromHour, toHour int) records.Instant {
			return between(r, s.at(d, fromHour, 0), s.at(d, toHour, 0), 0, 1)
		}
		if d.Weekday()%2 == 1 {
			s.jobs = append(s.jobs, job{task: "dispatch-check", station: "warehouse", at: at(7, 12)})
		}
		if week := int(d-s.since) / 7; d.Weekday() == time.Wednesday && week%3 == 1 && s.works(d+1) {
			station := washable[wash%len(washable)]
			wash++
			washed := job{task: "wet-wash", station: station, at: at(13, 15), agents: []records.AgentUse{{Agent: "potable-water"}}}
			dry := job{task: "dry-check", station: station, opens: washed.at, at: between(r, s.at(d+1, 7, 30), s.at(d+1, 9, 30), 0, 1)}
			s.jobs = append(s.jobs, washed, dry)
		}
	}
}
