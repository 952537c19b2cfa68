package audit

import (
	"cmp"
	"maps"
	"slices"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/state"
)

// goodsAuditor judges the goods of one journal again and again. A finding about goods is of one thing: a lot, a step, a change of
// hands, a station, something that was assumed. It depends on that thing and on what is upstream of it. So when floors share what has not
// changed between them, what has is seen by its pointers: that, and what is downstream of it, is judged again.
type goodsAuditor struct {
	st     *state.State
	f      *lots.Floor
	j      *goodsJudge
	plans  uint64
	papers []*state.Record
	named  map[records.DocumentCode]bool // certificates that receipts name, or did
	until  records.Instant               // the day of the last judgement ends

	flows    []flow
	traits   []trait
	sorts    lotSorts
	stations map[records.StationCode]*stationMemo
	owned    map[int]*Broken // lots broken at a station, not by what they were made of
	organic  organicMemo
	seen     map[state.Duty]seenAgents

	// What is handed out: copied before it is changed.
	balances []*stepBalances
	wholes   []*WholeBalance
	models   []Model
	broken   map[int]*Broken

	assumed     []lots.Assumption
	lots        foundOf[int]
	steps       foundOf[int]
	composed    foundOf[int] // of steps too: what their flows show
	transfers   foundOf[int]
	assumptions foundOf[*state.Record]
	stationed   foundOf[records.StationCode]
	yards       foundOf[records.StationCode] // waste beside by-product
	agents      foundOf[state.Duty]
	whole       foundOf[string] // of the plant as a whole
}

// goods judges a floor, and gives the findings that went and came since the last time.
func (a *goodsAuditor) goods(st *state.State, guarded []state.Duty, f *lots.Floor) (g *Goods, gone, come []placed) {
	old := a.f
	plans := st.Kind(records.KindPlan).Version()
	if old == nil || plans != a.plans {
		a.forget()
		old = &lots.Floor{}
	}
	a.st, a.f, a.plans = st, f, plans
	a.j = &goodsJudge{st: st, f: f}
	papers := st.Kind(records.KindDocument).Until(f.At)
	filed := otherPapers(a.papers, papers)
	a.papers = papers
	newDay := f.At >= a.until || f.At < old.At
	a.until = nextDay(st, f.At)

	c := a.changed(old)
	a.judgeStations(c)
	for _, s := range downstream(f, c.anew.list) {
		for _, o := range f.Steps[s].Out {
			c.anew.add(o.Lot)
		}
		c.steps.add(s)
	}
	for _, s := range a.flood(&c.anew) {
		c.steps.add(s)
	}
	for _, i := range c.anew.list {
		c.lots.add(i)
		for _, t := range f.Lots[i].Handed {
			c.transfers.add(t)
		}
	}
	if len(filed) > 0 || newDay {
		for i, t := range f.Transfers {
			if t.Receipt != nil && filed[t.Receipt.Certificate] || newDay && t.Handover != nil && t.Handover.Received == nil {
				c.transfers.add(i)
			}
		}
	}
	if newDay {
		for i, l := range f.Lots {
			if a.traits[i]&byProduct != 0 && l.Here > 0 {
				c.lots.add(i)
			}
		}
	}
	a.judgeChanged(c)
	a.judgeAgents(c, guarded)
	g = &Goods{Floor: f, Segregation: &Segregation{Stations: map[records.StationCode]*Apart{}, Broken: a.broken, Models: a.models}, Balance: &Balance{a.balances, a.wholes}}
	for code, m := range a.stations {
		g.Segregation.Stations[code] = &m.now.apart
	}
	gone, come = a.take()
	return g, gone, come
}

// reliesOn says whether a receipt names a document that is not the same one in a list as when goods were judged last. When none does,
// it need not be told of the list.
func (a *goodsAuditor) reliesOn(papers []*state.Record) bool {
	for code := range otherPapers(a.papers, papers) {
		if a.named[code] {
			return true
		}
	}
	return false
}

// otherPapers are the codes of the documents that are not the same ones in two lists.
func otherPapers(was, now []*state.Record) map[records.DocumentCode]bool {
	same := state.Common(was, now)
	other := map[records.DocumentCode]bool{}
	for _, list := range [][]*state.Record{was[same:], now[same:]} {
		for _, r := range list {
			other[r.Fact.(*records.Document).Code] = true
		}
	}
	return other
}

// take gives what went and came of all findings since it was asked last. Findings of one weight are told apart by what they are of.
func (a *goodsAuditor) take() (gone, come []placed) {
	const kind = 1 << 40 // of duties there are fewer
	a.lots.take(&gone, &come, func(i int) int { return 1*kind + i })
	a.steps.take(&gone, &come, func(i int) int { return 2*kind + i })
	a.composed.take(&gone, &come, func(i int) int { return 3*kind + i })
	a.transfers.take(&gone, &come, func(i int) int { return 4*kind + i })
	a.assumptions.take(&gone, &come, func(r *state.Record) int { return 5*kind + int(r.Position) })
	a.stationed.take(&gone, &come, func(records.StationCode) int { return 6 * kind })
	a.yards.take(&gone, &come, func(records.StationCode) int { return 7 * kind })
	a.agents.take(&gone, &come, func(state.Duty) int { return 8 * kind })
	a.whole.take(&gone, &come, func(string) int { return 9 * kind })
	return gone, come
}

// stale is what has to be judged again.
type stale struct {
	lots, steps, transfers marks
	anew                   marks                        // lots of which what others take over from them may have changed
	stations               map[records.StationCode]bool // where a step turned out to be of other lots than was known
	class                  bool                         // a lot that stood somewhere is of another kind than before
}

