package trace

import (
	"cmp"
	"slices"
	"strings"
)

// nearest are at most three codes spelt nearly like a text: within a third of its letters of slips (at least one), or
// beginning with it; fewest slips first, then by code.
func nearest(text string, have []string) []string {
	text = strings.ToLower(text)
	within := max(1, len(text)/3)
	type near struct {
		code  string
		slips int
	}
	var found []near
	slices.Sort(have)
	for _, h := range slices.Compact(have) {
		low := strings.ToLower(h)
		if len(low) > 200 || len(text) > 200 {
			continue
		}
		n := slips(text, low, within)
		if n > within && len(text) >= 3 && strings.HasPrefix(low, text) {
			n = within
		}
		if n <= within {
			found = append(found, near{h, n})
		}
	}
	slices.SortStableFunc(found, func(a, b near) int { return cmp.Or(a.slips-b.slips, strings.Compare(a.code, b.code)) })
	var out []string
	for _, f := range found[:min(3, len(found))] {
		out = append(out, f.code)
	}
	return out
}

// slips is how many bytes have to be put in, left out, changed or swapped with their neighbour to get from a to b (the
// Damerau-Levenshtein distance, restricted); most+1 when it is more than most.
func slips(a, b string, most int) int {
	if d := len(a) - len(b); d > most || -d > most {
		return most + 1
	}
	before, last, row := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i
		best := i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			row[j] = min(last[j]+1, row[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
			best = min(best, row[j])
		}
		if best > most {
			return most + 1
		}
		before, last, row = last, row, before
	}
	return min(last[len(b)], most+1)
}
