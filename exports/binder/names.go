package binder

import (
	"strings"

	"grainward/records"
	"grainward/records/plan"
	"grainward/records/state"
)

// names says the plan's codes as people know them, and remembers what it said: half a million rows name a few hundred things.
type names struct {
	b       *builder
	people  map[personKey]string
	station map[stationKey]string
	tasks   map[*plan.Task]*taskName
	asks    map[*plan.Ask]*askName
	clauses *clauseIndex
}

type personKey struct {
	plan *plan.Plan
	code records.PersonCode
}

type stationKey struct {
	plan *plan.Plan
	code records.StationCode
}

type taskName struct {
	title   string
	clauses string // as the column has it
	touched []int  // lines of the index by clause
}

type askName struct {
	title  string
	limits string
}

func newNames(b *builder) names {
	return names{b: b, people: map[personKey]string{}, station: map[stationKey]string{}, tasks: map[*plan.Task]*taskName{}, asks: map[*plan.Ask]*askName{}}
}

// Person is a name with the initials that stand on paper, "Nora Feldt (NF)".
func (n *names) person(p *plan.Plan, code records.PersonCode) string {
	if code == "" {
		return ""
	}
	key := personKey{p, code}
	s, ok := n.people[key]
	if !ok {
		s = string(code)
		if who := p.Person(code); who != nil {
			s = who.Name + " (" + who.Initials + ")"
		}
		n.people[key] = s
	}
	return s
}

// signer is who did what an entry says, and who typed it in when it came from paper.
func (n *names) signer(p *plan.Plan, r *state.Record) string {
	if r.Paper == nil {
		return n.person(p, r.By)
	}
	return n.person(p, r.Performer()) + "; " + n.typed(p, r)
}

// typed says who typed an entry in from paper; nothing when nobody did.
func (n *names) typed(p *plan.Plan, r *state.Record) string {
	if r.Paper == nil {
		return ""
	}
	return n.b.say("from paper, typed in by") + " " + n.person(p, r.By)
}

func (n *names) at(p *plan.Plan, code records.StationCode) string {
	if code == "" {
		return ""
	}
	key := stationKey{p, code}
	s, ok := n.station[key]
	if !ok {
		s = string(code)
		if st := p.Station(code); st != nil {
			s = st.Title.In(n.b.lang)
		}
		n.station[key] = s
	}
	return s
}

// task is a task's title and clauses. A nil task is one the plan does not have.
func (n *names) task(t *plan.Task) *taskName {
	name, ok := n.tasks[t]
	if !ok {
		name = &taskName{title: t.Title.In(n.b.lang)}
		name.clauses, name.touched = n.clauses.of(t.Clauses)
		n.tasks[t] = name
	}
	return name
}

// taskTitle is a task's title by code, or the code.
func (n *names) taskTitle(p *plan.Plan, code records.TaskCode) string {
	if t := p.Task(code); t != nil {
		return n.task(t).title
	}
	return string(code)
}

func (n *names) ask(a *plan.Ask) *askName {
	name, ok := n.asks[a]
	if !ok {
		name = &askName{title: a.Title.In(n.b.lang)}
		lo, hi := a.Limits.Min, a.Limits.Max
		switch {
		case lo != nil && hi != nil && lo.Cmp(*hi) == 0:
			name.limits = n.b.say("limit") + " " + lo.String()
		case lo != nil && hi != nil:
			name.limits = n.b.say("limits") + " " + lo.String() + " – " + hi.String()
		case lo != nil:
			name.limits = n.b.say("at least") + " " + lo.String()
		case hi != nil:
			name.limits = n.b.say("at most") + " " + hi.String()
		}
		n.asks[a] = name
	}
	return name
}

func (n *names) list(p *plan.Plan, codes []records.PersonCode) string {
	var out []string
	for _, c := range codes {
		out = append(out, n.person(p, c))
	}
	return strings.Join(out, ", ")
}
