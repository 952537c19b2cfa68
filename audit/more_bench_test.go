package audit_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"grainward/audit"
	"grainward/cmd/bigplant"
	"grainward/records"
	"grainward/records/state"
)

// BenchmarkOneMore measures, on a large invented plant of which a quarter of the entries is about goods, all findings from
// nothing and after one more entry of each sort. design.md asks that the second be under 5 ms at 1,000,000 entries.
func BenchmarkOneMore(b *testing.B) {
	for _, n := range []int{100_000, 1_000_000} {
		if n > 100_000 && testing.Short() {
			continue
		}
		plant, err := bigplant.New(1)
		if err != nil {
			b.Fatal(err)
		}
		st := state.New()
		var target, last records.Entry
		if err := plant.Each(n, func(e records.Entry) error {
			if target.ID.IsZero() && int(st.Size()) > n/10 && e.Kind == records.KindSignoff {
				target = e
			}
			st.Apply(st.Size(), e)
			last = e
			return nil
		}); err != nil {
			b.Fatal(err)
		}
		now := last.Recorded.Add(time.Minute)
		b.Run(fmt.Sprintf("nothing/%d", n), func(b *testing.B) {
			for b.Loop() {
				b.ReportMetric(float64(len(audit.At(st, now).Findings)), "findings")
			}
		})
		var a audit.Auditor
		finding := a.At(st.Snapshot(), now).Findings[n/1000].ID
		for _, f := range plant.More(now, target.Happened, target, finding) {
			turn := 0
			b.Run(fmt.Sprintf("%s/%d", strings.ReplaceAll(f.Sort, " ", "-"), n), func(b *testing.B) {
				for ; b.Loop(); turn++ {
					st.Apply(st.Size(), f.Make(turn))
					a.At(st.Snapshot(), now)
				}
			})
		}
	}
}
