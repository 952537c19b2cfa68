package audit_test

import (
	"crypto/sha256"
	"encoding/hex"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"grainward/audit"
	"grainward/records"
	"grainward/records/state"
)

// A round owed daily that nobody makes, tried on as a round owed on Mondays. The days are counted on a calendar: from Wednesday
// 22 January 2025 to Saturday 1 February noon ten rounds were missed, of which only that of Monday 27 January would be owed.
func TestUnderPlan(t *testing.T) {
	mondays := strings.Replace(roundTheClock, "FREQ=DAILY", "FREQ=WEEKLY;BYDAY=MO", 1)
	from, now := instant("2025-01-22T00:00:00Z"), instant("2025-02-01T12:00:00Z")
	for name, between := range map[string]bool{"one plan": false, "another adopted in between": true} {
		t.Run(name, func(t *testing.T) {
			st, n := state.New(), byte(0)
			adopt := func(happened records.Instant, text string) {
				n++
				sum := sha256.Sum256([]byte(text))
				st.Apply(st.Size(), records.Entry{ID: records.EntryID{6: 0x70, 8: 0x80, 15: n}, Happened: happened, Recorded: happened.Add(time.Second), By: "nora",
					Meaning: records.Approved, Kind: records.KindPlan, Fact: &records.Adoption{Text: text, SHA256: hex.EncodeToString(sum[:])}})
			}
			adopt(instant("2025-01-01T00:00:00Z"), roundTheClock)
			if between {
				adopt(instant("2025-01-25T00:00:00Z"), roundTheClock+"# again\n")
			}
			for i, ago := range []time.Duration{30 * time.Minute, 50 * time.Minute} { // the clock went back that day
				n++
				st.Apply(st.Size(), records.Entry{ID: records.EntryID{6: 0x70, 8: 0x80, 15: n}, Happened: now.Add(-time.Hour), Recorded: now.Add(-ago), By: "nora", Meaning: records.Performed, Kind: records.KindDocument,
					Fact: &records.Document{Code: records.DocumentCode("photo-" + string(rune('a'+i))), Title: "P", Type: "photo", Subject: records.Subject{Of: "plant"}}})
			}
			before, size := audit.At(st, now).Findings, st.Size()
			w := audit.UnderPlan(st, mondays, "nora", from, now)
			var gone []string
			for _, f := range w.Gone {
				if f.Rule == "missed" {
					gone = append(gone, f.When.String()[:10])
				}
			}
			slices.Sort(gone)
			want := "2025-01-22 2025-01-23 2025-01-24 2025-01-25 2025-01-26 2025-01-28 2025-01-29 2025-01-30 2025-01-31"
			if got := strings.Join(gone, " "); got != want {
				t.Errorf("gone: %s, not %s", got, want)
			}
			if !slices.ContainsFunc(before, func(f *audit.Finding) bool { return f.Rule == "clock-back" }) || slices.ContainsFunc(w.Gone, func(f *audit.Finding) bool { return f.Rule == "clock-back" }) {
				t.Errorf("a clock that went back is not said before, or no more under the other plan: %+v", w.Gone)
			}
			if len(w.Come) != 0 || w.Same == 0 {
				t.Errorf("%d come, %d are the same: %+v", len(w.Come), w.Same, w.Come)
			}
			if back := audit.UnderPlan(st, roundTheClock, "nora", from, now); len(back.Come)+len(back.Gone) != 0 {
				t.Errorf("the plan in force changes itself: %+v", back)
			}
			// nothing was owed before there was a plan
			early := audit.UnderPlan(st, roundTheClock, "nora", instant("2024-06-01T00:00:00Z"), now)
			if early.From != instant("2025-01-01T00:00:00Z") || len(early.Come)+len(early.Gone) != 0 {
				t.Errorf("tried since %s, %d come and %d go", early.From, len(early.Come), len(early.Gone))
			}
			if after := audit.At(st, now).Findings; st.Size() != size || !reflect.DeepEqual(before, after) {
				t.Error("the trial reached the state that others read")
			}
		})
	}
}
