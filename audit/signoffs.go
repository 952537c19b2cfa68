package audit

import (
	"slices"
	"strings"
	"time"

	"grainward/records"
	"grainward/records/plan"
	"grainward/records/state"
)

// signoffFindings holds the first n sign-offs of a list against what the plan asked of them on that day: their answers, who signed, what
// they relied on. The list must hold all that came within a day after them. Findings are put behind those there are.
func signoffFindings(out []*Finding, st *state.State, signoffs []signed, n int, at records.Instant) []*Finding {
	for i := range signoffs[:n] {
		x := signoffCheck{&signoffs[i], st, at}
		if x.plan == nil {
			continue
		}
		out = x.answers(out)
		out = x.signer(out)
		if x.task == nil {
			continue
		}
		out = x.reliance(out)
		out = x.failures(out, signoffs[i+1:])
		if x.unplanned && x.hasWindows() { // work done as needed is never due, so it can not be out of turn
			out = append(out, x.find("unplanned", moment("done", x.plan, x.rec.Happened)))
		}
	}
	return out
}

// hasWindows says whether the work is due at times, by the plan of the day.
func (x signoffCheck) hasWindows() bool {
	return x.task != nil && len(x.task.When) > 0 && slices.Contains(x.task.Stations, x.fact.Station)
}

// signoffCheck is one sign-off at the moment asked about.
type signoffCheck struct {
	*signed
	st *state.State
	at records.Instant
}

// find makes a finding about this sign-off; its id ends in the entry's, so it keeps it through corrections.
func (x signoffCheck) find(rule string, values ...Value) *Finding {
	d := state.Duty{Task: x.fact.Task, Station: x.fact.Station}
	var clauses []records.Clause
	if x.task != nil {
		clauses = x.task.Clauses
	}
	values = append(dutyValues(x.plan, d), values...)
	return find(rule, x.rec.ID.String(), x.rec.Happened, Subject{Task: d.Task, Station: d.Station, Person: x.by}, clauses, values, x.rec.Position)
}

func (x signoffCheck) answers(out []*Finding) []*Finding {
	c := x.checked
	if len(c.Outside) > 0 && strings.TrimSpace(x.fact.Action) == "" {
		out = append(out, x.find("limit-no-action", title("answers", askTitles(c.Outside))))
	}
	if len(c.Missing) > 0 {
		out = append(out, x.find("value-missing", title("answers", askTitles(c.Missing))))
	}
	if len(c.WrongUnit) > 0 {
		out = append(out, x.find("unit-differs", title("answers", askTitles(c.WrongUnit))))
	}
	return out
}

// askTitles joins the titles of asks, in each language.
func askTitles(asks []*plan.Ask) plan.Text {
	joined := plan.Text{}
	for _, lang := range []string{"en", "es"} {
		var words []string
		for _, a := range asks {
			words = append(words, "“"+a.Title.In(lang)+"”")
		}
		joined[lang] = strings.Join(words, ", ")
	}
	return joined
}

// repeatWithin is how soon after a failure the same work at the same station is its repeat, and not the next time it was needed.
const repeatWithin = 24 * time.Hour

// failures are what did not pass where no window says so: work done as needed, which is never due; and residues over their
// limits, whatever became of the work. Both weigh less once the work was repeated within a day and passed.
func (x signoffCheck) failures(out []*Finding, later []signed) []*Finding {
	if x.checked.Passes {
		return out
	}
	after := plan.Text{"en": "", "es": ""}
	i := slices.IndexFunc(later, func(s signed) bool { return s.checked.Passes })
	if i >= 0 && later[i].rec.Happened > x.rec.Happened.Add(repeatWithin) {
		i = -1
	}
	if i >= 0 {
		when := moment("", x.plan, later[i].rec.Happened).Word
		after = plan.Text{"en": " Repeated, it passed at " + when + ".", "es": " Repetido, pasó a las " + when + "."}
	}
	add := func(rule, suffix string, repeated Severity, more ...Value) *Finding {
		f := x.find(rule, append(more, moment("done", x.plan, x.rec.Happened), title("after", after))...)
		f.ID += suffix
		if i >= 0 {
			f.Severity, f.Evidence = repeated, append(f.Evidence, later[i].rec.Position)
		}
		out = append(out, f)
		return f
	}
	if !x.hasWindows() {
		f := add("needed-failed", "", Note)
		if i < 0 && !slices.Contains(graveFamilies, x.task.Family) {
			f.Severity = Minor
		}
	}
	for _, ask := range x.checked.Outside {
		if ask.Residue {
			add("residue-over", "/"+string(ask.Code), Minor, title("answers", askTitles([]*plan.Ask{ask})))
		}
	}
	return out
}

var leadWord = plan.Text{"en": "a lead", "es": "un responsable"}

