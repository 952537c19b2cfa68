package audit

import (
	"grainward/records"
	"grainward/records/plan"
	"grainward/records/state"
)

// Checked is a sign-off held against the task it was for.
type Checked struct {
	Passes    bool        // said to have passed, complete, and within every limit
	Outside   []*plan.Ask // answers outside their limits, or not the right one
	Missing   []*plan.Ask // asked for and not answered, or answered by another type
	WrongUnit []*plan.Ask // numbers in a unit the plan does not use
}

// Check holds a sign-off against its task. A task the plan does not have asks for nothing.
func Check(task *plan.Task, s *records.Signoff) (c Checked) {
	if task != nil {
		for i := range task.Asks {
			ask := &task.Asks[i]
			switch verdict(ask, s) {
			case missing:
				c.Missing = append(c.Missing, ask)
			case wrongUnit:
				c.WrongUnit = append(c.WrongUnit, ask)
			case outside:
				c.Outside = append(c.Outside, ask)
			}
		}
	}
	c.Passes = s.Outcome == records.Passed && len(c.Outside)+len(c.Missing)+len(c.WrongUnit) == 0
	return c
}

type answerVerdict int

const (
	right answerVerdict = iota
	missing
	wrongUnit
	outside
)

func verdict(ask *plan.Ask, s *records.Signoff) answerVerdict {
	var r *records.Response
	for i := range s.Answers {
		if s.Answers[i].Ask == ask.Code {
			r = &s.Answers[i] // of two answers to one question the later counts
		}
	}
	if r == nil {
		if ask.Optional {
			return right
		}
		return missing
	}
	ok := true
	switch ask.Type {
	case "number":
		switch {
		case r.Value == nil:
			return missing
		case r.Value.Unit != ask.Unit:
			return wrongUnit
		}
		ok = ask.Limits.Holds(r.Value.Value)
	case "yesno":
		if r.Yes == nil {
			return missing
		}
		ok = ask.Right == "" || (ask.Right == "yes") == *r.Yes
	case "choice":
		if r.Choice == "" {
			return missing
		}
		ok = ask.Right == "" || ask.Right == r.Choice
	case "text":
		if r.Text == "" {
			return missing
		}
	case "photo":
		if r.Photo == "" {
			return missing
		}
	}
	if !ok {
		return outside
	}
	return right
}

// signed is one sign-off with the plan in force when it happened, and how it stands against its task.
type signed struct {
	rec     *state.Record
	fact    *records.Signoff
	window  records.Instant    // that it names
	by      records.PersonCode // who did the work
	agents  int                // how many it names
	plan    *plan.Plan         // nil when none was in force
	task    *plan.Task         // nil when the plan did not have it
	checked *Checked

	unplanned bool // it answers no window; known once it was matched
}

// Most sign-offs pass or say that they did not, with nothing at fault in their answers, and share these.
var (
	passed = &Checked{Passes: true}
	failed = &Checked{}
)

func checked(task *plan.Task, s *records.Signoff) *Checked {
	switch c := Check(task, s); {
	case c.Passes:
		return passed
	case len(c.Outside)+len(c.Missing)+len(c.WrongUnit) == 0:
		return failed
	default:
		faulty := c // so that only these are made
		return &faulty
	}
}

// checkAll holds sign-offs of one duty, in the order in which they happened, against their tasks.
func checkAll(st *state.State, d state.Duty, rs []*state.Record) []signed {
	return checkInto(make([]signed, 0, len(rs)), st, d, rs)
}

// checkInto puts them behind those of a list. Neighbours mostly share a plan, so the plan and its task are looked up only where one
// follows another. Records and facts lie scattered in memory: what everybody asks of them is read first and of all, with nothing in
// between that waits for it, so that the machine fetches many at once.
func checkInto(out []signed, st *state.State, d state.Duty, rs []*state.Record) []signed {
	first := len(out)
	for _, r := range rs {
		fact := r.Fact.(*records.Signoff)
		out = append(out, signed{rec: r, fact: fact, window: fact.Window, by: r.Performer(), agents: len(fact.Agents)})
	}
	plans := st.Plans()
	var p *plan.Plan
	var task *plan.Task
	for i := first; i < len(out); i++ {
		s := &out[i]
		for len(plans) > 0 && plans[0].From <= s.rec.Happened {
			p, plans = plans[0].Plan, plans[1:]
			task = p.Task(d.Task)
		}
		s.plan, s.task, s.checked = p, task, checked(task, s.fact)
	}
	return out
}

// passes says whether a sign-off passes under the plan in force when it happened.
func passes(st *state.State, r *state.Record) bool {
	s, ok := r.Fact.(*records.Signoff)
	if !ok {
		return false
	}
	p := st.PlanAt(r.Happened)
	if p == nil {
		return s.Outcome == records.Passed
	}
	return Check(p.Task(s.Task), s).Passes
}
