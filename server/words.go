package server

import (
	"fmt"
	"strconv"
	"time"

	"grainward/records"
	"grainward/records/plan"
)

// Times and places as people read them.

var (
	weekdays = map[string][7]string{
		"en": {"Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"},
		"es": {"dom", "lun", "mar", "mié", "jue", "vie", "sáb"},
	}
	months = map[string][12]string{
		"en": {"Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"},
		"es": {"ene", "feb", "mar", "abr", "may", "jun", "jul", "ago", "sep", "oct", "nov", "dic"},
	}
)

// clock is a time of the plant's day, with the day in front when it is not that of now.
func (r *request) clock(at records.Instant) string {
	if r.plan.Day(at) == r.plan.Day(r.now) {
		return at.Time().In(r.plan.Location()).Format("15:04")
	}
	return r.moment(at)
}

// moment is a day and a time; the year is said when it is another.
func (r *request) moment(at records.Instant) string {
	t := at.Time().In(r.plan.Location())
	return r.day(t) + " " + t.Format("15:04")
}

func (r *request) day(t time.Time) string {
	s := fmt.Sprintf("%s %d %s", weekdays[r.lang][t.Weekday()], t.Day(), months[r.lang][t.Month()-1])
	if y := t.Year(); y != r.now.Time().In(r.plan.Location()).Year() {
		s += " " + strconv.Itoa(y)
	}
	return s
}

// exactly is a moment to the second with its offset, as an auditor wants it.
func (r *request) exactly(at records.Instant) string {
	return at.Time().In(r.plan.Location()).Format("2006-01-02 15:04:05 -07:00")
}

func (r *request) age(at records.Instant) string {
	switch n := int(r.plan.Day(r.now) - r.plan.Day(at)); {
	case n <= 0:
		return r.say("age-today")
	case n == 1:
		return r.say("age-one")
	default:
		return r.say("age-days", n)
	}
}

func taskTitle(p *plan.Plan, c records.TaskCode, lang string) string {
	if t := p.Task(c); t != nil {
		return t.Title.In(lang)
	}
	return string(c)
}

func stationTitle(p *plan.Plan, c records.StationCode, lang string) string {
	if s := p.Station(c); s != nil {
		return s.Title.In(lang)
	}
	return string(c)
}

func personName(p *plan.Plan, c records.PersonCode) string {
	if who := p.Person(c); who != nil {
		return who.Name
	}
	return string(c)
}

// planAt is the plan that was in force then, or the present one for what happened before any.
func (r *request) planAt(at records.Instant) *plan.Plan {
	if p := r.view.State.PlanAt(at); p != nil {
		return p
	}
	return r.plan
}

func positionText(p records.Position) string { return strconv.FormatInt(int64(p), 10) }
func entryHref(p records.Position) string    { return "/entry/" + positionText(p) }
func fileSize(n int64) string {
	if n < 1e6 {
		return fmt.Sprintf("%d kB", (n+999)/1000)
	}
	return fmt.Sprintf("%.1f MB", float64(n)/1e6)
}
