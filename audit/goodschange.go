package audit

import (
	"maps"
	"slices"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/state"
)

// judgeStations judges the stations where something changed, and notes the lots that broke there or did not after all.
func (a *goodsAuditor) judgeStations(c *stale) {
	before := a.stations
	if c.class {
		before = nil
	}
	touched := map[int]bool{}
	broke := func(m *stationMemo) {
		if m != nil {
			for lot := range m.now.broke {
				touched[lot] = true
			}
		}
	}
	now := make(map[records.StationCode]*stationMemo, len(a.f.Contacts))
	for _, code := range sortedStations(a.f) {
		was := before[code]
		if c.stations[code] {
			was = nil
		}
		m := judgeStation(a.st, a.f, code, was)
		if now[code] = m; m == was {
			continue
		}
		broke(a.stations[code])
		broke(m)
		a.stationed.set(code, m.now.found)
		a.yards.set(code, a.j.of(func() { a.j.apart(code, a.traits) }))
	}
	for code, m := range a.stations {
		if now[code] == nil {
			broke(m)
			a.stationed.set(code, nil)
			a.yards.set(code, nil)
		}
	}
	a.stations = now
	for lot := range touched {
		if lot >= len(a.f.Lots) {
			continue
		}
		var b *Broken
		for _, code := range sortedStations(a.f) {
			if x := now[code].now.broke[lot]; x != nil {
				b = breakBy(b, x)
			}
		}
		if was := a.owned[lot]; b == nil && was == nil || b != nil && was != nil && *b == *was {
			continue
		}
		if a.owned == nil {
			a.owned = map[int]*Broken{}
		}
		if a.owned[lot] = b; b == nil {
			delete(a.owned, lot)
		}
		c.anew[lot] = true
	}
}

// own is how a lot broke at a station, or nil.
func (a *goodsAuditor) own(lot int) *Broken { return a.owned[lot] }

// judgeChanged judges again what has to be.
func (a *goodsAuditor) judgeChanged(c *stale) {
	for i := range c.steps {
		a.judgeStep(i)
	}
	for i := range c.transfers {
		a.judgeTransfer(i)
	}
	copied := false
	for i := range c.lots {
		a.judgeLot(i)
		if b := a.flows[i].broken; a.broken[i] != b {
			if !copied {
				if a.broken, copied = maps.Clone(a.broken), true; a.broken == nil {
					a.broken = map[int]*Broken{}
				}
			}
			if a.broken[i] = b; b == nil {
				delete(a.broken, i)
			}
		}
	}
	a.judgeAssumed(c)
	var rejected []int
	for i, t := range a.traits {
		if t&turnedDown != 0 {
			rejected = append(rejected, i)
		}
	}
	a.whole.set("rejected", a.j.of(func() { a.j.rejectedParents(rejected) }))
	a.whole.set("organic", a.organicExcess(c))
}

func (a *goodsAuditor) judgeStep(i int) {
	step := a.f.Steps[i]
	p := a.st.PlanAt(step.Record.Happened)
	a.balances[i] = balanceStep(p, a.f, i)
	a.steps.set(i, append(a.j.of(func() {
		a.j.purgeSold(step)
		if p == nil {
			return
		}
		a.j.unlabelled(p, step)
		a.j.labels(step, a.shelf)
		a.j.stoppedInputs(step)
	}), a.balances[i].all(a.st, a.f)...))
}

func (a *goodsAuditor) judgeTransfer(i int) {
	t := a.f.Transfers[i]
	p := a.st.PlanAt(t.Record.Happened)
	if p == nil {
		a.transfers.set(i, nil)
		return // nothing was promised yet, and partners have no names
	}
	a.transfers.set(i, a.j.of(func() {
		a.j.custody(p, t)
		if t.Handover != nil {
			a.j.brokenShipped(p, t, func(lot int) *Broken { return a.flows[lot].broken })
			a.j.stoppedOut(t)
			a.j.bestByPassed(p, t, a.shelf)
		}
	}))
}

