package audit

import (
	"fmt"
	"math/big"
	"slices"
	"strings"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
)

// organicShares are the least whole percent of organic ingredients for each claim: check value C20, 7 CFR 205.301; 100
// and 95 seen, 70 second-hand.
var organicShares = map[records.Status]int64{records.Organic100: 100, records.Organic: 95, records.MadeWith: 70}

func compositionRules() []Rule {
	return []Rule{
		{Code: "composition", Severity: Major, Clauses: []records.Clause{"7 CFR 205.301", "7 CFR 205.302"}, Says: says(
			"Lot {lot} is declared {status}; by {process} it is {share} organic, water and salt left out, and that claim needs {need}.",
			"El lote {lot} se declara {status}; por {process} es ecológico en un {share}, sin contar agua ni sal, y eso exige {need}.")},
	}
}

// wholePercent is the share in whole percent, rounded down (7 CFR 205.302, from memory).
func wholePercent(share *big.Rat) int64 {
	if share == one {
		return 100
	}
	n := new(big.Int).Mul(share.Num(), big.NewInt(100))
	return n.Quo(n, share.Denom()).Int64()
}

// compose works out how much of what a step made is organic, and holds the declared status of what came out against it. Received
// goods count by their status: organic ones as organic throughout, "made with" ones as the 70 % they have at least. Where only
// conventional goods went in, segregation says so already.
func (j *goodsJudge) compose(step *lots.Step, of func(lot int) *part, wanted func(lot int) bool) {
	p := j.st.PlanAt(step.Record.Happened)
	in, some := part{}, false
	for _, portion := range step.In {
		l := j.f.Lots[portion.Lot]
		if portion.Mass == 0 {
			continue // a resident of a silo of which nothing is left by computation
		}
		if p != nil && isWaterOrSalt(p, l.Item) {
			continue
		}
		in.add(portion.Mass, of(portion.Lot).ratio())
		some = some || l.Status.IsOrganic()
	}
	share := in.ratio()
	known := in.total > 0 // else nothing says what it was made of, and its origin is another finding
	for k, o := range step.Out {
		if !known {
			share = receivedShare(o.Output.Status)
		}
		if wanted(o.Lot) {
			of(o.Lot).add(o.Mass, share)
		}
		need := organicShares[o.Output.Status]
		if p == nil || !known || !some || wholePercent(share) >= need {
			continue
		}
		l := j.f.Lots[o.Lot]
		j.find("composition", subID(step.Record, k), step.Record.Happened, lotSubject(l), []Value{word("lot", string(l.Code)), word("status", string(o.Output.Status)),
			word("process", step.What), word("share", fmt.Sprintf("%d %%", wholePercent(share))), word("need", fmt.Sprintf("%d %%", need))}, step.Record)
	}
}

func receivedShare(s records.Status) *big.Rat {
	switch s {
	case records.Organic100, records.Organic:
		return one
	case records.MadeWith:
		return big.NewRat(organicShares[records.MadeWith], 100)
	}
	return zero
}

// isWaterOrSalt goes by the item's code and its titles, as the plan has no field for it.
func isWaterOrSalt(p *plan.Plan, code records.ItemCode) bool {
	is := func(name string) bool {
		return slices.ContainsFunc([]string{"water", "salt", "agua", "sal"}, func(w string) bool { return strings.EqualFold(w, name) })
	}
	if is(string(code)) {
		return true
	}
	if i := p.Item(code); i != nil {
		for _, t := range i.Title {
			if is(t) {
				return true
			}
		}
	}
	return false
}
