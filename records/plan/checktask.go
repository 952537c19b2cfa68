package plan

import (
	"fmt"
	"strings"

	"grainward/records"
)

func (r *reader) checkTask(p *Plan, t *Task, path string) {
	allKnown(r, path+".stations", t.Stations, p.index.stations, "stations")
	allKnown(r, path+".agents", t.Agents, p.index.agents, "agents")
	allKnown(r, path+".trains", t.Trains, p.index.tasks, "tasks")
	allKnown(r, path+".relies", t.Relies, p.index.documents, "documents")
	known(r, path+".grade", t.Grade, p.index.grades, "grades", true)
	clauses := map[records.Clause]bool{}
	for _, c := range p.Profile.Clauses {
		clauses[c.Cite] = true
	}
	once(r, path+".clauses", "", t.Clauses)
	for i, c := range t.Clauses {
		if c != "" && !clauses[c] && !r.unsure("profile.clauses") {
			r.fault(fmt.Sprintf("%s.clauses[%d]", path, i), string(c), noClause(c, p.Profile.Clauses))
		}
	}
	if len(t.Trains) > 0 && t.Family != TrainingLog {
		r.fault(path+".trains", "", "only a task of family "+TrainingLog+" trains people for others")
	}
	if t.While != nil {
		known(r, path+".while.from", t.While.From, p.index.tasks, "tasks", false)
		if known(r, path+".while.until", t.While.Until, p.index.tasks, "tasks", false) && t.While.From == t.While.Until {
			r.fault(path+".while.until", string(t.While.Until), "another task than from: one begins the condition, the other ends it")
		}
	}
	for i := range t.When {
		r.checkWhen(p, &t.When[i], fmt.Sprintf("%s.when[%d]", path, i))
	}
	once(r, path+".asks", "code", codes(t.Asks, func(a Ask) records.AskCode { return a.Code }))
	for i := range t.Asks {
		r.checkAsk(p, &t.Asks[i], fmt.Sprintf("%s.asks[%d]", path, i))
	}
}

func noClause(c records.Clause, have []Clause) string {
	var cites []string
	for _, row := range have {
		cites = append(cites, string(row.Cite))
	}
	if near := nearest(string(c), cites); near != "" {
		return "there is no such clause under profile.clauses; did you mean " + near + "?"
	}
	return "there is no such clause under profile.clauses; add it there with a title"
}

// whenKeys says which keys go with which way of falling due.
var whenKeys = map[string][]string{
	"rule":      {"starts", "opens", "due", "lapses"},
	"eachShift": {"grace"},
	"after":     {"dueIn", "lapsesIn"},
}

func (r *reader) checkWhen(p *Plan, w *When, path string) {
	var ways []string
	for _, way := range []string{"rule", "eachShift", "after"} {
		if _, there := r.spots[path+"."+way]; there {
			ways = append(ways, way)
		}
	}
	if len(ways) != 1 {
		r.fault(path, "", "exactly one of rule, eachShift and after must be given")
		return
	}
	for _, way := range []string{"rule", "eachShift", "after"} {
		for _, key := range whenKeys[way] {
			at, there := r.spots[path+"."+key]
			switch {
			case there && way != ways[0]:
				r.faultAt(at, path+"."+key, "", "it goes with "+way+", not with "+ways[0])
			case !there && way == ways[0] && key != "starts" && key != "grace":
				r.fault(path+"."+key, "", "it must be given with "+way)
			}
		}
	}
	switch ways[0] {
	case "rule":
		r.order(path, "opens", "due", w.Opens.Seconds(), w.Due.Seconds(), w.Due, w.Opens, true)
		r.order(path, "due", "lapses", w.Due.Seconds(), w.Lapses.Seconds(), w.Lapses, w.Due, false)
	case "after":
		r.order(path, "dueIn", "lapsesIn", int(w.DueIn), int(w.LapsesIn), w.LapsesIn, w.DueIn, false)
		if w.After != nil {
			r.checkEvent(p, w.After, path+".after")
		}
	case "eachShift":
		if !w.EachShift {
			r.fault(path+".eachShift", "false", "true, or another way of falling due")
		}
		if len(p.Shifts) == 0 {
			r.fault(path+".eachShift", "", "the plan has no shifts; list them under shifts")
		}
	}
}

