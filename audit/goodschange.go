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
	codes := sortedStations(a.f)
	ms := make([]*stationMemo, len(codes))
	was := func(code records.StationCode) *stationMemo {
		if c.stations[code] {
			return nil
		}
		return before[code]
	}
	share(len(codes), func() func(int) {
		return func(i int) { ms[i] = judgeStation(a.st, a.f, &a.sorts, codes[i], was(codes[i])) }
	})
	for i, code := range codes {
		m := ms[i]
		if now[code] = m; m == was(code) {
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
		for _, code := range codes {
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
		c.anew.add(lot)
	}
}

// own is how a lot broke at a station, or nil.
func (a *goodsAuditor) own(lot int) *Broken { return a.owned[lot] }

// judgeChanged judges again what has to be. Steps, changes of hands and lots are judged from the floor and the flows, and none from
// another's findings, so they are shared out over the cores.
func (a *goodsAuditor) judgeChanged(c *stale) {
	again(a, &a.steps, &c.steps, a.judgeStep)
	again(a, &a.transfers, &c.transfers, a.judgeTransfer)
	again(a, &a.lots, &c.lots, a.judgeLot)
	copied := false
	for _, i := range c.lots.list {
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

// again judges things of one sort again and keeps what was found of each.
func again(a *goodsAuditor, in *foundOf[int], stale *marks, judge func(j *goodsJudge, i int) []*Finding) {
	which := stale.sorted()
	found := make([][]*Finding, len(which))
	share(len(which), func() func(int) {
		j := &goodsJudge{st: a.st, f: a.f}
		return func(k int) { found[k] = judge(j, which[k]) }
	})
	for k, i := range which {
		in.set(i, found[k])
	}
}

func (a *goodsAuditor) judgeStep(j *goodsJudge, i int) []*Finding {
	step := a.f.Steps[i]
	p := a.st.PlanAt(step.Record.Happened)
	a.balances[i] = balanceStep(p, a.f, i)
	return append(j.of(func() {
		j.purgeSold(step)
		if p == nil {
			return
		}
		j.unlabelled(p, step)
		j.labels(step, a.shelf)
		j.stoppedInputs(step)
	}), a.balances[i].all(a.st, a.f)...)
}

func (a *goodsAuditor) judgeTransfer(j *goodsJudge, i int) []*Finding {
	t := a.f.Transfers[i]
	p := a.st.PlanAt(t.Record.Happened)
	if p == nil {
		return nil // nothing was promised yet, and partners have no names
	}
	return j.of(func() {
		j.custody(p, t)
		if t.Handover != nil {
			j.brokenShipped(p, t, func(lot int) *Broken { return a.flows[lot].broken })
			j.stoppedOut(t)
			j.bestByPassed(p, t, a.shelf)
		}
	})
}

func (a *goodsAuditor) judgeLot(j *goodsJudge, i int) []*Finding {
	l, w := a.f.Lots[i], &a.flows[i]
	a.wholes[i] = wholeBalance(a.st.PlanAt(l.Begins), a.f, i, w.behind)
	a.models[i] = modelOf(l, w.origin, w.broken)
	return append(j.of(func() {
		j.brokenMade(l, w.broken)
		j.originGap(l, &w.receipt)
		if a.traits[i]&byProduct != 0 {
			j.tooOld(l)
		}
		j.stoppedMoves(l)
		j.results(l)
		j.samples(i, w.shelf)
		j.netWeights(l)
	}), a.wholes[i].findings(a.st, a.f)...)
}

// judgeAssumed goes through what was assumed, entry by entry: one can show several things, or one twice.
func (a *goodsAuditor) judgeAssumed(c *stale) {
	same := state.Common(a.assumed, a.f.Assumed)
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
			return lot < 0 && x.Lot != "" || c.lots.has(lot)
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
	for _, i := range c.transfers.list {
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
