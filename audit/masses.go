package audit

import (
	"math"

	"grainward/records"
	"grainward/records/plan"
)

// Weighed is a weight in micrograms with the standard uncertainty of the scale it was weighed on, by the plan then in force (which may
// be nil). ok is false for a mass that can not be read.
func Weighed(p *plan.Plan, w records.Weight) (m records.Micrograms, u float64, ok bool) {
	m, err := w.Mass.Micrograms()
	if err != nil {
		return 0, 0, false
	}
	if p == nil {
		return m, defaultMassU * float64(m), true
	}
	return m, massU(p, w, m), true
}

// Differ says whether two masses differ by more than twice what their uncertainties together can explain.
func Differ(a, b records.Micrograms, ua, ub float64) bool {
	return math.Abs(float64(a-b)) > coverage*math.Hypot(ua, ub)
}
