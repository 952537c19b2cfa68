package audit

import (
	"cmp"
	"slices"
	"strings"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

// stationJudge goes along a stretch of one station's timeline.
type stationJudge struct {
	st        *state.State
	f         *lots.Floor
	station   records.StationCode
	from      *settled          // what came before the stretch
	contacts  []lots.Contact    // of the stretch, in which goods lay open
	ended     []records.Instant // by when each of them and all before it had ended
	cleanOuts []lots.CleanOut
	classes   classes
	asked     *state.Record // the last record of which the step was wanted
	took      *lots.Step    // that step, or nil
	*settled                // what comes of it
}

// look finds what cleaned the station, once for all arrivals.
func (x *stationJudge) look() {
	reach := beginning
	for _, c := range x.contacts {
		reach = max(reach, c.To)
		x.ended = append(x.ended, reach)
	}
	for _, c := range x.cleanOuts[len(x.inside):] {
		x.inside = append(x.inside, x.during(c))
	}
	for _, c := range x.contacts {
		if c.Purge {
			x.purges = append(x.purges, c)
		}
	}
}

func (x *stationJudge) breakLot(lot int, b *Broken) {
	x.broke[lot] = breakBy(x.broke[lot], b)
}

// leaving is the newest end of a contact of one class, as the plan at that time has it.
type leaving struct {
	class string
	at    records.Instant
	lot   int
	by    *state.Record
}

// arrivals looks at each contact against the newest end of each unlike class before it. Contacts are taken in order
// of when they begin; those that end by then are first put down under their class (at equal instants what ends comes
// before what starts).
func (x *stationJudge) arrivals() {
	byEnd := make([]int, len(x.contacts))
	for i := range byEnd {
		byEnd[i] = i
	}
	slices.SortStableFunc(byEnd, func(a, b int) int { return cmp.Compare(x.contacts[a].To, x.contacts[b].To) })
	for i, c := range x.contacts {
		for len(byEnd) > 0 && x.contacts[byEnd[0]].To < c.From {
			x.newest = x.note(x.newest, x.contacts[byEnd[0]])
			byEnd = byEnd[1:]
		}
		p := x.st.PlanAt(c.From)
		if p == nil || c.Purge {
			continue
		}
		before, copied := x.newest, false
		for k := 0; k < len(byEnd) && x.contacts[byEnd[k]].To == c.From; k++ {
			if x.precedes(byEnd[k], i) {
				if !copied {
					before, copied = slices.Clone(x.newest), true
				}
				before = x.note(before, x.contacts[byEnd[k]])
			}
		}
		x.arrival(p, c, before)
	}
	for _, k := range byEnd {
		if c := x.contacts[k]; c.Ended != nil {
			x.newest = x.note(x.newest, c)
		}
	}
}

// note puts the end of a contact down in a list by class, which it may change.
func (x *stationJudge) note(newest []leaving, c lots.Contact) []leaving {
	p := x.st.PlanAt(c.To)
	if p == nil {
		return newest
	}
	l := leaving{x.classes.of(p, c.Lot).text, c.To, c.Lot, c.Ended}
	i, there := slices.BinarySearchFunc(newest, l.class, func(l leaving, class string) int { return strings.Compare(l.class, class) })
	switch {
	case !there:
		return slices.Insert(newest, i, l)
	case newest[i].at == l.at && newest[i].by.Position > l.by.Position: // of two that ended at one instant the later in the journal is the newest
	default:
		newest[i] = l
	}
	return newest
}

// precedes says whether a contact that ended at the instant at which another begins came before it. One that also began
// then did if its record was the earlier; what the same record brought came with it. What a lot is made from, there and
// then, is in it, and nothing that it follows.
func (x *stationJudge) precedes(before, after int) bool {
	e, c := x.contacts[before], x.contacts[after]
	if e.From == e.To && (before >= after || e.Began == c.Began) {
		return false
	}
	return e.Ended != c.Began || !x.related(c.Began, e.Lot, c.Lot)
}

func (x *stationJudge) arrival(p *plan.Plan, c lots.Contact, newest []leaving) {
	to := x.classes.of(p, c.Lot)
	for _, e := range newest {
		ask := x.classes.after(to, e.class)
		if !ask.needed || e.lot == c.Lot {
			continue
		}
		a := Arrival{Station: x.station, Lot: c.Lot, Contact: c, After: e.lot, Since: e.at, Left: e.by, Need: ask.need, Status: ask.status, Allergen: ask.allergen}
		a.Evidence, a.Weak = x.between(p, ask.need, e, c.From)
		x.apart.Arrivals = append(x.apart.Arrivals, a)
		if a.Evidence == nil && a.Status && records.Status(to.Status).IsOrganic() {
			x.breakLot(c.Lot, &Broken{When: c.From, By: c.Began, Station: x.station, Other: e.lot, Own: true})
		}
	}
}

// between looks for evidence after one instant and by another: a clean-out of the grade that began no earlier than the
// one and ended no later than the other, with nothing there meanwhile; or a purge of the plan's mass. weak is evidence
// that falls short.
func (x *stationJudge) between(p *plan.Plan, need records.GradeCode, left leaving, by records.Instant) (evidence, weak *state.Record) {
	after := left.at
	rank, known := p.GradeRank(need)
	cleanOuts := x.cleanOuts
	first, _ := slices.BinarySearchFunc(cleanOuts, after, func(c lots.CleanOut, at records.Instant) int { return cmp.Compare(c.To, at) })
	for i := first; i < len(cleanOuts) && cleanOuts[i].To <= by; i++ {
		c := cleanOuts[i]
		if c.From < after || len(x.inside[i]) > 0 {
			continue
		}
		if known && c.Grade >= rank {
			return c.Record, nil
		}
		weak = c.Record
	}
	row := p.Station(x.station)
	var last *state.Record
	var ran records.Micrograms
	first, _ = slices.BinarySearchFunc(x.purges, after, func(c lots.Contact, at records.Instant) int { return cmp.Compare(c.From, at) })
	for _, c := range x.purges[first:] {
		if c.From > by {
			break
		}
		if c.To > by || c.Began == last || c.From == after && c.Began.Position <= left.by.Position {
			continue
		}
		last = c.Began
		purge := c.Began.Fact.(*records.Purge)
		m, err := purge.Weight.Mass.Micrograms()
		if err == nil {
			ran = max(ran, m)
		}
		if row != nil && row.Purge != nil {
			if least, err := row.Purge.Micrograms(); err == nil && ran >= least {
				return c.Began, nil
			}
		}
		weak = c.Began
	}
	return nil, weak
}

// during is which lots were at the station at some moment of a clean-out. A contact that ends as it begins, or begins as
// it ends, leaves it empty.
func (x *stationJudge) during(c lots.CleanOut) (out []int) {
	over, _ := slices.BinarySearch(x.ended, c.From+1) // the first that can reach it
	contacts := x.contacts[over:]
	if c.From < x.from.reach { // it began before the stretch
		all := x.f.Contacts[x.station]
		contacts = loose(x.st, x.station, all.Cut(0, all.Begun(c.To+1)))
	}
	for _, k := range contacts {
		if k.From > c.To {
			break
		}
		if k.Ended != nil && k.Ended == c.Record {
			continue // the clean-out itself proved a mixed station empty
		}
		inside := k.From < c.To && k.To > c.From
		if k.From == k.To {
			inside = k.From > c.From && k.From < c.To
		}
		if inside && !slices.Contains(out, k.Lot) {
			out = append(out, k.Lot)
		}
	}
	return out
}

func (x *stationJudge) occupied() {
	for i := x.from.cleaned; i < len(x.cleanOuts); i++ {
		c := x.cleanOuts[i]
		for _, lot := range x.inside[i] {
			x.apart.Occupied = append(x.apart.Occupied, Occupied{c, lot})
		}
	}
}

// together finds contacts of unlike lots that overlap. A pass at one instant overlaps a stay that began before and ends
// after it; a pass overlaps what begins at its instant when one record brought both.
func (x *stationJudge) together() {
	var present []lots.Contact
	for _, c := range x.contacts {
		present = slices.DeleteFunc(present, func(p lots.Contact) bool {
			return p.To < c.From || p.To == c.From && p.From != p.To
		})
		for _, other := range present {
			if other.Lot == c.Lot || c.Purge || other.Purge || other.From == other.To && other.Began != c.Began {
				continue
			}
			p := x.st.PlanAt(c.From)
			if p == nil {
				continue
			}
			a, b := x.classes.of(p, other.Lot), x.classes.of(p, c.Lot)
			if !x.classes.after(b, a.text).needed && !x.classes.after(a, b.text).needed || x.related(c.Began, other.Lot, c.Lot) {
				continue
			}
			x.apart.Together = append(x.apart.Together, Together{Station: x.station, A: other.Lot, B: c.Lot, From: c.From, To: min(c.To, other.To),
				Began: [2]*state.Record{other.Began, c.Began}, Status: a.Status != b.Status})
			for _, pair := range [][2]int{{other.Lot, c.Lot}, {c.Lot, other.Lot}} {
				mine, theirs := x.classes.of(p, pair[0]), x.classes.of(p, pair[1])
				if mine.Status != theirs.Status && records.Status(mine.Status).IsOrganic() {
					x.breakLot(pair[0], &Broken{When: c.From, By: c.Began, Station: x.station, Other: pair[1], Own: true})
				}
			}
		}
		present = append(present, c)
	}
}

// related says whether a record made one lot from the other, both from the same, or something new from both: malt and its
// rootlets come from one lot on purpose, a downgraded lot is the lot it was, and what a blend is declared as is judged by
// what it was made from (7 CFR 205.2 leaves products of several ingredients out of commingling; from memory). Brought
// together again later they are as unlike as any.
func (x *stationJudge) related(r *state.Record, a, b int) bool {
	if x.asked != r {
		x.asked, x.took = r, stepOf(x.f, r)
	}
	step := x.took
	if step == nil {
		return false
	}
	in := func(lot int) bool {
		return slices.ContainsFunc(step.In, func(p lots.Portion) bool { return p.Lot == lot })
	}
	out := func(lot int) bool {
		return slices.ContainsFunc(step.Out, func(m lots.Made) bool { return m.Lot == lot })
	}
	return (in(a) || out(a)) && (in(b) || out(b))
}
