package audit

import "grainward/records/state"

// differing is two lists without what they both begin with and what they both end with.
func differing[T comparable](a, b []T) (_, _ []T) {
	n := state.Common(a, b)
	for a, b = a[n:], b[n:]; len(a) > 0 && len(b) > 0 && a[len(a)-1] == b[len(b)-1]; {
		a, b = a[:len(a)-1], b[:len(b)-1]
	}
	return a, b
}
