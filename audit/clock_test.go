package audit_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"grainward/audit"
	"grainward/records"
	"grainward/records/state"
)

// A clock that went back is said once a day, of the largest jump; by five minutes, servers may differ.
func TestClockBack(t *testing.T) {
	start := instant("2025-01-01T00:00:00Z")
	const hour = 3600 * 1000
	for name, c := range map[string]struct {
		written []records.Instant // after the plan, which was written down at 0
		at      records.Instant
		want    []string
	}{
		"on and on":               {written: []records.Instant{1, 1, hour, hour}, at: 2 * hour},
		"by as much as may be":    {written: []records.Instant{hour, hour - 300_000}, at: 2 * hour},
		"by a millisecond more":   {written: []records.Instant{hour, hour - 300_001}, at: 2 * hour, want: []string{"clock-back:2025-01-01 [1 2]"}},
		"slowly":                  {written: []records.Instant{hour, hour - 200_000, hour - 400_000}, at: 2 * hour},
		"three times in a day":    {written: []records.Instant{4 * hour, 3 * hour, 5 * hour, 2 * hour, 3 * hour, 2 * hour}, at: 9 * hour, want: []string{"clock-back:2025-01-01 [3 4]"}},
		"twice by as much":        {written: []records.Instant{4 * hour, 3 * hour, 5 * hour, 4 * hour}, at: 9 * hour, want: []string{"clock-back:2025-01-01 [1 2]"}},
		"on two days":             {written: []records.Instant{10 * hour, 9 * hour, 30 * hour, 20 * hour}, at: 40 * hour, want: []string{"clock-back:2025-01-01 [1 2]", "clock-back:2025-01-02 [3 4]"}},
		"before there was a plan": {written: []records.Instant{-hour, -3 * hour, hour}, at: 2 * hour, want: []string{"clock-back:2025-01-01 [0 1]"}},
		"not yet":                 {written: []records.Instant{10 * hour, hour}, at: 9 * hour},
		"by then":                 {written: []records.Instant{10 * hour, hour}, at: 10 * hour, want: []string{"clock-back:2025-01-01 [1 2]"}},
	} {
		st := state.New()
		write := func(recorded records.Instant, f records.Fact) {
			st.Apply(st.Size(), records.Entry{ID: records.EntryID{6: 0x70, 8: 0x80, 15: byte(st.Size() + 1)}, Happened: start + recorded, Recorded: start + recorded, By: "nora",
				Meaning: records.Performed, Kind: f.Kind(), Fact: f})
		}
		auditor := new(audit.Auditor)
		write(0, &records.Adoption{Text: yard("06:00", "18:00")})
		for _, at := range c.written {
			write(at, &records.Signoff{Task: "round", Station: "yard", Outcome: records.Passed})
			auditor.At(st.Snapshot(), start+c.at)
		}
		var got []string
		for _, f := range auditor.At(st.Snapshot(), start+c.at).Findings {
			if f.Rule == "clock-back" {
				got = append(got, fmt.Sprint(f.ID, " ", f.Evidence))
			}
		}
		slices.Sort(got)
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, not %v", name, got, c.want)
		}
	}
}

// What is said of a clock that went back, in both languages.
func TestClockBackSaid(t *testing.T) {
	start := instant("2025-01-01T06:00:00Z")
	for jumps, want := range map[int][2]string{
		1: {"On 2025-01-01 the clock by which entries are written down went back by 3 hours, between entries 1 and 2: times after it may be too early, or those before it too late.",
			"El 2025-01-01 el reloj con que se anotan los registros retrocedió 3 horas, entre los registros 1 y 2: las horas posteriores pueden ser demasiado tempranas, o las anteriores demasiado tardías."},
		2: {"between entries 1 and 2, and once more that day: times", "entre los registros 1 y 2, y otra vez ese día: las horas"},
		4: {"between entries 1 and 2, and 3 more times that day: times", "entre los registros 1 y 2, y 3 veces más ese día: las horas"},
	} {
		st := state.New()
		now := start
		write := func(by time.Duration, f records.Fact) {
			now = now.Add(by)
			st.Apply(st.Size(), records.Entry{ID: records.EntryID{6: 0x70, 8: 0x80, 15: byte(st.Size() + 1)}, Happened: now, Recorded: now, By: "nora", Meaning: records.Performed, Kind: f.Kind(), Fact: f})
		}
		write(0, &records.Adoption{Text: yard("06:00", "18:00")})
		for range jumps {
			write(3*time.Hour, &records.Signoff{Task: "round", Station: "yard", Outcome: records.Passed})
			write(-3*time.Hour, &records.Signoff{Task: "round", Station: "yard", Outcome: records.Passed})
		}
		said := 0
		for _, f := range audit.At(st, start.Add(24*time.Hour)).Findings {
			if f.Rule != "clock-back" {
				continue
			}
			said++
			for i, lang := range []string{"en", "es"} {
				if got := f.Sentence(lang); !strings.Contains(got, want[i]) {
					t.Errorf("%d jumps: %q, not %q", jumps, got, want[i])
				}
			}
		}
		if said != 1 {
			t.Errorf("%d jumps are said %d times", jumps, said)
		}
	}
}