func (a *goodsAuditor) judgeLot(i int) {
	l, w := a.f.Lots[i], &a.flows[i]
	a.wholes[i] = wholeBalance(a.st.PlanAt(l.Begins), a.f, i, w.behind)
	a.models[i] = modelOf(l, w.origin, w.broken)
	a.lots.set(i, append(a.j.of(func() {
		a.j.brokenMade(l, w.broken)
		a.j.originGap(l, w.receipt)
		if a.traits[i]&byProduct != 0 {
			a.j.tooOld(l)
		}
		a.j.stoppedMoves(l)
		a.j.results(l)
		a.j.samples(i, w.shelf)
		a.j.netWeights(l)
	}), a.wholes[i].findings(a.st, a.f)...))
}

// judgeAssumed goes through what was assumed, entry by entry: one can show several things, or one twice.
func (a *goodsAuditor) judgeAssumed(c *stale) {
	same := common(a.assumed, a.f.Assumed)
	group := func(list []lots.Assumption) int {
		n := 1
		for n < len(list) && list[n].Record == list[0].Record {
			n++
		}
		return n
	}
	there := map[*state.Record]bool{}
	for i := 0; i < len(a.f.Assumed); {
		n := group(a.f.Assumed[i:])
		list := a.f.Assumed[i : i+n]
		r := list[0].Record
		there[r] = true
		more := same < len(a.assumed) && a.assumed[same].Record == r // of this entry something else was assumed before
		if i+n > same || more || slices.ContainsFunc(list, func(x lots.Assumption) bool {
			lot := a.f.Index(x.Lot)
			return lot < 0 && x.Lot != "" || c.lots[lot]
		}) {
			a.assumptions.set(r, a.j.of(func() {
				for k := range list {
					a.j.assumption(&list[k])
				}
			}))
		}
		i += n
	}
	for _, x := range a.assumed[same:] {
		if !there[x.Record] {
			a.assumptions.set(x.Record, nil)
		}
	}
	a.assumed = a.f.Assumed
}

// seenAgents is what the agents of a duty were judged by.
type seenAgents struct {
	signoffs []*state.Record
	station  *stationMemo
}

func (a *goodsAuditor) judgeAgents(c *stale, guarded []state.Duty) {
	for _, d := range guarded {
		signoffs := a.st.Signoffs(d).Until(a.f.At)
		was, m := a.seen[d], a.stations[d.Station]
		if same := state.Common(was.signoffs, signoffs); !c.class && was.station == m && same == len(signoffs) && same == len(was.signoffs) {
			continue
		}
		a.seen[d] = seenAgents{signoffs, m}
		a.agents.set(d, agentsOf(a.st, a.f, d, signoffs))
	}
}

// organicMemo is the sums of organic dry matter after every so many changes of hands.
type organicMemo struct {
	sums []OrganicBalance
}

var organicStretch = 256 // a variable for tests only

func (a *goodsAuditor) organicExcess(c *stale) []*Finding {
	first := len(a.f.Transfers)
	for i := range c.transfers {
		first = min(first, i)
	}
	m := &a.organic
	if len(m.sums) == 0 {
		m.sums = []OrganicBalance{{In: Dry{Known: true}, Out: Dry{Known: true}, Standing: Dry{Known: true}}}
	}
	m.sums = m.sums[:min(len(m.sums), first/organicStretch+1, len(a.f.Transfers)/organicStretch+1)]
	for (len(m.sums))*organicStretch <= len(a.f.Transfers) {
		from := (len(m.sums) - 1) * organicStretch
		b := m.sums[len(m.sums)-1]
		b.handed(a.st, a.f, a.f.Transfers[from:from+organicStretch])
		m.sums = append(m.sums, b)
	}
	b := m.sums[len(m.sums)-1]
	b.handed(a.st, a.f, a.f.Transfers[(len(m.sums)-1)*organicStretch:])
	for i, t := range a.traits {
		if t&present != 0 {
			b.stands(a.f.Lots[i])
		}
	}
	return b.excess(a.st, a.f)
}
