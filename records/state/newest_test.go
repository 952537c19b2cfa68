package state

import (
	"slices"
	"testing"

	"pgregory.net/rapid"

	"grainward/records"
)

// The newest of several timelines are what sorting all of their records and cutting gives, whatever lies beside a timeline's list.
func TestNewestIsSortedAndCut(t *testing.T) {
	was := besideMost
	defer func() { besideMost = was }()
	rapid.Check(t, func(t *rapid.T) {
		besideMost = rapid.IntRange(1, 6).Draw(t, "long at")
		lines := make([]Timeline, rapid.IntRange(0, 4).Draw(t, "lines"))
		lists := make([][]*Record, len(lines))
		epoch, pos := uint64(1), records.Position(0)
		for i := range lines {
			now := records.Instant(100)
			for range rapid.IntRange(0, 25).Draw(t, "records") {
				now += records.Instant(rapid.IntRange(0, 2).Draw(t, "passes"))
				pos++
				if n := len(lists[i]); n > 0 && rapid.IntRange(0, 9).Draw(t, "gone") == 0 {
					k := rapid.IntRange(0, n-1).Draw(t, "which")
					lines[i].remove(lists[i][k], epoch, uint64(pos))
					lists[i] = slices.Delete(lists[i], k, k+1)
					continue
				}
				r := &Record{Position: pos}
				r.Happened = now - records.Instant(rapid.SampledFrom([]int{0, 0, 0, 1, 2, 5, 40}).Draw(t, "late"))
				lines[i].insert(r, epoch, uint64(pos))
				lists[i] = append(lists[i], r)
				epoch += uint64(rapid.IntRange(0, 1).Draw(t, "snapshot"))
			}
		}
		var of []Stretch
		at := records.Instant(rapid.IntRange(55, 110).Draw(t, "from"))
		for range rapid.IntRange(1, 3).Draw(t, "stretches") {
			s := Stretch{at, at + records.Instant(rapid.IntRange(-1, 50).Draw(t, "long"))}
			of = append(of, s)
			at = s.To + 1 + records.Instant(rapid.IntRange(0, 5).Draw(t, "apart"))
		}
		if rapid.Bool().Draw(t, "all time") {
			of = []Stretch{{earliest, latest}}
		}
		var want []*Record
		for i, list := range lists {
			for _, s := range of {
				n := 0
				for _, r := range list {
					if s.From <= r.Happened && r.Happened <= s.To {
						want, n = append(want, r), n+1
					}
				}
				if got := lines[i].Count(s); got != n {
					t.Fatalf("%d from %d to %d, going through all finds %d", got, s.From, s.To, n)
				}
			}
		}
		slices.SortFunc(want, func(a, b *Record) int { return order(b, a) })
		skip, most := rapid.IntRange(0, len(want)+2).Draw(t, "skip"), rapid.IntRange(0, 30).Draw(t, "most")
		want = want[min(skip, len(want)):]
		want = want[:min(most, len(want))]
		if got := Newest(lines, of, skip, most); !slices.Equal(got, want) {
			t.Fatalf("after %d, %d of %v are %v; sorted and cut they are %v", skip, most, of, got, want)
		}
	})
}
