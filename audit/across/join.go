package across

import (
	"cmp"
	"math"
	"slices"

	"grainward/audit"
	"grainward/records"
	"grainward/records/lots"
)

// slack is how much later than a receipt a handover may be said to have left: the clocks and dates of two plants differ (common practice, no
// source).
const slack = 24 * 3600 * 1000 // milliseconds

// wish is a receipt's name for one lot, and the handovers it could mean.
type wish struct {
	receipt int
	written string
	named   Named
	papers  bool // they share a paper number with it
	could   []int
	late    bool // names a handover, but each left too late
}

// pair is one handover that one wish could mean.
type pair struct {
	wish, handover int
	agree          bool
	gap            records.Instant
}

// join joins what one plant handed over to another.
func (c *Company) join(a, b int, partners Partners) {
	from, to := &c.Plants[a], &c.Plants[b]
	handovers, receipts := from.handovers(to.Code, partners), to.receipts(from.Code, partners)
	m := &matcher{from: from, to: to, handovers: handovers, receipts: receipts, byKey: map[string][]int{}, claimed: map[int]bool{}}
	m.index()
	for r := range receipts {
		m.wishes = append(m.wishes, m.wishesOf(r)...)
	}
	answer := m.choose()
	c.joined(m, answer)
	c.loose(m, answer, partners)
}

type matcher struct {
	from, to            *Plant
	handovers, receipts []*lots.Transfer
	names               [][]records.LotCode // beside handovers
	byKey               map[string][]int    // folded lot -> handovers
	wishes              []wish
	claimed             map[int]bool // handovers that some receipt names
}

func (m *matcher) index() {
	for h, t := range m.handovers {
		names := m.from.names(t)
		m.names = append(m.names, names)
		for _, code := range names {
			if key := fold(string(code)); !slices.Contains(m.byKey[key], h) {
				m.byKey[key] = append(m.byKey[key], h)
			}
		}
	}
}

// wishesOf are the lots a receipt names: one, or each of several.
func (m *matcher) wishesOf(r int) []wish {
	written := m.receipts[r].Receipt.TheirLot
	if w, ok := m.wish(r, written); ok {
		return []wish{w}
	}
	var out []wish
	for _, part := range several(written) {
		if w, ok := m.wish(r, part); ok {
			w.named = Among
			out = append(out, w)
		}
	}
	if len(out) > 0 {
		return out
	}
	w := wish{receipt: r, written: written, named: NotNamed, papers: true}
	if fold(written) == "" { // a name that is another's is not put right by a paper
		for h, t := range m.handovers {
			if shares(t.Handover.Papers, m.receipts[r].Receipt.Papers) {
				w.could = append(w.could, h)
			}
		}
	}
	return []wish{w}
}

// wish is what one name means: the handovers whose lot it names most nearly. ok is false when it names none.
func (m *matcher) wish(r int, written string) (w wish, ok bool) {
	w = wish{receipt: r, written: written, named: NotNamed}
	seen := map[int]bool{}
	for _, key := range keys(written) {
		for _, h := range m.byKey[key] {
			if seen[h] {
				continue
			}
			seen[h] = true
			for _, code := range m.names[h] {
				how, means := named(written, code)
				switch {
				case !means || how > w.named:
				case how < w.named:
					w.named, w.could = how, []int{h}
				case w.could[len(w.could)-1] != h:
					w.could = append(w.could, h)
				}
			}
		}
	}
	if len(w.could) == 0 {
		return w, false
	}
	slices.Sort(w.could)
	for _, h := range w.could {
		m.claimed[h] = true
	}
	m.narrow(&w)
	return w, true
}

// narrow leaves the handovers that papers name, if any; else those that left in time.
func (m *matcher) narrow(w *wish) {
	r := m.receipts[w.receipt]
	byPapers := slices.DeleteFunc(slices.Clone(w.could), func(h int) bool { return !shares(m.handovers[h].Handover.Papers, r.Receipt.Papers) })
	if w.papers = len(byPapers) > 0; w.papers {
		if len(w.could) > 1 || w.named == NotNamed {
			w.could = byPapers
		} else {
			w.papers = false // there was nothing to choose
		}
		return
	}
	w.could = slices.DeleteFunc(w.could, func(h int) bool { return m.handovers[h].Record.Happened > r.Record.Happened+slack })
	w.late = len(w.could) == 0
}

// choose gives each wish a handover, or -1.
func (m *matcher) choose() []int {
	var pairs []pair
	answer := make([]int, len(m.wishes))
	for i, w := range m.wishes {
		answer[i] = -1
		for _, h := range w.could {
			gap := m.receipts[w.receipt].Record.Happened - m.handovers[h].Record.Happened
			pairs = append(pairs, pair{i, h, m.agree(h, w.receipt), max(gap, -gap)})
		}
	}
	slices.SortFunc(pairs, func(x, y pair) int {
		wx, wy := &m.wishes[x.wish], &m.wishes[y.wish]
		return cmp.Or(first(wx.papers, wy.papers), cmp.Compare(wx.named, wy.named), first(x.agree, y.agree), cmp.Compare(x.gap, y.gap),
			cmp.Compare(m.receipts[wx.receipt].Record.Position, m.receipts[wy.receipt].Record.Position),
			cmp.Compare(m.handovers[x.handover].Record.Position, m.handovers[y.handover].Record.Position), cmp.Compare(x.wish, y.wish))
	})
	taken := make([]bool, len(m.handovers))
	for _, alone := range []bool{true, false} {
		for _, p := range pairs {
			if answer[p.wish] < 0 && !(alone && taken[p.handover]) {
				answer[p.wish], taken[p.handover] = p.handover, true
			}
		}
	}
	return answer
}

