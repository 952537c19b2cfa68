package audit

// common is how many things two lists begin with that are the same.
func common[T comparable](a, b []T) (n int) {
	if len(a) > 0 && len(b) > 0 && &a[0] == &b[0] {
		return min(len(a), len(b)) // it grew at its end
	}
	for n < len(a) && n < len(b) && a[n] == b[n] {
		n++
	}
	return n
}

// differing is two lists without what they both begin with and what they both end with.
func differing[T comparable](a, b []T) (_, _ []T) {
	n := common(a, b)
	for a, b = a[n:], b[n:]; len(a) > 0 && len(b) > 0 && a[len(a)-1] == b[len(b)-1]; {
		a, b = a[:len(a)-1], b[:len(b)-1]
	}
	return a, b
}
