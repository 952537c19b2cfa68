package audit

import (
	"cmp"
	"slices"
)

// orderMemo is findings as they were last put in order, and the groups they came in. Most groups are the same slices as the time
// before, so only what came anew is sorted, and merged with the rest.
type orderMemo struct {
	groups [][]Finding
	sorted []placed
}

// placed is a finding and its group. Findings are large, so they are pointed at while they are sorted.
type placed struct {
	*Finding
	group int
}

// readFirst puts findings by weight, and those of the same weight (an id that two entries share) as their groups come.
func readFirst(a, b placed) int {
	if c := weight(a.Finding, b.Finding); c != 0 {
		return c
	}
	return cmp.Compare(a.group, b.group)
}

// collect is all findings of the groups in order, in a slice of the caller's own. The groups must not be changed afterwards.
func (m *orderMemo) collect(groups [][]Finding) []Finding {
	n := 0
	stale := make([]bool, max(len(groups), len(m.groups)))
	for i := range stale {
		stale[i] = i >= len(groups) || i >= len(m.groups) || !sameSlice(groups[i], m.groups[i])
	}
	var fresh []placed
	for i, g := range groups {
		n += len(g)
		if !stale[i] {
			continue
		}
		for k := range g {
			fresh = append(fresh, placed{&g[k], i})
		}
	}
	slices.SortStableFunc(fresh, readFirst)
	m.sorted = merge(m.sorted, stale, fresh, n)
	m.groups = groups
	out := make([]Finding, n)
	for i := range m.sorted {
		out[i] = *m.sorted[i].Finding
	}
	return out
}

// merge is the old findings but for those of stale groups, with the fresh ones put among them; n is how many that makes.
func merge(old []placed, stale []bool, fresh []placed, n int) []placed {
	out := make([]placed, 0, n)
	for i := range old {
		if stale[old[i].group] {
			continue
		}
		for len(fresh) > 0 && readFirst(fresh[0], old[i]) < 0 {
			out, fresh = append(out, fresh[0]), fresh[1:]
		}
		out = append(out, old[i])
	}
	return append(out, fresh...)
}

func sameSlice(a, b []Finding) bool {
	return len(a) == len(b) && (len(a) == 0 || &a[0] == &b[0])
}
