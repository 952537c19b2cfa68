package state

import (
	"slices"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"grainward/records"
)

// A timeline is a sorted list, however it is kept: as one list or in parts, with views of it being read or not. Views stay.
func TestTimelineIsASortedList(t *testing.T) {
	type view struct {
		tl   Timeline
		list []*Record
	}
	was := besideMost
	defer func() { besideMost = was }()
	rapid.Check(t, func(t *rapid.T) {
		besideMost = rapid.IntRange(1, 6).Draw(t, "long at")
		var tl Timeline
		var list []*Record // obviously right: sorted anew after each change
		var out []*Record  // that were taken out
		var views []view
		epoch, version, now := uint64(1), uint64(0), records.Instant(100)
		same := func(v view) {
			t.Helper()
			from, to := records.Instant(rapid.IntRange(60, 180).Draw(t, "from")), records.Instant(rapid.IntRange(60, 180).Draw(t, "to"))
			var until, between []*Record
			for _, r := range v.list {
				if r.Happened <= to {
					until = append(until, r)
				}
				if from <= r.Happened && r.Happened <= to {
					between = append(between, r)
				}
			}
			var first, last *Record
			if len(v.list) > 0 {
				first = v.list[0]
			}
			if len(until) > 0 {
				last = until[len(until)-1]
			}
			// What makes one list of two parts is asked last, and not always: what follows must hold either way.
			if v.tl.Len() != len(v.list) || v.tl.First() != first || v.tl.Last(to) != last || !slices.Equal(v.tl.Between(from, to), between) {
				t.Fatalf("between %d and %d: %v, first %v, last %v; the list has %v", from, to, v.tl.Between(from, to), v.tl.First(), v.tl.Last(to), v.list)
			}
			if rapid.Bool().Draw(t, "whole") && (!slices.Equal(v.tl.Until(to), until) || !slices.Equal(v.tl.All(), v.list)) {
				t.Fatalf("the timeline has %v, the list %v", v.tl.All(), v.list)
			}
		}
		for pos := range rapid.IntRange(1, 60).Draw(t, "changes") {
			switch what := rapid.IntRange(0, 9).Draw(t, "change"); {
			case what == 0 && len(list) > 0:
				i := rapid.IntRange(0, len(list)-1).Draw(t, "removed")
				if rapid.Bool().Draw(t, "of the last") {
					i = max(0, len(list)-1-i%3)
				}
				version++
				tl.remove(list[i], epoch, version)
				out, list = append(out, list[i]), slices.Delete(slices.Clone(list), i, i+1)
			case what == 3 && len(out) > 0: // what a correction took out comes back, as it was or with another time
				i := rapid.IntRange(0, len(out)-1).Draw(t, "back")
				r := out[i]
				if out = slices.Delete(out, i, i+1); rapid.Bool().Draw(t, "corrected") {
					as := *r
					as.Happened += records.Instant(rapid.IntRange(-1, 1).Draw(t, "moved"))
					r = &as
				}
				version++
				tl.insert(r, epoch, version)
				list = append(slices.Clone(list), r)
				slices.SortFunc(list, order)
			case what == 1:
				views = append(views, view{tl, slices.Clone(list)})
				epoch++
			case what == 2 && len(views) > 0:
				same(views[rapid.IntRange(0, len(views)-1).Draw(t, "view")])
			default:
				now += records.Instant(rapid.IntRange(0, 2).Draw(t, "passes"))
				r := &Record{Position: records.Position(pos)}
				r.Happened = now - records.Instant(rapid.SampledFrom([]int{0, 0, 0, 1, 2, 3, 5, 40}).Draw(t, "late"))
				version++
				tl.insert(r, epoch, version)
				list = append(slices.Clone(list), r)
				slices.SortFunc(list, order)
			}
			if n := len(tl.added) + len(tl.removed); n > besideMost || (tl.joined != nil) != (n > 0) {
				t.Fatalf("%d beside, joined %v", n, tl.joined != nil)
			}
		}
		for _, v := range append(views, view{tl, list}) {
			same(v)
		}
	})
}

// BenchmarkLate is a batch of 16 records of which one happened before the last: the length of the list must not tell.
func BenchmarkLate(b *testing.B) {
	for _, n := range []int{10_000, 1_000_000} {
		b.Run(strconv.Itoa(n), func(b *testing.B) {
			var tl Timeline
			pos, epoch := records.Position(0), uint64(1)
			put := func(late records.Instant) {
				r := &Record{Position: pos}
				r.Happened = records.Instant(pos)*10 - late
				tl.insert(r, epoch, uint64(pos)+1)
				pos++
			}
			for range n {
				put(0)
			}
			b.ReportAllocs()
			for b.Loop() {
				epoch++
				put(55)
				for range 15 {
					put(0)
				}
			}
		})
	}
}
