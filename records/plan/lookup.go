package plan

import (
	"fmt"
	"time"

	"grainward/records"
	"grainward/records/calendar"
)

// index finds the rows of a plan by code.
type index struct {
	stations    map[records.StationCode]*Station
	tasks       map[records.TaskCode]*Task
	agents      map[records.AgentCode]*Agent
	instruments map[records.InstrumentCode]*Instrument
	documents   map[records.DocumentCode]*Document
	partners    map[records.PartnerCode]*Partner
	people      map[records.PersonCode]*Person
	items       map[records.ItemCode]*Item
	grades      map[records.GradeCode]int // place in the list, 0 the weakest
}

// build fills the index; the first of two rows with one code wins, and the cross-check names the second.
func (p *Plan) build() {
	p.index = index{
		stations:    byCode(p.Stations, func(r *Station) records.StationCode { return r.Code }),
		tasks:       byCode(p.Tasks, func(r *Task) records.TaskCode { return r.Code }),
		agents:      byCode(p.Agents, func(r *Agent) records.AgentCode { return r.Code }),
		instruments: byCode(p.Instruments, func(r *Instrument) records.InstrumentCode { return r.Code }),
		documents:   byCode(p.Documents, func(r *Document) records.DocumentCode { return r.Code }),
		partners:    byCode(p.Partners, func(r *Partner) records.PartnerCode { return r.Code }),
		people:      byCode(p.People, func(r *Person) records.PersonCode { return r.Code }),
		items:       byCode(p.Items, func(r *Item) records.ItemCode { return r.Code }),
		grades:      map[records.GradeCode]int{},
	}
	for i := len(p.Grades) - 1; i >= 0; i-- {
		p.index.grades[p.Grades[i].Code] = i
	}
}

func byCode[C comparable, R any](rows []R, code func(*R) C) map[C]*R {
	m := make(map[C]*R, len(rows))
	for i := len(rows) - 1; i >= 0; i-- {
		m[code(&rows[i])] = &rows[i]
	}
	return m
}

// The finders give a row by its code, or nil.

func (p *Plan) Station(c records.StationCode) *Station          { return p.index.stations[c] }
func (p *Plan) Task(c records.TaskCode) *Task                   { return p.index.tasks[c] }
func (p *Plan) Agent(c records.AgentCode) *Agent                { return p.index.agents[c] }
func (p *Plan) Instrument(c records.InstrumentCode) *Instrument { return p.index.instruments[c] }
func (p *Plan) Document(c records.DocumentCode) *Document       { return p.index.documents[c] }
func (p *Plan) Partner(c records.PartnerCode) *Partner          { return p.index.partners[c] }
func (p *Plan) Person(c records.PersonCode) *Person             { return p.index.people[c] }
func (p *Plan) Item(c records.ItemCode) *Item                   { return p.index.items[c] }

// GradeRank is a grade's place, 0 the weakest, and whether the plan has it.
func (p *Plan) GradeRank(c records.GradeCode) (rank int, ok bool) {
	rank, ok = p.index.grades[c]
	return rank, ok
}

// Ask finds a task's ask, or nil.
func (t *Task) Ask(c records.AskCode) *Ask {
	for i := range t.Asks {
		if t.Asks[i].Code == c {
			return &t.Asks[i]
		}
	}
	return nil
}

// Location is the plant's zone.
func (p *Plan) Location() *time.Location { return p.zone }

// Day is the plant's civil date at an instant.
func (p *Plan) Day(i records.Instant) calendar.Date { return calendar.DateOf(i.Time(), p.zone) }

// At is the instant of a wall time in the plant, with the stated rule for clock changes (calendar.At).
func (p *Plan) At(d calendar.Date, t DayTime) records.Instant {
	return records.InstantOf(calendar.At(d.AddDays(t.Days), t.Clock, p.zone))
}

// WorkingDays is the plant's calendar of working days.
func (p *Plan) WorkingDays() calendar.WorkingDays {
	w := calendar.WorkingDays{Weekdays: [7]bool{true, true, true, true, true, true, true}, Closed: map[calendar.Date]bool{}}
	for _, d := range p.Plant.NonWorking.Weekdays {
		w.Weekdays[weekdayNames[d]] = false
	}
	for _, d := range p.Plant.NonWorking.Dates {
		w.Closed[d] = true
	}
	return w
}

var weekdayNames = map[string]time.Weekday{"sun": time.Sunday, "mon": time.Monday, "tue": time.Tuesday, "wed": time.Wednesday,
	"thu": time.Thursday, "fri": time.Friday, "sat": time.Saturday}

// AtWork says whether a person is at the plant on a day, by the plan.
func (p *Person) AtWork(day calendar.Date) bool {
	return (p.From == nil || *p.From <= day) && (p.Until == nil || day <= *p.Until)
}

// Holds says whether a value lies in the band, both ends included. An open end holds any value.
func (r Range) Holds(v records.Decimal) bool {
	return (r.Min == nil || r.Min.Cmp(v) <= 0) && (r.Max == nil || v.Cmp(*r.Max) <= 0)
}

// MassUnit is the unit in which the plant is shown masses: lb, unless its plan says kg. It may be asked of no plan.
func (p *Plan) MassUnit() string {
	if p != nil && p.Plant.Units == "kg" {
		return "kg"
	}
	return "lb"
}

// Mass says a mass in that unit, to a tenth.
func (p *Plan) Mass(m records.Micrograms) string {
	return fmt.Sprintf("%.1f %s", m.In(p.MassUnit()), p.MassUnit())
}