func (x signoffCheck) signer(out []*Finding) []*Finding {
	who := x.plan.Person(x.by)
	person := word("person", string(x.by))
	if who != nil {
		person.Word = who.Name
	}
	if who == nil || (who.From != nil || who.Until != nil) && !who.AtWork(x.plan.Day(x.rec.Happened)) {
		out = append(out, x.find("signer-away", person))
	}
	if x.task == nil {
		return out
	}
	if rankOf(who) < rank(x.task.Who) {
		out = append(out, x.find("signer-role", person, title("who", leadWord)))
	}
	if x.task.Trained && !trained(x.st, x.plan, x.by, x.task.Code, x.rec.Happened) {
		out = append(out, x.find("signer-untrained", person))
	}
	if x.task.Second && (x.fact.Second == "" || x.fact.Second == x.by) {
		out = append(out, x.find("second-missing", person))
	}
	return out
}

func rankOf(p *plan.Person) int {
	if p == nil {
		return 0
	}
	return rank(p.Role)
}

func rank(role string) int { return slices.Index([]string{"visitor", "crew", "lead"}, role) }

// trained says whether somebody was trained in a task by then: by the plan's list, or by a passing training sign-off
// that names them.
func trained(st *state.State, p *plan.Plan, who records.PersonCode, task records.TaskCode, by records.Instant) bool {
	if person := p.Person(who); person != nil {
		for _, t := range person.Trained {
			if t.Task == task && t.On <= p.Day(by) {
				return true
			}
		}
	}
	for i := range p.Tasks {
		t := &p.Tasks[i]
		if !slices.Contains(t.Trains, task) {
			continue
		}
		for _, station := range t.Stations {
			for _, r := range st.Signoffs(state.Duty{Task: t.Code, Station: station}).Until(by) {
				if slices.Contains(r.Fact.(*records.Signoff).Trainees, who) && passes(st, r) {
					return true
				}
			}
		}
	}
	return false
}

// reliance is about what the work relied on: agents, documents, instruments.
func (x signoffCheck) reliance(out []*Finding) []*Finding {
	if len(x.task.Relies) == 0 && x.agents == 0 {
		return x.instruments(out)
	}
	need := slices.Clip(x.task.Relies)
	for i, use := range x.fact.Agents {
		if slices.ContainsFunc(x.fact.Agents[:i], func(u records.AgentUse) bool { return u.Agent == use.Agent }) {
			continue // the same from another container
		}
		agent := x.plan.Agent(use.Agent)
		if agent != nil && agent.Approval != "" && !slices.Contains(need, agent.Approval) {
			need = append(need, agent.Approval)
		}
		if !slices.Contains(x.task.Agents, use.Agent) {
			name := plan.Text{"en": string(use.Agent)}
			if agent != nil {
				name = agent.Title
			}
			f := x.find("agent-unlisted", title("agent", name))
			f.ID += "/" + string(use.Agent)
			f.Subject.Agent = use.Agent
			out = append(out, f)
		}
	}
	day := x.plan.Day(x.rec.Happened)
	for _, code := range need {
		if held(x.st, code, day, x.at) {
			continue
		}
		f := x.find("document-lapsed", word("document", documentTitle(x.plan, code)))
		f.ID += "/" + string(code)
		f.Subject.Document = code
		out = append(out, f)
	}
	return x.instruments(out)
}

func (x signoffCheck) instruments(out []*Finding) []*Finding {
	var seen []records.InstrumentCode
	for i := range x.task.Asks {
		if x.task.Asks[i].Instrument == "" {
			continue
		}
		in := x.plan.Instrument(x.task.Asks[i].Instrument)
		if in == nil || slices.Contains(seen, in.Code) || in.Calibration == x.task.Code || !answered(x.fact, x.task.Asks[i].Code) {
			continue
		}
		seen = append(seen, in.Code)
		last := lastPassing(x.st, state.Duty{Task: in.Calibration, Station: in.Station}, x.rec.Happened)
		if last != nil && last.Happened.Add(in.Holds.Duration()) >= x.rec.Happened {
			continue
		}
		when := plan.Text{"en": "never, by this journal", "es": "nunca, según este diario"}
		if last != nil {
			when = plan.Text{"en": moment("", x.plan, last.Happened).Word}
		}
		f := x.find("calibration-lapsed", title("instrument", in.Title), title("last", when))
		f.ID += "/" + string(in.Code)
		f.Subject.Instrument = in.Code
		if last != nil {
			f.Evidence = append(f.Evidence, last.Position)
		}
		out = append(out, f)
	}
	return out
}

func answered(s *records.Signoff, ask records.AskCode) bool {
	return slices.ContainsFunc(s.Answers, func(r records.Response) bool { return r.Ask == ask })
}

// lastPassing is the latest sign-off of a duty that passed, by an instant; nil when there is none.
func lastPassing(st *state.State, d state.Duty, by records.Instant) *state.Record {
	return lastPassed(st, st.Signoffs(d).Until(by))
}

func lastPassed(st *state.State, all []*state.Record) *state.Record {
	for i := len(all) - 1; i >= 0; i-- {
		if passes(st, all[i]) {
			return all[i]
		}
	}
	return nil
}
