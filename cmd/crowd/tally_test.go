package crowd

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

// At is the shortest latency that at least the share of the requests did not exceed, counted the slow way.
func TestAt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		of := func(kind string) (all []outcome) {
			for _, ms := range rapid.SliceOfN(rapid.IntRange(1, 50), 1, 40).Draw(t, kind) {
				all = append(all, outcome{took: time.Duration(ms) * time.Millisecond, status: 201})
			}
			return all
		}
		all, one, two := newTally(), newTally(), newTally()
		a, b := of("first"), of("second")
		for _, o := range a {
			one.add("x", o)
		}
		for _, o := range b {
			two.add("x", o)
		}
		all.join(one)
		all.join(two)
		all.sort()
		share := float64(rapid.IntRange(1, 100).Draw(t, "share")) / 100
		want := time.Hour
		for _, o := range append(a, b...) {
			within := 0
			for _, p := range append(a, b...) {
				if p.took <= o.took {
					within++
				}
			}
			if float64(within) >= share*float64(len(a)+len(b)) && o.took < want {
				want = o.took
			}
		}
		if got := all.Kinds["x"].At(share); got != want {
			t.Fatalf("%v, want %v", got, want)
		}
	})
}
