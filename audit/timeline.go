package audit

import (
	"cmp"
	"maps"
	"slices"

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
	classes   map[classKey]*class
	grades    map[follows]grade
	*settled  // what comes of it
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

// classKey is what a lot's class depends on: thousands of lots are of a few sorts.
type classKey struct {
	p      *plan.Plan
	item   records.ItemCode
	status records.Status
}

// class is a lot's class, with how it is written.
type class struct {
	plan.Class
	text string
}

func (x *stationJudge) class(p *plan.Plan, lot int) *class {
	l := x.f.Lots[lot]
	k := classKey{p, l.Item, l.Status}
	c := x.classes[k]
	if c == nil {
		of := classOf(p, l)
		c = &class{of, of.String()}
		if x.classes == nil {
			x.classes = map[classKey]*class{}
		}
		x.classes[k] = c
	}
	return c
}

// follows is contents of one class after another, and grade what the plan asks for between them. There are a few classes and
// thousands of changes.
type follows struct {
	p        *plan.Plan
	from, to string
}

type grade struct {
	need   records.GradeCode
	needed bool
}

func (x *stationJudge) grade(p *plan.Plan, from, to string) (records.GradeCode, bool) {
	k := follows{p, from, to}
	g, known := x.grades[k]
	if !known {
		g.need, g.needed = p.GradeFor(from, to, x.station)
		if x.grades == nil {
			x.grades = map[follows]grade{}
		}
		x.grades[k] = g
	}
	return g.need, g.needed
}

// leaving is the newest end of a contact of one class.
type leaving struct {
	at  records.Instant
	lot int
	by  *state.Record
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
	newest := x.newest // by class, as the plan at that time has it
	for i, c := range x.contacts {
		for len(byEnd) > 0 && x.contacts[byEnd[0]].To < c.From {
			x.note(newest, x.contacts[byEnd[0]])
			byEnd = byEnd[1:]
		}
		p := x.st.PlanAt(c.From)
		if p == nil || c.Purge {
			continue
		}
		before, copied := newest, false
		for k := 0; k < len(byEnd) && x.contacts[byEnd[k]].To == c.From; k++ {
			if x.precedes(byEnd[k], i) {
				if !copied {
					before, copied = maps.Clone(newest), true
				}
				x.note(before, x.contacts[byEnd[k]])
			}
		}
		x.arrival(p, c, before)
	}
	for _, k := range byEnd {
		if c := x.contacts[k]; c.Ended != nil {
			x.note(newest, c)
		}
	}
}

func (x *stationJudge) note(newest map[string]leaving, c lots.Contact) {
	p := x.st.PlanAt(c.To)
	if p == nil {
		return
	}
	class := x.class(p, c.Lot).text
	if was, ok := newest[class]; ok && was.at == c.To && was.by.Position > c.Ended.Position {
		return // of two that ended at one instant the later in the journal is the newest
	}
	newest[class] = leaving{c.To, c.Lot, c.Ended}
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

func (x *stationJudge) arrival(p *plan.Plan, c lots.Contact, newest map[string]leaving) {
	to := x.class(p, c.Lot)
	for _, from := range sortedKeys(newest) {
		e := newest[from]
		need, needed := x.grade(p, from, to.text)
		if !needed || e.lot == c.Lot {
			continue
		}
		was, err := plan.ParseClass(from)
		a := Arrival{Station: x.station, Lot: c.Lot, Contact: c, After: e.lot, Since: e.at, Left: e.by, Need: need, Status: err != nil || was.Status != to.Status,
			Allergen: slices.ContainsFunc(was.Allergens, func(g string) bool { return !slices.Contains(to.Allergens, g) })}
		a.Evidence, a.Weak = x.between(p, need, e, c.From)
		x.apart.Arrivals = append(x.apart.Arrivals, a)
		if a.Evidence == nil && a.Status && records.Status(to.Status).IsOrganic() {
			x.breakLot(c.Lot, &Broken{When: c.From, By: c.Began, Station: x.station, Other: e.lot, Own: true})
		}
	}
}

func sortedKeys(m map[string]leaving) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
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
		contacts = loose(x.st, x.station, x.f.Contacts[x.station])
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
			a, b := x.class(p, other.Lot), x.class(p, c.Lot)
			_, ab := x.grade(p, a.text, b.text)
			_, ba := x.grade(p, b.text, a.text)
			if !ab && !ba || x.related(c.Began, other.Lot, c.Lot) {
				continue
			}
			x.apart.Together = append(x.apart.Together, Together{Station: x.station, A: other.Lot, B: c.Lot, From: c.From, To: min(c.To, other.To),
				Began: [2]*state.Record{other.Began, c.Began}, Status: a.Status != b.Status})
			for _, pair := range [][2]int{{other.Lot, c.Lot}, {c.Lot, other.Lot}} {
				mine, theirs := x.class(p, pair[0]), x.class(p, pair[1])
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
	step := stepOf(x.f, r)
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
