package trace

import (
	"fmt"
	"testing"

	"pgregory.net/rapid"

	"grainward/records"
)

// A trace cut to some steps has exactly the lots of those distances, and every path between two of them.
func TestWithin(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		whole := &Trace{Account: Account{Whole: true}}
		n := rapid.IntRange(1, 40).Draw(t, "lots")
		for i := range n {
			whole.Lots = append(whole.Lots, Lot{Code: records.LotCode(fmt.Sprint("L", i)), Up: rapid.IntRange(-1, 5).Draw(t, "up"), Down: rapid.IntRange(-1, 5).Draw(t, "down")})
		}
		for range n {
			whole.Paths = append(whole.Paths, Path{From: whole.Lots[rapid.IntRange(0, n-1).Draw(t, "from")].Code, To: whole.Lots[rapid.IntRange(0, n-1).Draw(t, "to")].Code})
		}
		steps, most := rapid.IntRange(0, 6).Draw(t, "steps"), rapid.IntRange(1, 50).Draw(t, "most")
		near, left := whole.Within(steps, most)
		if len(near.Lots)+left != n || len(near.Lots) > most || !near.Account.Whole {
			t.Fatalf("%d of %d, %d left out", len(near.Lots), n, left)
		}
		want := 0
		for _, l := range whole.Lots {
			if within := l.Up >= 0 && l.Up <= steps || l.Down >= 0 && l.Down <= steps; within {
				want++
			} else if near.Lot(l.Code) != nil {
				t.Fatalf("%s is too far", l.Code)
			}
		}
		if len(near.Lots) != min(want, most) {
			t.Fatalf("%d lots, not %d", len(near.Lots), min(want, most))
		}
		paths := 0
		for _, p := range whole.Paths {
			if near.Lot(p.From) != nil && near.Lot(p.To) != nil {
				paths++
			}
		}
		if paths != len(near.Paths) {
			t.Fatalf("%d paths, not %d", len(near.Paths), paths)
		}
	})
}
