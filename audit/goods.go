package audit

import (
	"slices"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

// Goods is the floor at the moment with everything judged about it.
type Goods struct {
	*lots.Floor
	Segregation *Segregation
	Balance     *Balance
}

// Floor is the floor at a moment, with the clean-outs that passed by then.
func Floor(st *state.State, at records.Instant) *lots.Floor {
	return lots.Fold(st, at, cleanOuts(st, at))
}

// JudgeGoods judges goods alone, from nothing.
func JudgeGoods(st *state.State, at records.Instant) *Goods {
	g, _, _ := new(goodsAuditor).goods(st, guarded(st, allDuties(st)), Floor(st, at))
	return g
}

// goodsMemo is the goods as last judged, and the moments for which they are the same: while no timeline they are judged
// from has changed, and until the next entry that comes to count by the passing of time.
type goodsMemo struct {
	inputs   []uint64
	papers   uint64          // the version of all documents: of those that come, few matter
	from, to records.Instant // from <= at < to
	goods    *Goods
	cleaned  cleanOutsMemo
	keeper   lots.Keeper
	auditor  goodsAuditor
}

// at gives the goods, and the findings about them that went and came since the last time.
func (m *goodsMemo) at(st *state.State, duties *dutyLists, at records.Instant) (g *Goods, gone, come []placed) {
	in := goodsInputs(st, duties)
	papers := st.Kind(records.KindDocument)
	if m.goods == nil || at < m.from || at >= m.to || !unchanged(m.inputs, in) || m.papers != papers.Version() && m.auditor.reliesOn(papers.Until(at)) {
		m.goods, gone, come = m.auditor.goods(st, duties.guarded, m.keeper.At(st, at, m.cleaned.all(st, duties.cleaning)))
		m.inputs, m.from, m.to = nil, at, nextDay(st, at)
		for _, tl := range in {
			m.inputs = append(m.inputs, tl.Version())
			if later := tl.Between(at+1, forever); len(later) > 0 {
				m.to = min(m.to, later[0].Happened)
			}
		}
	}
	m.papers = papers.Version()
	if later := papers.Between(at+1, forever); len(later) > 0 {
		m.to = min(m.to, later[0].Happened)
	}
	f := *m.goods.Floor // the same floor, seen later
	f.At = at
	return &Goods{Floor: &f, Segregation: m.goods.Segregation, Balance: m.goods.Balance}, gone, come
}

// nextDay is the first instant after a moment at which a day begins or another plan comes into force. What is found of goods by the
// passing of time alone (goods nobody confirmed, by-product that is too old) is counted in days.
func nextDay(st *state.State, at records.Instant) records.Instant {
	next := forever
	for _, in := range st.Plans() {
		next = min(next, dayStart(in.Plan, at, 1))
		if in.From > at {
			next = min(next, in.From)
		}
	}
	return next
}

// goodsInputs are the timelines goods are judged from: the entries about goods, the plans, the sign-offs that can be
// clean-outs or brought agents in; and the certificates, which are looked at beside them.
func goodsInputs(st *state.State, duties *dutyLists) []state.Timeline {
	in := []state.Timeline{st.Kind(records.KindPlan), st.Goods()}
	for _, d := range duties.cleaning {
		in = append(in, st.Signoffs(d))
	}
	for _, d := range duties.guarded {
		in = append(in, st.Signoffs(d))
	}
	return in
}

// cleaning are, of duties, those whose task gives a clean-out grade in some plan, in order.
func cleaning(st *state.State, duties []state.Duty) (out []state.Duty) {
	tasks := graded(st)
	for _, d := range duties {
		if _, ok := slices.BinarySearch(tasks, d.Task); ok {
			out = append(out, d)
		}
	}
	return out
}

// lotSubject, itemTitle and partnerName help to say findings about goods.
func lotSubject(l *lots.Lot) Subject { return Subject{Lot: l.Code, Item: l.Item} }

func itemTitle(p *plan.Plan, c records.ItemCode) plan.Text {
	if i := p.Item(c); i != nil {
		return i.Title
	}
	return plan.Text{"en": string(c)}
}

func partnerName(p *plan.Plan, c records.PartnerCode) string {
	if x := p.Partner(c); x != nil {
		return x.Name
	}
	return string(c)
}

// eventPositions are the positions of the records that are there.
func eventPositions(rs ...*state.Record) (out []records.Position) {
	for _, r := range rs {
		if r != nil {
			out = append(out, r.Position)
		}
	}
	return out
}
