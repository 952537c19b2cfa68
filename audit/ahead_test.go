package audit_test

import (
	"testing"

	"pgregory.net/rapid"

	"grainward/audit"
	"grainward/audit/audittest"
	"grainward/records"
)

// What is ahead, put behind what a report has, is every window of the slow audit up to that moment.
func TestAheadIsTheOracles(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := &drawer{T: t}
		d.journal()
		at := pick(d, "at", d.moments())
		st := fold(d.entries)
		rep := audit.At(st, at)
		until := rep.Until + records.Instant(rapid.IntRange(-2, 12*24).Draw(t, "ahead hours"))*3_600_000
		both := &audit.Report{State: st, Work: append(append([]*audit.Work{}, rep.Work...), rep.Ahead(until)...)}
		got, want := judged(both, max(until, rep.Until)), audittest.Windows(d.entries, at, max(until, rep.Until))
		count := map[string]int{}
		text := func(w audittest.ExpectedWindow) string {
			return string(w.Task) + "@" + string(w.Station) + w.Opens.String() + w.Due.String() + w.Lapses.String() + w.Result
		}
		for _, w := range got {
			count[text(w)]++
		}
		for _, w := range want {
			count[text(w)]--
		}
		for k, n := range count {
			if n != 0 {
				t.Fatalf("%s: %+d\n%s", k, n, d.show())
			}
		}
	})
}
