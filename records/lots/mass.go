package lots

import (
	"cmp"
	"math/bits"
	"slices"

	"grainward/records"
)

// mass is the exact mass; admission has refused those that can not be read.
func mass(w records.Weight) records.Micrograms {
	m, err := w.Mass.Micrograms()
	if err != nil || m < 0 {
		return 0
	}
	return m
}

func sum(ms []records.Micrograms) (total records.Micrograms) {
	for _, m := range ms {
		total += m
	}
	return total
}

// DryMatter is mass x (100 - moisture) / 100, rounded to the microgram, halves up; false when no moisture was written
// down, or one that can not be.
func DryMatter(m records.Micrograms, moisture *records.Decimal) (records.Micrograms, bool) {
	if moisture == nil {
		return 0, false
	}
	num, den := moisture.Over()
	if num < 0 || num/100 > den || m < 0 {
		return 0, false
	}
	whole := 100 * uint64(den) // at most 10^14: a decimal has 12 places
	dry := whole - uint64(num)
	if dry > whole {
		return 0, false
	}
	hi, lo := bits.Mul64(uint64(m), dry)
	lo, carry := bits.Add64(lo, whole/2, 0)
	q, _ := bits.Div64(hi+carry, lo, whole) // no more than m, since dry is no more than whole
	return records.Micrograms(q), true
}

// share divides a mass in proportion to weights, exactly: the parts add up to the mass, and the micrograms that do not
// divide go to the largest remainders, ties to the first. When all weights are 0 nothing says whose it is, and each is as
// likely.
func share(m records.Micrograms, weights []records.Micrograms) []records.Micrograms {
	total := sum(weights)
	if total <= 0 || slices.ContainsFunc(weights, func(w records.Micrograms) bool { return w < 0 || w > total }) { // the last two by overflow only
		weights = slices.Repeat([]records.Micrograms{1}, len(weights))
		total = records.Micrograms(len(weights))
	}
	out := make([]records.Micrograms, len(weights))
	type remainder struct {
		k   int
		rem uint64
	}
	rest := m
	var rems []remainder // that are any: more than there are micrograms left over
	for k, w := range weights {
		if w == 0 {
			continue
		}
		hi, lo := bits.Mul64(uint64(m), uint64(w))
		q, rem := bits.Div64(hi, lo, uint64(total)) // no more than m, since w is no more than total
		out[k] = records.Micrograms(q)
		rest -= out[k]
		if rem > 0 {
			rems = append(rems, remainder{k, rem})
		}
	}
	if rest > 0 {
		slices.SortStableFunc(rems, func(a, b remainder) int { return cmp.Compare(b.rem, a.rem) })
		for k := 0; rest > 0; k, rest = k+1, rest-1 {
			out[rems[k].k]++
		}
	}
	return out
}
