package offer

import (
	"slices"

	"grainward/records"
	"grainward/records/plan"
)

// Unlike says that goods of one class must not simply follow or join goods of another: the plan's table of changeovers asks for a
// clean-out, but at the stations named. A class is an organic status and allergens, as the plan writes it.
type Unlike struct {
	From string                `json:"from"`
	To   string                `json:"to"`
	But  []records.StationCode `json:"but,omitempty"`
}

// unlike goes through every pair of classes that the plan's items can have.
func unlike(p *plan.Plan) []Unlike {
	out := []Unlike{}
	all := classes(p)
	for _, a := range all {
		for _, b := range all {
			if a == b {
				continue
			}
			row := Unlike{From: a, To: b}
			needed := false
			for i := range p.Stations {
				if p.Stations[i].Holds == "nothing" {
					continue
				}
				if _, asks := p.GradeFor(a, b, p.Stations[i].Code); asks {
					needed = true
				} else {
					row.But = append(row.But, p.Stations[i].Code)
				}
			}
			if needed {
				out = append(out, row)
			}
		}
	}
	return out
}

func classes(p *plan.Plan) (out []string) {
	for _, status := range plan.Statuses() {
		for i := range p.Items {
			c := plan.Class{Status: status, Allergens: slices.Sorted(slices.Values(p.Items[i].Allergens))}.String()
			if !slices.Contains(out, c) {
				out = append(out, c)
			}
		}
	}
	return out
}
