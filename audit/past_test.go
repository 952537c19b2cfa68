package audit_test

import (
	"crypto/sha256"
	"encoding/hex"
	"reflect"
	"testing"
	"time"

	"grainward/audit"
	"grainward/records"
	"grainward/records/state"
)

const roundTheClock = `grainward: 1
plant: {name: Rook End Maltings, address: '3 Rook End', zone: UTC, units: lb, languages: [en], since: 2025-01-01}
profile: {allergens: [US], lateEntry: 720h}
people: [{code: nora, name: Nora, initials: N, role: lead}]
stations: [{code: yard, title: Yard, kind: yard, holds: passes}]
tasks:
  - code: round
    title: Round of the yard
    family: walk-round
    stations: [yard]
    when: [{rule: FREQ=DAILY, opens: '06:00', due: '18:00', lapses: '06:00 +1'}]
`

// A sign-off that comes late and happened at the very instant at which the settled past was cut off belongs to the window
// before it, when that one waits for one.
func TestSignedAtTheCut(t *testing.T) {
	start := instant("2025-01-01T00:00:00Z")
	st, n := state.New(), byte(0)
	write := func(happened records.Instant, f records.Fact) {
		n++
		st.Apply(st.Size(), records.Entry{ID: records.EntryID{6: 0x70, 8: 0x80, 15: n}, Happened: happened, Recorded: happened.Add(time.Second), By: "nora", Meaning: records.Performed, Kind: f.Kind(), Fact: f})
	}
	sum := sha256.Sum256([]byte(roundTheClock))
	write(start, &records.Adoption{Text: roundTheClock, SHA256: hex.EncodeToString(sum[:])})
	now := instant("2025-02-01T12:00:00Z")
	auditor := new(audit.Auditor)
	if got := auditor.At(st.Snapshot(), now).Findings; len(got) < 25 {
		t.Fatalf("%d windows were missed", len(got))
	}
	// Any of the openings of the last three weeks may be where it was cut.
	for day := range 21 {
		write(instant("2025-01-10T06:00:00Z").Add(time.Duration(day)*24*time.Hour), &records.Signoff{Task: "round", Station: "yard", Outcome: records.Passed})
		got, fresh := auditor.At(st.Snapshot(), now), audit.At(st, now)
		var want *audit.Report
		audit.WithoutPast(func() { want = audit.At(st, now) })
		if !reflect.DeepEqual(got.Findings, want.Findings) || !reflect.DeepEqual(fresh.Findings, want.Findings) {
			t.Fatalf("after a sign-off at the opening %d days on there are %d findings, and from nothing %d", day, len(got.Findings), len(want.Findings))
		}
		for i, j := range want.Work[0].Windows {
			if g := got.Work[0].Windows[i]; g.Opens != j.Opens || g.Result != j.Result {
				t.Fatalf("the window of %s is %s, and from nothing %s", j.Opens, g.Result, j.Result)
			}
		}
	}
}

func instant(text string) records.Instant {
	i, err := records.ParseInstant(text)
	if err != nil {
		panic(err)
	}
	return i
}
