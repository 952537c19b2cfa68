package trace

import (
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"grainward/records"
	"grainward/records/lots"
)

func resolve(t *testing.T, j *journal, text string) ([]records.LotCode, error) {
	t.Helper()
	st, f := j.fold(t, lots.Forever-1)
	s, err := ParseSubject(text, st.PlanAt(f.At).Location())
	if err != nil {
		return nil, err
	}
	_, found, err := Resolve(st, f, s)
	var out []records.LotCode
	for _, i := range found {
		out = append(out, f.Lots[i].Code)
	}
	return out, err
}

// exposures: R1 and R2 in the silo after suds; swept with suds again at hour 20, with water at hour 21; R3 comes at that very instant.
func exposures() *journal {
	j := oneWay()
	at := func(n int) records.Instant { return day + records.Instant(n)*60*minute }
	use := func(a records.AgentCode) []records.AgentUse { return []records.AgentUse{{Agent: a}} }
	j.add(at(20), "ben", &records.Signoff{Task: "sweep", Station: "silo", Outcome: records.Passed, Agents: use("suds")})
	j.add(at(21), "ben", &records.Signoff{Task: "sweep", Station: "silo", Started: at(20) + minute, Outcome: records.Passed, Agents: use("water")})
	j.add(at(21), "ana", &records.Receipt{Lot: "R3", Item: "barley", Status: records.Organic, Weight: wet(50, 10), To: "silo", Source: "farm", TheirLot: "FIELD 7"})
	j.add(at(22), "ben", &records.Signoff{Task: "sweep", Station: "kiln", Outcome: records.Failed, Agents: use("suds")})
	j.add(at(23), "ana", &records.Receipt{Lot: "lot:odd", Item: "barley", Status: records.Organic, Weight: wet(50, 10), To: "kiln", Source: "farm"})
	return j
}

func TestSubjects(t *testing.T) {
	j := exposures()
	// day is 2026-01-09 18:06:40 in New York (23:06:40 UTC).
	if got := day.Time().Format(time.RFC3339); got != "2026-01-09T23:06:40Z" {
		t.Fatal(got)
	}
	for _, c := range []struct {
		text string
		want string
	}{
		{"M1", "M1"},
		{" lot:M1 ", "M1"},
		{"lot:odd", "lot:odd"}, // a lot code may look like anything
		{"label:M1", "M1"},
		{"label:M1/13", "M1"},
		{"label:M1#1", "M1"},
		{"label:M1 7", "M1"},
		{"partner:farm", "R1 R2 R3 lot:odd"},
		{"partner:brewer", "M1"},
		{"partner:depot", "M1"}, // taken in and handed on
		{"their-lot:Field 7", "R1 R3"},
		{"station:silo", "R1 R2 R3"},
		{"station:silo@2026-01-09T18:30..2026-01-09T19:30", "R1"},
		{"station:silo@..2026-01-09", "R1 R2"},
		{"station:silo@2026-01-09", "R1 R2"},
		{"station:silo@2026-01-10T15:06:40..", "R3"}, // R1 and R2 are found gone at that instant, by the sweep of hour 21 - or 20
		{"station:silo@2026-01-10T20:06:40Z..2026-01-11", "R3"},
		{"station:pit@2026-01-10T00:06:40Z..2026-01-10T00:06:40Z", "R1"}, // passed through at that instant
		{"station:belt", ""},                                             // known, and nothing ever ran over it
		{"agent:suds", "R1 R2 lot:odd"},
		{"agent:water", "R3"},
		{"person:ana", "R1 R2 M1 B1 R3 lot:odd"},
	} {
		got, err := resolve(t, j, c.text)
		if err != nil {
			t.Errorf("%s: %v", c.text, err)
			continue
		}
		var words []string
		for _, l := range got {
			words = append(words, string(l))
		}
		if strings.Join(words, " ") != c.want {
			t.Errorf("%s: %s, want %s", c.text, strings.Join(words, " "), c.want)
		}
	}
}

func TestSubjectsThatAreNone(t *testing.T) {
	j := exposures()
	for _, c := range []struct {
		text string
		kind records.ErrorKind
		says string
	}{
		{"", records.Invalid, "nothing is named"},
		{"partner:", records.Invalid, "nothing is named"},
		{"a lot", records.Invalid, "lot alphabet"},
		{"station:silo@yesterday", records.Invalid, "no stretch of time"},
		{"station:silo@2026-02-30..", records.Invalid, "is no time"},
		{"station:silo@2026-02-02..2026-02-01", records.Invalid, "ends"},
		{"person:ANA", records.Invalid, "lower-case"},
		{"M2", records.NotFound, "Did you mean M1, R2?"},
		{"label:M1/14", records.NotFound, "13 bags"},
		{"label:ZZZZZZ/1", records.NotFound, "trace can start from"},
		{"partner:bakre", records.NotFound, "baker"},
		{"their-lot:Feild 7", records.NotFound, "Field 7"},
		{"station:klin", records.NotFound, "kiln"},
		{"agent:sudz", records.NotFound, "suds"},
		{"person:bne", records.NotFound, "ben"},
	} {
		_, err := resolve(t, j, c.text)
		if err == nil || records.KindOf(err) != c.kind || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%q: %v, want kind %d with %q", c.text, err, c.kind, c.says)
		}
	}
}

// TestAStationsLotsMinuteByMinute holds the lots of a stretch against looking at the station at every minute of it; the
// histories move at whole multiples of ten minutes.
func TestAStationsLotsMinuteByMinute(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		st, f := history(t).fold(t, lots.Forever-1)
		from := day + records.Instant(rapid.IntRange(-10, 320).Draw(t, "from"))*minute
		to := from + records.Instant(rapid.IntRange(0, 120).Draw(t, "long"))*minute
		station := rapid.SampledFrom([]records.StationCode{"silo", "floor", "kiln", "store", "belt", "pit"}).Draw(t, "station")
		_, got, err := Resolve(st, f, Subject{Of: OfStation, Code: string(station), From: from, To: to})
		if err != nil {
			t.Fatal(err)
		}
		want := map[int]bool{}
		for at := from; at <= to; at += minute {
			for c := range f.Contacts[station].All() {
				if c.From == at && c.To == at || c.From <= at && at < c.To {
					want[c.Lot] = true
				}
			}
		}
		if len(got) != len(want) || slices.ContainsFunc(got, func(i int32) bool { return !want[int(i)] }) {
			t.Fatalf("%v, minute by minute %v", got, want)
		}
	})
}

func FuzzParseSubject(f *testing.F) {
	for _, s := range []string{"M1", "label:M1/13", "station:silo@2026-01-09..", "station:silo@..2026-01-09T10:00", "their-lot: x", "person:@"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		s, err := ParseSubject(text, time.UTC)
		if err != nil {
			if records.KindOf(err) != records.Invalid {
				t.Fatal(err)
			}
			return
		}
		if s.Code == "" || s.To < s.From {
			t.Fatalf("%+v", s)
		}
	})
}
