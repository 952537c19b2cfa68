package audit

import (
	"slices"

	"grainward/records/lots"
	"grainward/records/state"
)

// stockRules are the rules about what becomes of lots: holds, best-by dates, results, samples, net weights, blends.
func stockRules() []Rule {
	return slices.Concat(holdRules(), bestByRules(), resultRules(), sampleRules(), netWeightRules(), compositionRules())
}

// stockFindings goes through what becomes of lots, one judgement after the other.
func stockFindings(st *state.State, f *lots.Floor) []*Finding {
	j := &goodsJudge{st: st, f: f}
	shelves := shelfLives(st, f)
	shipped := shippings(f)
	j.holds()
	j.bestBy(shelves)
	j.results()
	j.samples(shelves, shipped)
	j.netWeights()
	j.compositions()
	return j.out
}

// shippings are, by lot, the transfers by which it first left for sale or storage.
func shippings(f *lots.Floor) map[int]*lots.Transfer {
	first := map[int]*lots.Transfer{}
	for i := range f.Transfers {
		t := f.Transfers[i]
		if t.Handover == nil || !forPeople(t.Handover.Use) {
			continue
		}
		for _, portion := range t.Portions {
			if first[portion.Lot] == nil {
				first[portion.Lot] = t
			}
		}
	}
	return first
}
