package audit

import (
	"slices"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

func agentRules() []Rule {
	return []Rule{
		{Code: "agent-not-allowed", Severity: Major, Clauses: []records.Clause{"7 CFR 205.272(a)", "7 CFR 205.605"}, Says: plan.Text{
			"en": "{agent} was used at {station} at {done}, and organic lot {lot} was there from {from}; the plan does not allow it where organic goods are, and no record shows that it was removed.",
			"es": "{agent} se usó en {station} a las {done}, y el lote ecológico {lot} estuvo allí desde {from}; el plan no lo admite donde hay producto ecológico, y ningún registro muestra que se eliminara."}},
	}
}

// agentsOf are, of a duty's sign-offs, cleaning agents that the plan does not allow where organic goods are, met by organic goods before
// anything shows that they were removed (check value C27: listed or rinsed; from memory and second-hand). An agent allowed
// under conditions counts as removed when the sign-off that used it passed, since the check its condition asks for is one of
// its answers. Otherwise a later clean-out that passed removes it, if it is no weaker than the one that used the agent (sweeping
// rinses nothing off) and used no such agent itself.
func agentsOf(st *state.State, f *lots.Floor, d state.Duty, signoffs []*state.Record) (out []*Finding) {
	for _, s := range checkAll(st, d, signoffs) {
		if s.plan == nil {
			continue
		}
		for i, use := range s.fact.Agents {
			if !lingers(&s, use.Agent) || slices.ContainsFunc(s.fact.Agents[:i], func(u records.AgentUse) bool { return u.Agent == use.Agent }) {
				continue
			}
			if k := firstOrganic(st, f, d.Station, s.rec); k != nil && !removed(st, f, &s, k) {
				out = append(out, agentFinding(f, &s, s.plan.Agent(use.Agent), k))
			}
		}
	}
	return out
}

// guarded are, of duties, those for which some plan lists an agent that is not simply allowed.
func guarded(st *state.State, duties []state.Duty) (out []state.Duty) {
	for _, d := range duties {
		if slices.ContainsFunc(st.Plans(), func(in state.InForce) bool {
			t := in.Plan.Task(d.Task)
			return t != nil && slices.ContainsFunc(t.Agents, func(c records.AgentCode) bool {
				a := in.Plan.Agent(c)
				return a != nil && a.Organic != "yes"
			})
		}) {
			out = append(out, d)
		}
	}
	return out
}

// lingers says whether an agent a sign-off used has to be taken as still there afterwards.
func lingers(s *signed, code records.AgentCode) bool {
	a := s.plan.Agent(code)
	return a != nil && (a.Organic == "no" || a.Organic == "conditions" && !s.checked.Passes)
}

// firstOrganic is the first contact of organic goods with a station that lasts until, or begins after, a record.
func firstOrganic(st *state.State, f *lots.Floor, station records.StationCode, r *state.Record) *lots.Contact {
	packaged := packaging(st, station)
	for k := range f.Contacts[station].All() {
		if !packaged(k) && !k.Purge && f.Lots[k.Lot].Status.IsOrganic() && (k.From >= r.Happened || k.To > r.Happened) {
			return k
		}
	}
	return nil
}

func removed(st *state.State, f *lots.Floor, s *signed, k *lots.Contact) bool {
	least := 0
	if s.task != nil {
		least, _ = s.plan.GradeRank(s.task.Grade) // 0, any grade, for work that gives none
	}
	return slices.ContainsFunc(f.CleanOuts[s.fact.Station], func(c lots.CleanOut) bool {
		if c.From < s.rec.Happened || c.To > k.From || c.Record == s.rec || c.Grade < least {
			return false
		}
		p := st.PlanAt(c.To)
		return !slices.ContainsFunc(c.Record.Fact.(*records.Signoff).Agents, func(u records.AgentUse) bool {
			a := p.Agent(u.Agent)
			return a != nil && a.Organic == "no"
		})
	})
}

func agentFinding(f *lots.Floor, s *signed, a *plan.Agent, k *lots.Contact) *Finding {
	l := f.Lots[k.Lot]
	from := max(k.From, s.rec.Happened)
	return find("agent-not-allowed", s.rec.ID.String()+"/"+string(a.Code), from, Subject{Station: s.fact.Station, Agent: a.Code, Lot: l.Code, Item: l.Item}, nil,
		[]Value{title("agent", a.Title), title("station", stationTitle(s.plan, s.fact.Station)), moment("done", s.plan, s.rec.Happened), word("lot", string(l.Code)),
			moment("from", s.plan, from)}, eventPositions(s.rec, k.Began)...)
}
