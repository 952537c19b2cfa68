package main

import (
	"strings"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/plan"
)

// edge says which end of a day a date alone means.
type edge int

const (
	dayStart edge = iota
	dayEnd
)

// parseMoment reads a time somebody gave on the command line: RFC 3339 with an offset, or a date, with or without a
// time, on the plant's clock.
func parseMoment(flag, text string, p *plan.Plan, e edge) (records.Instant, error) {
	if at, err := records.ParseInstant(text); err == nil {
		return at, nil
	}
	day, clock, timed := strings.Cut(strings.Replace(text, "T", " ", 1), " ")
	d, err := calendar.ParseDate(day)
	if y, _, _ := d.Civil(); err != nil || y < 1901 || y > 2198 { // an entry holds no time outside 1900 to 2199, whatever the clock of the plant
		return 0, wrongFlag(flag, text, "a time such as 2026-03-08T07:30 on the plant's clock, 2026-03-08T07:30:00-05:00, or a date")
	}
	if p == nil {
		return 0, wrongFlag(flag, text, "a time with an offset, such as 2026-03-08T07:30:00-05:00: no plan is in force that would say which clock the plant goes by")
	}
	if timed {
		c, err := calendar.ParseClock(clock)
		if err != nil {
			return 0, wrongFlag(flag, text, "a time such as 2026-03-08T07:30")
		}
		return p.At(d, plan.DayTime{Clock: c}), nil
	}
	if e == dayEnd {
		return p.At(d.AddDays(1), plan.DayTime{}) - 1, nil
	}
	return p.At(d, plan.DayTime{}), nil
}

// shown is an instant on the plant's clock, for people.
func shown(p *plan.Plan, at records.Instant) string {
	if p == nil {
		return at.String()
	}
	return at.Time().In(p.Location()).Format("2006-01-02 15:04")
}
