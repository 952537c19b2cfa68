package audit

import (
	"slices"

	"grainward/records"
	"grainward/records/plan"
	"grainward/records/state"
)

// Work is one duty with what became of its windows.
type Work struct {
	Duty      state.Duty
	Windows   []Judged        // in order of opening
	Unplanned []*state.Record // sign-offs that answer no window, in the order in which they happened

	chapters []chapter // in which it was judged; none of what lies ahead (Report.Ahead)
}

// excuse is an excuse signed by somebody who was a lead at the time; others have no effect, and are a finding.
type excuse struct{ *records.Excuse }

func excuses(st *state.State, at records.Instant) (out []excuse) {
	for _, r := range st.Kind(records.KindExcuse).Until(at) {
		if isLead(st, r) {
			out = append(out, excuse{r.Fact.(*records.Excuse)})
		}
	}
	return out
}

// cover says whether any of the excuses covers a window.
func cover(all []excuse, d state.Duty, w *Window) bool {
	return slices.ContainsFunc(all, func(e excuse) bool { return e.covers(d, w) })
}

// covers says whether a window lies inside the excused stretch: its opening and its due time do.
func (e excuse) covers(d state.Duty, w *Window) bool {
	return e.concerns(d) && e.From <= w.Opens && w.Due <= e.To
}

func (e excuse) concerns(d state.Duty) bool {
	return (e.Task == "" || e.Task == d.Task) && (e.Station == "" || e.Station == d.Station)
}

// isLead says whether whoever signed an entry was a lead by the plan then in force. The entry that adopts the first
// plan is judged by that plan. A signature on paper counts as a lead's only when a lead typed it in: nobody else can say that a
// lead verified or approved something.
func isLead(st *state.State, r *state.Record) bool {
	p := st.PlanAt(r.Happened)
	if p == nil {
		return false
	}
	for _, code := range []records.PersonCode{r.By, r.Performer()} {
		if who := p.Person(code); who == nil || who.Role != "lead" {
			return false
		}
	}
	return true
}

// graveFamilies are those whose missed work can leave food or its surfaces unclean or unwatched.
var graveFamilies = []string{plan.Sanitation, plan.Floor, plan.CleanOut, plan.Turning, plan.Water}

// dueRules are the rules that speak of what became of a window.
var dueRules = map[Result]string{Missed: "missed", Overdue: "overdue", Late: "late", PutRight: "put-right", Failed: "failed"}

// about names a window of a duty.
func (j *Judged) about(d state.Duty) string {
	return string(d.Task) + "@" + string(d.Station) + ":" + j.id()
}

// FindingID is the id of the finding that speaks of a window of a duty, or "" when what became of it is none.
func (j *Judged) FindingID(d state.Duty) string {
	if rule := dueRules[j.Result]; rule != "" {
		return rule + ":" + j.about(d)
	}
	return ""
}

// when is the moment of the finding that speaks of a window: of the sign-off that decided it, or when it was due.
func (j *Judged) when() records.Instant {
	switch j.Result {
	case Late, PutRight, Failed:
		return j.Last().Happened
	}
	return j.Due
}

// dueFindings says in findings what became of windows, behind those there are.
func dueFindings(out []*Finding, d state.Duty, ws []Judged) []*Finding {
	for i := range ws {
		j := &ws[i]
		rule, when := dueRules[j.Result], j.when()
		if rule == "" {
			continue
		}
		values := append(dutyValues(j.Plan, d), moment("due", j.Plan, j.Due))
		switch j.Result {
		case Overdue:
			values = append(values, moment("lapses", j.Plan, j.Lapses))
		case Late, PutRight:
			values = append(values, moment("done", j.Plan, when))
		}
		f := find(rule, j.about(d), when, Subject{Task: d.Task, Station: d.Station}, j.Task.Clauses, values, positions(j.Signoffs)...)
		if rule == "missed" && slices.Contains(graveFamilies, j.Task.Family) {
			f.Severity = Major
		}
		out = append(out, f)
	}
	return out
}

func positions(rs []*state.Record) []records.Position {
	out := make([]records.Position, len(rs))
	for i, r := range rs {
		out[i] = r.Position
	}
	return out
}
