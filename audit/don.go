package audit

import (
	"math/big"
	"strings"

	"grainward/records"
)

// FDA advisory levels for deoxynivalenol, 2010 (numbers second-hand, check values C52 and C53): finished wheat products
// for people; feed for swine and most animals, of which it is part of the diet; feed for cattle over four months and
// chickens. Which animal a farm feeds is not in the records, so the lower is pointed out and the higher is grave.
var (
	donFood     = big.NewRat(1, 1)
	donFeed     = big.NewRat(5, 1)
	donFeedMost = big.NewRat(10, 1)
)

// isDON says whether a value is of deoxynivalenol, by the names laboratories give it.
func isDON(name string) bool {
	n := strings.ToLower(name)
	for _, field := range strings.FieldsFunc(n, func(r rune) bool { return r < 'a' || r > 'z' }) {
		if field == "don" || field == "deoxynivalenol" || field == "vomitoxin" || field == "deoxinivalenol" {
			return true
		}
	}
	return false
}

// ppm is a mass fraction in parts per million, or nil in a unit that is none.
func ppm(q records.Quantity) *big.Rat {
	switch strings.ToLower(strings.TrimSpace(q.Unit)) {
	case "ppm", "mg/kg", "ug/g", "µg/g":
		return q.Value.Rat()
	case "ppb", "ug/kg", "µg/kg":
		return new(big.Rat).Quo(q.Value.Rat(), big.NewRat(1000, 1))
	}
	return nil
}
