package audit

import (
	"cmp"
	"slices"

	"grainward/records"
	"grainward/records/state"
)

// Cleaning is a clean-out of a station or a purge through it, whether or not it came to what the plan asks for.
type Cleaning struct {
	From, To records.Instant
	Grade    records.GradeCode // that the task gives; empty for a purge
	Purge    bool
	Passed   bool // of a purge: its mass is not below the plan's for the station
	Record   *state.Record
}

// Cleanings are those of a station that lie, in part at least, between two moments, both included, in order of their end. Where the plan
// names no mass for a purge, none comes to it.
func (g *Goods) Cleanings(st *state.State, station records.StationCode, from, to records.Instant) (out []Cleaning) {
	for _, code := range graded(st) {
		d := state.Duty{Task: code, Station: station}
		for _, s := range checkAll(st, d, st.Signoffs(d).Between(from, min(to, g.At))) {
			if s.task == nil || s.task.Grade == "" {
				continue
			}
			c := Cleaning{From: s.rec.Happened, To: s.rec.Happened, Grade: s.task.Grade, Passed: s.checked.Passes, Record: s.rec}
			if s.fact.Started != 0 && s.fact.Started < c.From {
				c.From = s.fact.Started
			}
			out = append(out, c)
		}
	}
	seen := map[*state.Record]bool{}
	for c := range g.Contacts[station].All() {
		if !c.Purge || seen[c.Began] || c.From > to || c.To < from {
			continue
		}
		seen[c.Began] = true
		x := Cleaning{From: c.From, To: c.From, Purge: true, Record: c.Began}
		if p := st.PlanAt(c.From); p != nil {
			if row := p.Station(station); row != nil && row.Purge != nil {
				least, err := row.Purge.Micrograms()
				ran, wrong := c.Began.Fact.(*records.Purge).Weight.Mass.Micrograms()
				x.Passed = err == nil && wrong == nil && ran >= least
			}
		}
		out = append(out, x)
	}
	slices.SortStableFunc(out, func(a, b Cleaning) int { return cmp.Compare(a.To, b.To) })
	return out
}

// graded are the tasks that give a clean-out grade in some plan, in order.
func graded(st *state.State) (out []records.TaskCode) {
	for _, in := range st.Plans() {
		for i := range in.Plan.Tasks {
			if t := &in.Plan.Tasks[i]; t.Grade != "" {
				out = append(out, t.Code)
			}
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}
