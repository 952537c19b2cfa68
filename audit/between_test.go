package audit_test

import (
	"crypto/sha256"
	"encoding/hex"
	"reflect"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"grainward/audit"
	"grainward/records"
	"grainward/records/state"
)

// What is asked of a stretch of time has everything that going through all of a duty's work finds there: the windows that lapse after its
// beginning or at it and open before its end, and the sign-offs in it that answer none. And it is a stretch of the work, in its order.
func TestBetween(t *testing.T) {
	shown, all := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		d := &drawer{T: t}
		audit.SettleSooner(t, time.Duration(rapid.IntRange(1, 48).Draw(t, "settled"))*time.Hour, time.Duration(rapid.IntRange(1, 72).Draw(t, "long"))*time.Hour)
		start := instant("2025-01-01T00:00:00Z")
		now := start.Add(time.Duration(rapid.IntRange(1, 40).Draw(t, "days")) * 24 * time.Hour)
		// edge is any time, mostly at the edge of a window, or a millisecond beside it.
		edge := func() records.Instant {
			const quarter = 6 * 3600 * 1000
			at := start + records.Instant(rapid.Int64Range(0, int64(now-start)+3*4*quarter).Draw(t, "edge"))
			return at/quarter*quarter + pick(d, "beside", []records.Instant{0, 0, 0, -1, 1})
		}
		st, auditor := state.New(), new(audit.Auditor)
		write := func(happened records.Instant, f records.Fact) {
			e := records.Entry{ID: d.id(), Happened: happened, Recorded: now, By: "nora", Meaning: records.Performed, Kind: f.Kind(), Fact: f}
			st.Apply(st.Size(), e)
		}
		text := yard(pick(d, "opens", []string{"06:00", "12:00"}), pick(d, "lapses", []string{"06:00 +1", "18:00", "12:00 +1"}))
		sum := sha256.Sum256([]byte(text))
		write(start, &records.Adoption{Text: text, SHA256: hex.EncodeToString(sum[:])})
		for range rapid.IntRange(1, 3).Draw(t, "reports") {
			for range rapid.IntRange(0, 12).Draw(t, "entries") {
				write(edge(), d.yardwork(edge))
			}
			if d.often(10, "an excuse") {
				from := edge()
				write(from, &records.Excuse{From: from, To: from.Add(36 * time.Hour), Reason: "r"})
			}
			rep := auditor.At(st.Snapshot(), now)
			for range 4 {
				from, to := edge(), edge()
				if d.often(20, "without an end") {
					to = 1 << 62
				}
				for _, w := range append(rep.Work, rep.Ahead(now.Add(20*24*time.Hour))...) {
					windows, unplanned := w.Between(from, to)
					if to == 1<<62 {
						windows, unplanned = w.Since(from)
					}
					var others []*state.Record
					for _, r := range w.Unplanned {
						if from <= r.Happened && r.Happened < to {
							others = append(others, r)
						}
					}
					if !slices.Equal(unplanned, others) {
						t.Fatalf("%v: %d sign-offs that answer nothing from %s to %s, going through all finds %d", w.Duty, len(unplanned), from, to, len(others))
					}
					i := 0
					for len(windows) > 0 && i < len(w.Windows) && &w.Windows[i] != &windows[0] {
						i++
					}
					for k := range w.Windows {
						j := &w.Windows[k]
						if has := i <= k && k < i+len(windows); !has && j.Opens < to && j.Lapses >= from || has && j.Opens >= to {
							t.Fatalf("%v: of %s to %s the window from %s to %s is given: %v", w.Duty, from, to, j.Opens, j.Lapses, has)
						}
					}
					shown, all = shown+len(windows), all+len(w.Windows)
				}
			}
			checkOutlook(t, d, rep, edge)
			now = now.Add(time.Duration(rapid.IntRange(0, 48).Draw(t, "hours")) * time.Hour)
		}
	})
	if shown > all/2 {
		t.Errorf("of %d windows %d were given, so little was cut off", all, shown)
	}
}

// checkOutlook holds what asks for stretches against going through all windows.
func checkOutlook(t *rapid.T, d *drawer, rep *audit.Report, edge func() records.Instant) {
	t.Helper()
	x := &records.Excuse{From: edge(), To: edge()}
	var covered, overdue []*audit.Judged
	byFinding := map[string]*audit.Judged{}
	for _, w := range rep.Work {
		for i := range w.Windows {
			j := &w.Windows[i]
			if x.From <= j.Opens && j.Due <= x.To {
				covered = append(covered, j)
			}
			if j.Result == audit.Overdue {
				overdue = append(overdue, j)
			}
			if id := j.FindingID(w.Duty); id != "" {
				byFinding[id] = j
			}
		}
	}
	for name, c := range map[string]struct {
		got  []audit.Piece
		want []*audit.Judged
	}{"covered": {rep.Covered(x), covered}, "overdue": {rep.Outlook(30).Overdue, overdue}} {
		got := map[*audit.Judged]bool{}
		for _, p := range c.got {
			got[p.Judged] = true
		}
		want := map[*audit.Judged]bool{}
		for _, j := range c.want {
			want[j] = true
		}
		if !reflect.DeepEqual(got, want) || len(c.got) != len(c.want) {
			t.Fatalf("%d are %s from %s to %s, going through all finds %d", len(c.got), name, x.From, x.To, len(c.want))
		}
	}
	for _, f := range rep.Findings {
		if got := rep.WindowOf(f); got != byFinding[f.ID] {
			t.Fatalf("the window of %s is %+v, going through all finds %+v", f.ID, got, byFinding[f.ID])
		}
	}
}

// After years, what one day can have to do with is weeks and no more.
func TestBetweenStaysShort(t *testing.T) {
	st := state.New()
	sum := sha256.Sum256([]byte(roundTheClock))
	start := instant("2025-01-01T00:00:00Z")
	st.Apply(0, records.Entry{ID: records.EntryID{6: 0x70, 8: 0x80, 15: 1}, Happened: start, Recorded: start, By: "nora", Meaning: records.Performed, Kind: records.KindPlan,
		Fact: &records.Adoption{Text: roundTheClock, SHA256: hex.EncodeToString(sum[:])}})
	rep := audit.At(st, start.Add(5*365*24*time.Hour))
	w := rep.Work[0]
	if len(w.Windows) < 5*365 {
		t.Fatalf("%d windows in five years", len(w.Windows))
	}
	for _, back := range []int{0, 1, 30, 400, 1500} {
		day := rep.At.Add(-time.Duration(back) * 24 * time.Hour)
		if windows, _ := w.Between(day, day.Add(24*time.Hour)); len(windows) < 2 || len(windows) > 60 {
			t.Errorf("%d windows for a day %d days ago", len(windows), back)
		}
	}
	if windows, _ := w.Since(rep.At); len(windows) > 60 {
		t.Errorf("%d windows for what waits", len(windows))
	}
}
