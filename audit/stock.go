package audit

import "slices"

// stockRules are the rules about what becomes of lots: holds, best-by dates, results, samples, net weights, blends.
func stockRules() []Rule {
	return slices.Concat(holdRules(), bestByRules(), resultRules(), sampleRules(), netWeightRules(), compositionRules())
}