// changed compares the floor with the one judged before.
func (a *goodsAuditor) changed(old *lots.Floor) *stale {
	f := a.f
	c := &stale{stations: map[records.StationCode]bool{}}
	a.flows, a.traits, a.sorts.of = sized(a.flows, len(f.Lots)), sized(a.traits, len(f.Lots)), sized(a.sorts.of, len(f.Lots))
	a.models, a.wholes, a.balances = sized(slices.Clone(a.models), len(f.Lots)), sized(slices.Clone(a.wholes), len(f.Lots)), sized(slices.Clone(a.balances), len(f.Steps))
	if n := len(f.Lots); n < len(old.Lots) {
		upTo(&a.lots, n)
		a.broken, a.owned = maps.Clone(a.broken), maps.Clone(a.owned)
		maps.DeleteFunc(a.broken, func(i int, _ *Broken) bool { return i >= n })
		maps.DeleteFunc(a.owned, func(i int, _ *Broken) bool { return i >= n })
	}
	if len(f.Steps) < len(old.Steps) {
		upTo(&a.steps, len(f.Steps))
		upTo(&a.composed, len(f.Steps))
	}
	if len(f.Transfers) < len(old.Transfers) {
		upTo(&a.transfers, len(f.Transfers))
	}
	for i, s := range f.Steps {
		if i >= len(old.Steps) || old.Steps[i] != s {
			c.steps.add(i)
			for _, o := range s.Out {
				c.anew.add(o.Lot)
			}
			if was := stepOf(old, s.Record); was != nil && !sameLots(was, s) {
				for _, code := range stationsOf(s.Record) {
					c.stations[code] = true
				}
			}
		}
	}
	for i, t := range f.Transfers {
		if i >= len(old.Transfers) || old.Transfers[i] != t {
			c.transfers.add(i)
			if t.Receipt != nil && t.Receipt.Certificate != "" {
				a.named[t.Receipt.Certificate] = true
			}
		}
	}
	for i, l := range f.Lots {
		if i < len(old.Lots) && old.Lots[i] == l {
			continue
		}
		c.lots.add(i)
		if i >= len(old.Lots) || !sameNature(old.Lots[i], l) {
			c.anew.add(i)
		}
		a.sorts.put(i, sortOf(l))
		if a.traits[i] = a.trait(l); i < len(old.Lots) {
			was := old.Lots[i]
			c.class = c.class || was.Code != l.Code || was.Item != l.Item || was.Status != l.Status || was.Begins != l.Begins || (disposal(was) == nil) != (disposal(l) == nil) || container(was) != container(l)
		}
	}
	return c
}

func sized[T any](list []T, n int) []T {
	if n <= len(list) {
		clear(list[n:])
		return list[:n]
	}
	return append(list, make([]T, n-len(list))...)
}

// stepOf is the step that an entry took, or nil.
func stepOf(f *lots.Floor, r *state.Record) *lots.Step {
	if r.Kind != records.KindProcess && r.Kind != records.KindPurge {
		return nil
	}
	i, ok := slices.BinarySearchFunc(f.Steps, r, func(s *lots.Step, r *state.Record) int {
		return cmp.Or(cmp.Compare(s.Record.Happened, r.Happened), cmp.Compare(s.Record.Position, r.Position))
	})
	if !ok {
		return nil
	}
	return f.Steps[i]
}

// sameLots says whether two steps are of the same lots, in and out.
func sameLots(a, b *lots.Step) bool {
	return slices.EqualFunc(a.In, b.In, func(x, y lots.Portion) bool { return x.Lot == y.Lot }) && slices.EqualFunc(a.Out, b.Out, func(x, y lots.Made) bool { return x.Lot == y.Lot })
}

// stationsOf are the stations that a step's entry names.
func stationsOf(r *state.Record) (out []records.StationCode) {
	switch fact := r.Fact.(type) {
	case *records.Process:
		out = append(append(out, fact.Station), fact.Via...)
		for _, in := range fact.Inputs {
			out = append(out, in.From)
		}
		for _, o := range fact.Outputs {
			out = append(out, o.To)
		}
	case *records.Purge:
		out = append(append(out, fact.From, fact.Became.To), fact.Stations...)
	}
	return out
}

// sameNature says whether a lot is still all that others take over from it: what it is, what entered it, what was found of it.
func sameNature(a, b *lots.Lot) bool {
	if a.Code != b.Code || a.Item != b.Item || a.Status != b.Status || a.Begins != b.Begins || a.Origin != b.Origin || a.Receipt != b.Receipt || a.Entered != b.Entered ||
		a.Dry != b.Dry || a.DryKnown != b.DryKnown || !slices.Equal(a.Made, b.Made) || !slices.Equal(a.Outputs, b.Outputs) {
		return false
	}
	n := state.Common(a.Events, b.Events)
	return n == len(a.Events) && !slices.ContainsFunc(b.Events[n:], func(r *state.Record) bool {
		switch r.Kind {
		case records.KindResult, records.KindSample, records.KindHold, records.KindRelease, records.KindReceipt:
			return true
		}
		return false
	})
}

// forget gives up all that was judged; its findings go.
func (a *goodsAuditor) forget() {
	a.lots.forget()
	a.steps.forget()
	a.composed.forget()
	a.transfers.forget()
	a.assumptions.forget()
	a.stationed.forget()
	a.yards.forget()
	a.agents.forget()
	*a = goodsAuditor{named: map[records.DocumentCode]bool{}, stations: map[records.StationCode]*stationMemo{}, seen: map[state.Duty]seenAgents{},
		lots: a.lots, steps: a.steps, composed: a.composed, transfers: a.transfers, assumptions: a.assumptions, stationed: a.stationed, yards: a.yards, agents: a.agents, whole: a.whole}
}
