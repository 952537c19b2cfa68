package demoplant

import (
	"slices"
	"time"

	"grainward/records"
	"grainward/records/calendar"
)

// The people the story turns on.
const (
	lead      = records.PersonCode("imke")
	assistant = records.PersonCode("desmond")
	leaver    = records.PersonCode("callum")
	newcomer  = records.PersonCode("anselm")
)

// seats are the six places on the roster, Monday to Sunday: e early, l late, n night, - off. Everybody moves up one
// seat a week, which never makes two shifts in a row: after the nights comes a day off or another night.
var seats = [6]string{"eeeee--", "eee--ee", "lllll--", "l--llll", "nnnnn--", "-ll--nn"}

// crew by the seat they started on.
var crew = [6]records.PersonCode{"rosa", "tobias", "yesenia", leaver, "piotr", "mireya"}

// onShift is the crew at work at an instant. The night belongs to the day on which it began.
func (s *sim) onShift(at records.Instant) (who []records.PersonCode) {
	zone := s.versions[0].plan.Location()
	d, shift := calendar.DateOf(at.Time(), zone), byte('n')
	switch c := calendar.ClockOf(at.Time(), zone); {
	case c < clock(5, 0):
		d--
	case c < clock(13, 0):
		shift = 'e'
	case c < clock(21, 0):
		shift = 'l'
	}
	days := int(d - s.since)
	week, weekday := (days+7)/7-1, (days+7)%7 // the night before the first day is in the week before it
	for i, person := range crew {
		if seats[((i-week)%6+6)%6][weekday] != shift {
			continue
		}
		if person == leaver && d > s.dates.lastDay {
			person = newcomer
		}
		who = append(who, person)
	}
	return who
}

// pick is who does a job: somebody on shift who was trained for it. The assistant lead does what is a lead's, so that
// the lead can review it, and helps out where nobody on shift may.
func (s *sim) pick(j *job) records.PersonCode {
	t := s.planAt(j.at).Task(j.task)
	if t.Who == "lead" {
		return assistant
	}
	who := s.onShift(j.at)
	if t.Trained {
		who = slices.DeleteFunc(who, func(p records.PersonCode) bool { return !s.trained(p, j) })
	}
	if len(who) == 0 {
		return assistant
	}
	return who[s.rand("pick", j.task, j.station, j.at).IntN(len(who))]
}

// trained is what the lead's list on the wall says.
func (s *sim) trained(p records.PersonCode, j *job) bool {
	for _, t := range s.planAt(j.at).Person(p).Trained {
		if t.Task == j.task {
			return true
		}
	}
	return p == newcomer && s.day(j.at) > s.dates.trained && (j.task == "turn-bed" || j.task == "floor-scrub")
}

// beside is a second person for work that asks for one.
func (s *sim) beside(at records.Instant, by records.PersonCode) records.PersonCode {
	for _, p := range append(s.onShift(at), assistant) {
		if p != by {
			return p
		}
	}
	return lead
}

// everybody is the crew who sit in the yearly trainings; somebody new has their own first.
func (s *sim) everybody(at records.Instant) (who []records.PersonCode) {
	p := s.planAt(at)
	for i := range p.People {
		if c := p.People[i].Code; p.People[i].Role == "crew" && p.People[i].AtWork(p.Day(at)) && (c != newcomer || p.Day(at) > s.dates.trained) {
			who = append(who, p.People[i].Code)
		}
	}
	return who
}

// deskDay says whether the lead sits down with the last days' records.
func deskDay(d calendar.Date) bool { return d.Weekday() == time.Tuesday || d.Weekday() == time.Friday }