// first orders what is true before what is not.
func first(x, y bool) int {
	switch {
	case x == y:
		return 0
	case x:
		return -1
	}
	return 1
}

func (m *matcher) agree(h, r int) bool {
	out, uOut, ok := m.weighedOut(h)
	in, uIn, also := m.weighedIn(r)
	return ok && also && !audit.Differ(out, in, uOut, uIn)
}

func (m *matcher) weighedOut(h int) (records.Micrograms, float64, bool) {
	t := m.handovers[h]
	return audit.Weighed(m.from.State.PlanAt(t.Record.Happened), t.Handover.Weight)
}

func (m *matcher) weighedIn(r int) (records.Micrograms, float64, bool) {
	t := m.receipts[r]
	return audit.Weighed(m.to.State.PlanAt(t.Record.Happened), t.Receipt.Weight)
}

// rule is what told the chosen handover from the others.
func (m *matcher) rule(w *wish, h int) Rule {
	switch {
	case w.papers:
		return ByPapers
	case len(w.could) == 1:
		return OnlyOne
	case m.agree(h, w.receipt) && !slices.ContainsFunc(w.could, func(o int) bool { return o != h && m.agree(o, w.receipt) }):
		return ByMass
	}
	return ByTime
}

// joined writes the joins down, in order of the receipts, and compares masses.
func (c *Company) joined(m *matcher, answer []int) {
	type sum struct {
		in records.Micrograms
		u2 float64
		of map[int]bool
	}
	sums := map[int]*sum{}
	for i, h := range answer {
		if h < 0 {
			continue
		}
		if sums[h] == nil {
			sums[h] = &sum{of: map[int]bool{}}
		}
		if r := m.wishes[i].receipt; !sums[h].of[r] {
			in, u, _ := m.weighedIn(r)
			sums[h].in, sums[h].u2, sums[h].of[r] = sums[h].in+in, sums[h].u2+u*u, true
		}
	}
	lotsOf := map[int]int{} // how many wishes of a receipt are joined: its mass is of all of them
	for i, h := range answer {
		if h >= 0 {
			lotsOf[m.wishes[i].receipt]++
		}
	}
	for i, h := range answer {
		if h < 0 {
			continue
		}
		w, t := &m.wishes[i], m.handovers[h]
		r := m.receipts[w.receipt]
		out, uOut, _ := m.weighedOut(h)
		in, _, _ := m.weighedIn(w.receipt)
		j := Join{From: m.from.Code, To: m.to.Code, Handover: t, Receipt: r, Written: w.written, Named: w.named, Rule: m.rule(w, h), Choices: len(w.could),
			Out: out, In: in, InAll: sums[h].in, Receipts: len(sums[h].of), gave: m.from.given(t)}
		j.Gave = m.from.codes(j.gave)
		j.got = m.to.Floor.Index(r.Receipt.Lot)
		j.Got = r.Receipt.Lot
		// A receipt of several lots has one mass for all of them: nothing can be said of each.
		j.Differs = lotsOf[w.receipt] == 1 && audit.Differ(out, j.InAll, uOut, math.Sqrt(sums[h].u2))
		j.Estimated = slices.ContainsFunc(t.Portions, func(p lots.Portion) bool { return p.Estimated })
		c.Joins = append(c.Joins, j)
	}
}

// loose writes down what is joined to nothing, and why.
func (c *Company) loose(m *matcher, answer []int, partners Partners) {
	taken := map[int]bool{}
	for _, h := range answer {
		taken[h] = true
	}
	for h, t := range m.handovers {
		if taken[h] {
			continue
		}
		s := Sent{From: m.from.Code, To: m.to.Code, Handover: t, Lots: m.from.names(t), Why: NoCounterpart}
		switch {
		case m.to.Floor == nil:
			s.Why = NotLookedAt
		case m.claimed[h]:
			s.Why = Taken
		case !m.to.knows(m.from, partners):
			s.Why = NoPartner
		}
		c.Sent = append(c.Sent, s)
	}
	for i, h := range answer {
		if h >= 0 {
			continue
		}
		w := &m.wishes[i]
		r := m.receipts[w.receipt]
		g := Got{From: m.from.Code, To: m.to.Code, Receipt: r, Written: w.written, Lot: r.Receipt.Lot, Why: NoCounterpart}
		switch {
		case m.from.Floor == nil:
			g.Why = NotLookedAt
		case !m.from.knows(m.to, partners):
			g.Why = NoPartner
		case fold(w.written) == "":
			g.Why = NoName
		case w.late:
			g.Why = TooLate
		}
		c.Got = append(c.Got, g)
	}
}

// knows says whether the plan of a plant has a partner that is another plant.
func (p *Plant) knows(other *Plant, partners Partners) bool {
	if p.Floor == nil || p.State == nil {
		return true
	}
	plan := p.State.PlanAt(p.Floor.At)
	if plan == nil {
		return false
	}
	for i := range plan.Partners {
		if partners(p.Code, plan.Partners[i].Code) == other.Code {
			return true
		}
	}
	return false
}
