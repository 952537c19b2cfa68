package audit

import (
	"grainward/records/lots"
	"grainward/records/state"
)

// stockRules are the rules about what becomes of lots: holds, best-by dates, results, samples, net weights.
func stockRules() []Rule { return nil }

func stockFindings(st *state.State, f *lots.Floor, seg *Segregation) (out []Finding) { return nil }
