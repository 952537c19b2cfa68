package audit_test

import (
	"fmt"
	"runtime"
	"testing"
	"time"

	"grainward/audit"
	"grainward/records"
	"grainward/records/book/booktest"
	"grainward/records/state"
)

// BenchmarkFindings measures all findings over five years, from nothing and after one more entry, and the memory of the
// state they are made from. design.md asks at 1,000,000 entries: from nothing under a quarter of a cold start (which
// records/book's BenchmarkColdStart measures), after one more entry under 5 ms, under 600 bytes an entry.
func BenchmarkFindings(b *testing.B) {
	for _, n := range []int{100_000, 1_000_000} {
		if n > 100_000 && testing.Short() {
			continue
		}
		var before, after runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&before)
		entries := booktest.Synthetic(n)
		st := state.New()
		for i, e := range entries {
			st.Apply(records.Position(i), e)
		}
		last := entries[len(entries)-1]
		entries = nil
		runtime.GC()
		runtime.ReadMemStats(&after)
		now := last.Happened.Add(time.Hour)
		b.Run(fmt.Sprintf("all/%d", n), func(b *testing.B) {
			b.ReportMetric(float64(after.HeapAlloc-before.HeapAlloc)/float64(n), "B/entry")
			for b.Loop() {
				rep := audit.At(st, now)
				b.ReportMetric(float64(len(rep.Findings)), "findings")
			}
		})
		b.Run(fmt.Sprintf("one-more/%d", n), func(b *testing.B) {
			var a audit.Auditor
			a.At(st.Snapshot(), now)
			for i := 0; b.Loop(); i++ {
				e := last
				now = now.Add(time.Minute)
				e.Happened, e.Recorded = now, now.Add(time.Second)
				e.ID[7], e.ID[9], e.ID[10] = byte(i>>16)|0x70, byte(i>>8), byte(i)
				st.Apply(st.Size(), e)
				a.At(st.Snapshot(), now)
			}
		})
	}
}
