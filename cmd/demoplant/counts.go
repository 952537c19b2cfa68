package demoplant

import (
	"maps"
	"slices"
	"time"

	"grainward/records"
)

// counts are the monthly inventory: the warehouse lot by lot, and the silos by the tape from the hatch.
func (g *goods) counts() {
	slices.SortStableFunc(g.ledger, func(a, b posting) int { return int(a.at/60000 - b.at/60000) })
	for d := g.since + 20; g.at(d, 17, 0) <= g.until; d++ {
		next := g.working(d + 1)
		_, month, _ := d.Civil()
		if _, m, _ := next.Civil(); m == month || !g.works(d) {
			continue
		}
		at := g.at(d, 17, 5)
		g.write(at, records.Performed, &records.Count{Station: "warehouse", Found: g.found(at)})
		for i, silo := range []records.StationCode{"silo-1", "silo-2", "silo-3"} {
			there := g.standing(at, silo, "")
			if there <= 1000 {
				continue
			}
			r := g.rand("tape", silo, d)
			when := at.Add(time.Duration(10+10*i) * time.Minute)
			g.write(when, records.Performed, &records.Count{Station: silo, Note: "By tape from the hatch",
				Found: []records.Found{{Weight: records.Weight{Mass: lb((there + int(float64(there)*0.01*r.NormFloat64())) / 100 * 100)}}}})
		}
	}
}

// found is what the ledger has in the warehouse, lot by lot.
func (g *goods) found(at records.Instant) (out []records.Found) {
	there := map[records.LotCode]int{}
	for _, p := range g.ledger {
		if p.at <= at && p.place == "warehouse" {
			there[p.lot] += p.lb
		}
	}
	for _, lot := range slices.Sorted(maps.Keys(there)) {
		if there[lot] > 0 {
			out = append(out, records.Found{Lot: lot, Weight: scaled(there[lot])})
		}
	}
	return out
}
