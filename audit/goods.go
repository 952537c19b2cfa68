package audit

import (
	"cmp"
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

func judgeGoods(st *state.State, at records.Instant) *Goods {
	f := lots.Fold(st, at, cleanOuts(st, at))
	return &Goods{Floor: f, Segregation: judgeSegregation(st, f), Balance: judgeBalance(st, f)}
}

func (g *Goods) findings(st *state.State) [][]Finding {
	return [][]Finding{
		g.Segregation.findings(st, g.Floor),
		custodyFindings(st, g.Floor),
		g.Balance.findings(st, g.Floor),
		stockFindings(st, g.Floor, g.Segregation),
	}
}

// cleanOuts are the sign-offs that passed and give a clean-out grade, in the order in which they ended.
func cleanOuts(st *state.State, at records.Instant) (out []lots.CleanOut) {
	for d, tl := range st.Duties() {
		for _, s := range checkAll(st, d, tl.Until(at)) {
			if s.task == nil || s.task.Grade == "" || !s.checked.Passes {
				continue
			}
			rank, ok := s.plan.GradeRank(s.task.Grade)
			if !ok {
				continue
			}
			from := s.rec.Happened
			if s.fact.Started != 0 && s.fact.Started < from {
				from = s.fact.Started
			}
			out = append(out, lots.CleanOut{Station: d.Station, From: from, To: s.rec.Happened, Grade: rank, Record: s.rec})
		}
	}
	slices.SortFunc(out, func(a, b lots.CleanOut) int {
		return cmp.Or(cmp.Compare(a.To, b.To), cmp.Compare(a.Record.Position, b.Record.Position))
	})
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
