package trace

import (
	"cmp"
	"slices"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

// Direction is which way a trace goes.
type Direction int

const (
	Both Direction = iota
	Back
	Forward
)

// Trace is all that the records say about a subject at a moment. It is nothing but values: whoever shows it needs
// neither floor nor plan.
type Trace struct {
	Subject Subject
	Dir     Direction
	At      records.Instant
	Zone    string // IANA name of the plant's zone; "" when no plan was in force
	Units   string // in which the plan shows masses: lb or kg

	Lots       []Lot // the subject first, then upstream and downstream, each by distance and then by code
	Paths      []Path
	Movements  []Movement  // goods in and out, in order of time
	Consignees []Consignee // who received any of the subject or of what was made of it, in order of code
	Partners   []Partner   // everybody named, in order of code
	Touches    []Touch     // contacts with stations, by station and time
	Papers     []Paper
	Account    Account
	Cycles     [][]records.LotCode // groups of lots made from themselves, among those traced
	Estimated  bool                // some mass or share rests on a mixed station
}

// Lot is one lot of a trace. Masses are micrograms as is.
type Lot struct {
	Code   records.LotCode
	Item   records.ItemCode
	Title  plan.Text
	Stage  string // of the item: raw, in-process, finished, by-product; "" unknown
	Status records.Status
	Begins records.Instant

	Up, Down int // steps from the subject, against and along the way of the goods; 0 for the subject; -1 when it does not lie that way
	// Share is, downstream, how much of the lot is expected to be subject goods and, upstream, how much of it is expected to
	// have gone into the subject: 0 to 1. Estimated says that it rests on a mixed station.
	Share     float64
	Estimated bool

	Entered, Used, Standing, Adjusted records.Micrograms  // Entered + Adjusted = Used + Standing
	Dry                               *records.Micrograms // dry matter of Entered; nil when a moisture is missing
	Where                             []Whereabouts
	TheirLots                         []string // the supplier's own
	KilnDates                         []calendar.Date
	BestBy                            []calendar.Date // as printed
	Bags                              int             // filled
	Holds                             []Hold
	Held                              bool // stopped or rejected at the moment
	Samples                           int  // retained and not thrown out
	SampleNotes                       []SampleNote
}

// Subject says whether the trace starts from the lot.
func (l *Lot) Subject() bool { return l.Up == 0 || l.Down == 0 }

// Whereabouts is mass of a lot at a station of ours or with a partner.
type Whereabouts struct {
	Place lots.Place
	Title plan.Text // of the station
	Mass  records.Micrograms
}

// Hold is a stop of a lot; To is 0 while it stands.
type Hold struct {
	From, To records.Instant
	Why      string
	Rejected bool // stopped for good
	Entry    records.Position
}

// SampleNote is one entry about retained samples.
type SampleNote struct {
	When   records.Instant
	Number int // negative: thrown out
	Where  string
	Entry  records.Position
}

// Path is one step from a lot to a lot, with what of the first went in and what of the second came out.
type Path struct {
	From, To  records.LotCode
	What      string // the process, or purge
	Station   records.StationCode
	When      records.Instant
	In, Out   records.Micrograms
	Estimated bool // In is a share of a mixed station
	Entry     records.Position
}

// Make traces a subject over a floor and its graph. An unknown subject is NotFound, one that can not be read Invalid. A subject
// that exists but no lot had to do with gives a trace without lots.
func Make(st *state.State, f *lots.Floor, g *Graph, s Subject, dir Direction) (*Trace, error) {
	s, start, err := Resolve(st, f, s)
	if err != nil {
		return nil, err
	}
	from := Starts{Subject: start}
	if dir != Forward {
		from.Back = start
	}
	if dir != Back {
		from.Ahead = start
	}
	return MakeFrom(st, f, g, s, dir, from), nil
}

// Starts are the lots from which a trace goes, as indexes in the floor.
type Starts struct {
	Subject []int32 // lots that are what was traced; none where it is at another plant
	Back    []int32 // against the way of the goods
	Ahead   []int32 // along it
}

// MakeFrom is the part of a trace that lies at this plant when it goes through several: it starts from the lots by which it came in.
// Steps, shares and the account are those from these lots, which need not be the subject's.
func MakeFrom(st *state.State, f *lots.Floor, g *Graph, s Subject, dir Direction, from Starts) *Trace {
	m := &maker{st: st, f: f, g: g, from: from, p: st.PlanAt(f.At), at: map[int32]int{}}
	m.t = &Trace{Subject: s, Dir: dir, At: f.At}
	if m.p != nil {
		m.t.Zone, m.t.Units = m.p.Plant.Zone, m.p.Plant.Units
	}
	m.ahead, m.behind = &Walk{}, &Walk{}
	if len(from.Ahead) > 0 {
		m.ahead = g.Forward(from.Ahead)
	}
	if len(from.Back) > 0 {
		m.behind = g.Back(from.Back)
	}
	m.lots()
	m.paths()
	m.movements()
	m.partners()
	m.touches()
	m.papers()
	whole, all := m.ahead, slices.Concat(from.Subject, from.Back, from.Ahead)
	if len(from.Ahead) == 0 || slices.ContainsFunc(all, func(i int32) bool { return !m.ahead.lots.has(i) }) {
		whole = g.Forward(all)
	}
	m.t.Account = account(st, f, g, whole)
	m.cycles()
	return m.t
}

// maker is a trace being made.
type maker struct {
	st     *state.State
	f      *lots.Floor
	g      *Graph
	p      *plan.Plan
	from   Starts
	ahead  *Walk // each of both is empty when the trace does not go that way
	behind *Walk
	t      *Trace
	order  []int32       // indexes of t.Lots
	at     map[int32]int // index in the floor -> index in t.Lots
}

// lots fills in the lots of both walks.
func (m *maker) lots() {
	row := func(i int32) *Lot {
		k, ok := m.at[i]
		if !ok {
			k = len(m.t.Lots)
			m.at[i] = k
			m.t.Lots = append(m.t.Lots, Lot{Up: -1, Down: -1})
			m.order = append(m.order, i)
		}
		return &m.t.Lots[k]
	}
	if len(m.ahead.Lots) > 0 {
		sh := m.g.sharesForward(m.ahead, m.from.Ahead, m.arrivals())
		for k, i := range m.ahead.Lots {
			l := row(i)
			l.Down, l.Share, l.Estimated = int(m.ahead.Distance[k]), sh.of[k], sh.estimated[k]
		}
	}
	if len(m.behind.Lots) > 0 {
		sh := m.g.sharesBack(m.behind, m.from.Back, func(i int32) float64 { return float64(m.f.Lots[i].Entered) })
		for k, i := range m.behind.Lots {
			l := row(i)
			l.Up = int(m.behind.Distance[k])
			if l.Down < 0 { // of a lot both ways (on a cycle) the share downstream is shown
				l.Share, l.Estimated = sh.of[k], sh.estimated[k]
			}
		}
	}
	for k := range m.t.Lots {
		m.describe(&m.t.Lots[k], m.f.Lots[m.order[k]])
		m.t.Estimated = m.t.Estimated || m.t.Lots[k].Estimated
	}
	m.sort()
}

// sort puts the subject first, then upstream, then downstream, by distance and code.
func (m *maker) sort() {
	side := func(l *Lot) (int, int) {
		switch {
		case l.Subject():
			return 0, 0
		case l.Down < 0:
			return 1, l.Up
		}
		return 2, l.Down
	}
	by := make([]int, len(m.order))
	for k := range by {
		by[k] = k
	}
	slices.SortFunc(by, func(a, b int) int {
		la, lb := &m.t.Lots[a], &m.t.Lots[b]
		sa, da := side(la)
		sb, db := side(lb)
		return cmp.Or(sa-sb, da-db, cmp.Compare(la.Code, lb.Code))
	})
	sorted, order := make([]Lot, len(by)), make([]int32, len(by))
	for k, old := range by {
		sorted[k], order[k] = m.t.Lots[old], m.order[old]
		m.at[order[k]] = k
	}
	m.t.Lots, m.order = sorted, order
}

// arrivals are the receipts into lots that steps of the walk made as well, each before the first step not earlier than it.
func (m *maker) arrivals() (out []arrival) {
	for i := range m.f.Transfers {
		t := m.f.Transfers[i]
		if t.Receipt == nil {
			continue
		}
		for _, p := range t.Portions {
			if !m.ahead.lots.has(int32(p.Lot)) || len(m.f.Lots[p.Lot].Made) == 0 {
				continue
			}
			step, _ := slices.BinarySearchFunc(m.f.Steps, t.Record, func(s *lots.Step, r *state.Record) int { return order(s.Record, r) })
			out = append(out, arrival{int32(p.Lot), int32(step), float64(p.Mass)})
		}
	}
	return out
}

// order is that of happening; of one instant, that of the journal.
func order(a, b *state.Record) int {
	return cmp.Or(cmp.Compare(a.Happened, b.Happened), cmp.Compare(a.Position, b.Position))
}

// paths are the edges between lots of the trace, in order of time.
func (m *maker) paths() {
	seen := newSet(m.g.Steps)
	var steps []int32
	take := func(w *Walk) {
		for _, s := range w.Steps {
			if seen.add(s) {
				steps = append(steps, s)
			}
		}
	}
	take(m.ahead)
	take(m.behind)
	slices.Sort(steps)
	for _, s := range steps {
		step := m.f.Steps[s]
		from, to := m.g.Took.of(s)
		first, last := m.g.Gave.of(s)
		for i := from; i < to; i++ {
			in := m.g.Took.To[i]
			if _, traced := m.at[in]; !traced {
				continue
			}
			for o := first; o < last; o++ {
				out := m.g.Gave.To[o]
				if _, traced := m.at[out]; !traced {
					continue
				}
				p := Path{From: m.f.Lots[in].Code, To: m.f.Lots[out].Code, What: step.What, Station: stationOf(step), When: step.Record.Happened,
					In: m.g.Took.Mass[i], Out: m.g.Gave.Mass[o], Estimated: m.g.Took.Estimated[i], Entry: step.Record.Position}
				m.t.Estimated = m.t.Estimated || p.Estimated
				m.t.Paths = append(m.t.Paths, p)
			}
		}
	}
}

func stationOf(step *lots.Step) records.StationCode {
	switch fact := step.Record.Fact.(type) {
	case *records.Process:
		return fact.Station
	case *records.Purge:
		if len(fact.Stations) > 0 {
			return fact.Stations[0]
		}
	}
	return ""
}

// cycles names the groups of lots made from themselves that the trace meets.
func (m *maker) cycles() {
	for _, group := range m.g.Cycles() {
		if _, traced := m.at[int32(group[0])]; !traced {
			continue // a walk that meets one lot of a group meets all
		}
		var codes []records.LotCode
		for _, i := range group {
			codes = append(codes, m.f.Lots[i].Code)
		}
		m.t.Cycles = append(m.t.Cycles, codes)
	}
}
