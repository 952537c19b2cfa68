package audittest

import (
	"slices"
	"strings"

	"grainward/records"
	"grainward/records/plan"
)

// held is a sign-off held against its task.
type held struct{ outside, missing, unit bool }

func hold(task *plan.Task, s *records.Signoff) (h held) {
	for _, ask := range task.Asks {
		var answer *records.Response
		for i := range s.Answers {
			if s.Answers[i].Ask == ask.Code {
				answer = &s.Answers[i] // the last one counts
			}
		}
		if answer == nil {
			h.missing = h.missing || !ask.Optional
			continue
		}
		word, given := "", false
		switch ask.Type {
		case "number":
			given = answer.Value != nil
			if given && answer.Value.Unit != ask.Unit {
				h.unit = true
			} else if given && !ask.Limits.Holds(answer.Value.Value) {
				h.outside = true
			}
		case "yesno":
			given = answer.Yes != nil
			if given {
				word = map[bool]string{true: "yes", false: "no"}[*answer.Yes]
			}
		case "choice":
			given = answer.Choice != ""
			word = answer.Choice
		case "text":
			given = answer.Text != ""
		case "photo":
			given = answer.Photo != ""
		}
		h.missing = h.missing || !given
		if given && ask.Right != "" && word != ask.Right {
			h.outside = true
		}
	}
	return h
}

// passes says whether a sign-off passes by the plan in force when it happened.
func (j *journal) passes(r record) bool {
	s := r.Fact.(*records.Signoff)
	if s.Outcome != records.Passed {
		return false
	}
	if p := j.planAt(r.Happened); p != nil {
		if task := p.Task(s.Task); task != nil {
			return hold(task, s) == held{}
		}
	}
	return true
}

// rank orders roles; somebody unknown is a visitor.
func rank(role string) int { return max(0, slices.Index([]string{"visitor", "crew", "lead"}, role)) }

func (j *journal) judgeSignoff(r record) {
	s := r.Fact.(*records.Signoff)
	p := j.planAt(r.Happened)
	if p == nil {
		return
	}
	day, person, task := p.Day(r.Happened), p.Person(didIt(r.Entry)), p.Task(s.Task)
	find := func(rule, suffix string, more ...records.Position) {
		j.find(rule, r.ID.String()+suffix, r.Happened, append(more, r.pos)...)
	}
	if person == nil || person.From != nil && day < *person.From || person.Until != nil && day > *person.Until {
		find("signer-away", "")
	}
	if task == nil {
		return
	}
	h := hold(task, s)
	if h.outside && strings.TrimSpace(s.Action) == "" {
		find("limit-no-action", "")
	}
	if h.missing {
		find("value-missing", "")
	}
	if h.unit {
		find("unit-differs", "")
	}
	if !j.good[r.pos] {
		// Repeated within a day and passed, it weighs less.
		var again *record
		for _, c := range j.signed[duty{s.Task, s.Station}] {
			if again == nil && (c.Happened > r.Happened || c.Happened == r.Happened && c.pos > r.pos) && j.good[c.pos] && c.Happened <= r.Happened+24*3600*1000 {
				again = &c
			}
		}
		lighter := func(rule, suffix, severity string) {
			if again == nil {
				find(rule, suffix)
				return
			}
			find(rule, suffix, again.pos)
			j.found[len(j.found)-1].Severity = severity
		}
		if len(task.When) == 0 || !slices.Contains(task.Stations, s.Station) {
			lighter("needed-failed", "", "note")
			if again == nil && !slices.Contains(heavy, task.Family) {
				j.found[len(j.found)-1].Severity = "minor"
			}
		}
		for _, ask := range task.Asks {
			one := *task
			one.Asks = []plan.Ask{ask}
			if ask.Residue && hold(&one, s).outside {
				lighter("residue-over", "/"+string(ask.Code), "minor")
			}
		}
	}
	role := ""
	if person != nil {
		role = person.Role
	}
	if rank(role) < rank(task.Who) {
		find("signer-role", "")
	}
	if task.Trained && !j.trained(p, task, person, r) {
		find("signer-untrained", "")
	}
	if task.Second && (s.Second == "" || s.Second == didIt(r.Entry)) {
		find("second-missing", "")
	}
	relies := slices.Clone(task.Relies)
	var seen []records.AgentCode
	for _, use := range s.Agents {
		if slices.Contains(seen, use.Agent) {
			continue
		}
		seen = append(seen, use.Agent)
		if !slices.Contains(task.Agents, use.Agent) {
			find("agent-unlisted", "/"+string(use.Agent))
		}
		if a := p.Agent(use.Agent); a != nil && a.Approval != "" && !slices.Contains(relies, a.Approval) {
			relies = append(relies, a.Approval)
		}
	}
	for _, code := range relies {
		if !slices.ContainsFunc(j.docs, func(r record) bool {
			doc := r.Fact.(*records.Document)
			return doc.Code == code && doc.HoldsOn(day)
		}) {
			find("document-lapsed", "/"+string(code))
		}
	}
	for _, in := range p.Instruments {
		if !measured(task, s, in.Code) || task.Code == in.Calibration {
			continue
		}
		var last *record
		for _, c := range j.signed[duty{in.Calibration, in.Station}] {
			if c.Happened <= r.Happened && j.good[c.pos] {
				last = &c
			}
		}
		switch {
		case last == nil:
			find("calibration-lapsed", "/"+string(in.Code))
		case last.Happened.Add(in.Holds.Duration()) < r.Happened:
			find("calibration-lapsed", "/"+string(in.Code), last.pos)
		}
	}
}

// measured says whether a sign-off answers an ask that names an instrument.
func measured(task *plan.Task, s *records.Signoff, in records.InstrumentCode) bool {
	return slices.ContainsFunc(task.Asks, func(ask plan.Ask) bool {
		return ask.Instrument == in && slices.ContainsFunc(s.Answers, func(a records.Response) bool { return a.Ask == ask.Code })
	})
}

// trained says whether the signer was trained in the task by the plan's list, or by a training that was signed off.
func (j *journal) trained(p *plan.Plan, task *plan.Task, person *plan.Person, r record) bool {
	if person != nil && slices.ContainsFunc(person.Trained, func(t plan.Training) bool { return t.Task == task.Code && t.On <= p.Day(r.Happened) }) {
		return true
	}
	for _, course := range p.Tasks {
		if !slices.Contains(course.Trains, task.Code) {
			continue
		}
		for _, station := range course.Stations {
			for _, t := range j.signed[duty{course.Code, station}] {
				if t.Happened <= r.Happened && j.good[t.pos] && slices.Contains(t.Fact.(*records.Signoff).Trainees, didIt(r.Entry)) {
					return true
				}
			}
		}
	}
	return false
}