// order notes a later time that comes before an earlier one.
func (r *reader) order(path, first, second string, a, b int, later, earlier fmt.Stringer, strictly bool) {
	if _, ok := r.spots[path+"."+first]; !ok {
		return
	}
	if _, ok := r.spots[path+"."+second]; !ok {
		return
	}
	switch {
	case strictly && b <= a:
		r.fault(path+"."+second, later.String(), fmt.Sprintf("later than %s, which is %s (write \"+1\" after a time of the next day)", first, earlier))
	case b < a:
		r.fault(path+"."+second, later.String(), fmt.Sprintf("not before %s, which is %s", first, earlier))
	}
}

func (r *reader) checkEvent(p *Plan, e *Event, path string) {
	r.checkKind(path+".kind", e.Kind)
	if e.Kind == records.KindSignoff {
		if e.Task == "" {
			r.fault(path+".task", "", "with kind signoff, name the task whose sign-offs count")
		}
		known(r, path+".task", e.Task, p.index.tasks, "tasks", true)
		return
	}
	if _, ok := records.RowOf(e.Kind); !ok {
		return
	}
	if e.Task != "" {
		r.fault(path+".task", string(e.Task), "it goes with kind signoff only")
	}
	if e.Passed {
		r.fault(path+".passed", "true", "it goes with kind signoff only")
	}
	if e.Station == "same" && e.Kind != "" && !stationed(e.Kind) {
		r.fault(path+".station", "", "write any: an entry of kind "+string(e.Kind)+" is at no station")
	}
}

// stationed says whether entries of a kind are at a station, so that "same" can mean something.
func stationed(k records.Kind) bool {
	switch k {
	case records.KindPlan, records.KindAnswer, records.KindReview, records.KindDocument, records.KindCorrect:
		return false
	}
	return true
}

func (r *reader) checkAsk(p *Plan, a *Ask, path string) {
	known(r, path+".instrument", a.Instrument, p.index.instruments, "instruments", true)
	_, unitGiven := r.spots[path+".unit"]
	if a.Type != "number" {
		for _, key := range []string{"unit", "limits", "instrument"} {
			if at, there := r.spots[path+"."+key]; there && a.Type != "" && !(key == "instrument" && a.Type != "text") {
				r.faultAt(at, path+"."+key, "", "it goes with type number only")
			}
		}
	} else {
		if a.Unit == "" {
			if unitGiven {
				r.fault(path+".unit", "", "it may not be empty: write 1 for a number without a unit")
			} else {
				r.fault(path+".unit", "", "a number needs its unit, such as degF, % or mg/L; write 1 for a number without one")
			}
		}
		r.checkRange(path+".limits", a.Limits)
	}
	once(r, path+".choices", "", a.Choices)
	if a.Type == "choice" && len(a.Choices) < 2 {
		r.fault(path+".choices", "", "a choice needs at least two choices")
	}
	if at, there := r.spots[path+".choices"]; there && a.Type != "choice" && a.Type != "" {
		r.faultAt(at, path+".choices", "", "it goes with type choice only")
	}
	switch {
	case a.Right == "":
	case a.Type == "yesno" && a.Right != "yes" && a.Right != "no":
		r.fault(path+".right", a.Right, "yes or no")
	case a.Type == "choice" && !contains(a.Choices, a.Right):
		r.fault(path+".right", a.Right, "one of the choices: "+strings.Join(a.Choices, ", "))
	case a.Type != "yesno" && a.Type != "choice" && a.Type != "":
		r.fault(path+".right", a.Right, "it goes with types yesno and choice; a number has limits")
	}
}
