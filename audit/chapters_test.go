package audit_test

import (
	"crypto/sha256"
	"encoding/hex"
	"reflect"
	"testing"
	"time"

	"pgregory.net/rapid"

	"grainward/audit"
	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/plan"
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
	now := instant("2025-03-10T12:00:00Z")
	auditor := new(audit.Auditor)
	if got := auditor.At(st.Snapshot(), now).Findings; len(got) < 25 {
		t.Fatalf("%d windows were missed", len(got))
	}
	if n := auditor.Chapters()[state.Duty{Task: "round", Station: "yard"}]; n != 3 {
		t.Fatalf("there are %d chapters", n)
	}
	// Any of the openings may be where it was cut.
	for day := range 45 {
		write(instant("2025-01-20T06:00:00Z").Add(time.Duration(day)*24*time.Hour), &records.Signoff{Task: "round", Station: "yard", Outcome: records.Passed})
		got, fresh := auditor.At(st.Snapshot(), now), audit.At(st, now)
		var want *audit.Report
		audit.InOnePiece(func() { want = audit.At(st, now) })
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

// yard is a plan with a task for each way in which windows can lie: end to end, apart, over each other, after other work, after the
// task's own, while something holds, in shifts, and none. What the round asks for differs from one text to the next.
func yard(opens, lapses string) string {
	return `grainward: 1
plant: {name: Rook End Maltings, address: '3 Rook End', zone: UTC, units: lb, languages: [en], since: 2025-01-01}
profile: {allergens: [US], lateEntry: 2400h}
shifts: [{code: day, title: Day, from: '06:00', to: '18:00'}, {code: night, title: Night, from: '18:00', to: '06:00'}]
people: [{code: nora, name: Nora, initials: N, role: lead}, {code: hugo, name: Hugo, initials: H, role: crew, until: 2025-01-09}]
stations: [{code: yard, title: Yard, kind: yard, holds: passes}]
documents: [{code: licence, title: L, of: plant}, {code: leave, title: L, of: plant}]
agents: [{code: water, title: W, organic: "yes"}, {code: lye, title: A, organic: "yes", approval: leave}]
instruments: [{code: scale, title: I, station: yard, calibration: check, holds: 2d}]
tasks:
  - {code: round, title: T, family: walk-round, stations: [yard], when: [{rule: FREQ=DAILY, opens: '` + opens + `', due: '18:00', lapses: '` + lapses + `'}]}
  - {code: apart, title: T, family: sanitation, stations: [yard], relies: [licence], when: [{rule: FREQ=DAILY, opens: '00:00', due: '06:00', lapses: '12:00'}, {rule: FREQ=DAILY, opens: '18:00', due: '00:00 +1', lapses: '00:00 +1'}]}
  - {code: over, title: T, family: floor, stations: [yard], agents: [water, lye], when: [{rule: FREQ=DAILY;INTERVAL=3, opens: '06:00', due: '06:00 +1', lapses: '06:00 +2'}, {rule: FREQ=WEEKLY, opens: '06:00', due: '12:00', lapses: '18:00 +1'}]}
  - {code: wipe, title: T, family: sanitation, stations: [yard], trained: true, asks: [{code: left, title: A, type: number, unit: mg/L, limits: {max: 1}, residue: true}]}
  - {code: teach, title: T, family: training, stations: [yard], trains: [wipe]}
  - {code: check, title: T, family: calibration, stations: [yard], when: [{eachShift: true, grace: 0m}]}
  - {code: weigh, title: T, family: monitoring, stations: [yard], when: [{after: {kind: signoff, task: wipe, passed: true}, dueIn: 6h, lapsesIn: 12h}], asks: [{code: shown, title: A, type: number, unit: lb, instrument: scale}]}
  - {code: again, title: T, family: pest, stations: [yard], when: [{after: {kind: signoff, task: again}, dueIn: 12h, lapsesIn: 1d}]}
  - {code: watch, title: T, family: turning, stations: [yard], while: {from: wipe, until: check}, when: [{rule: FREQ=DAILY, opens: '06:00', due: '12:00', lapses: '18:00'}]}
`
}

// An auditor that has cut its work into short chapters, and keeps those that nothing touched, says what is said when everything is
// judged in one piece: whatever arrives late and however late, whatever is corrected, and when the moment goes back.
func TestChapters(t *testing.T) {
	if _, err := plan.Parse([]byte(yard("06:00", "18:00"))); err != nil {
		t.Fatal(err) // a plan that can not be read would test next to nothing
	}
	most := 0
	rapid.Check(t, func(t *rapid.T) {
		d := &drawer{T: t}
		audit.SettleSooner(t, time.Duration(rapid.IntRange(1, 48).Draw(t, "settled"))*time.Hour, time.Duration(rapid.IntRange(1, 72).Draw(t, "long"))*time.Hour)
		start := instant("2025-01-01T00:00:00Z")
		now := start
		st, auditor := state.New(), new(audit.Auditor)
		write := func(happened records.Instant, by records.PersonCode, f records.Fact) {
			e := records.Entry{ID: d.id(), Happened: happened, Recorded: now, By: by, Meaning: records.Performed, Kind: f.Kind(), Fact: f}
			st.Apply(st.Size(), e)
			d.entries = append(d.entries, e)
		}
		adopt := func(happened records.Instant) {
			text := yard(pick(d, "opens", []string{"06:00", "12:00"}), pick(d, "lapses", []string{"06:00 +1", "18:00", "12:00 +1"}))
			sum := sha256.Sum256([]byte(text))
			write(happened, "nora", &records.Adoption{Text: text, SHA256: hex.EncodeToString(sum[:])})
		}
		// when is now, or any time since the start, or soon; mostly at the edge of a window, or a millisecond beside it.
		when := func() records.Instant {
			at := now
			switch {
			case d.often(50, "late"):
				at = start + records.Instant(rapid.Int64Range(0, int64(now-start)).Draw(t, "how late"))
			case d.often(5, "ahead of its time"):
				at = now.Add(30 * time.Hour)
			}
			const quarter = 6 * 3600 * 1000
			return at/quarter*quarter + pick(d, "beside", []records.Instant{0, 0, 0, -1, 1})
		}
		adopt(start)
		steps := rapid.IntRange(5, 30).Draw(t, "steps")
		for step := range steps {
			now = now.Add(time.Duration(rapid.IntRange(0, 48).Draw(t, "hours")) * time.Hour)
			for range rapid.IntRange(0, 3).Draw(t, "entries") {
				switch what := rapid.IntRange(0, 99).Draw(t, "what"); {
				case what < 3:
					adopt(when())
				case what < 7:
					from := when()
					write(when(), "nora", &records.Excuse{Task: pick(d, "excused", []records.TaskCode{"", "round", "over"}), From: from, To: from.Add(36 * time.Hour), Reason: "r"})
				case what < 11:
					paper := &records.Document{Code: pick(d, "paper", []records.DocumentCode{"licence", "leave"}), Title: "L", Type: "licence", Subject: records.Subject{Of: "plant"}}
					if d.often(70, "begins") {
						from := calendar.Date(when() / (24 * 3600 * 1000))
						paper.From = &from
					}
					write(when(), "nora", paper)
				case what < 18:
					c := &records.Correct{Target: pick(d, "target", d.entries).ID, Reason: "r", Withdraw: true}
					if d.often(50, "moved") {
						c.Withdraw, c.With = false, &records.Replacement{Kind: records.KindSignoff, Fact: d.yardwork(when), Happened: when()}
					}
					write(now, "nora", c)
				default:
					write(when(), pick(d, "by", []records.PersonCode{"nora", "hugo"}), d.yardwork(when))
				}
			}
			at := now
			if d.often(25, "back") {
				at = start + records.Instant(rapid.Int64Range(0, int64(now-start)).Draw(t, "how far"))
			}
			snapshot := st.Snapshot()
			var whole *audit.Report
			audit.InOnePiece(func() { whole = audit.At(snapshot, at) })
			judge := map[string]func(*state.State, records.Instant) *audit.Report{"going on": auditor.At}
			if step == steps-1 {
				judge["from nothing"] = audit.At
			}
			for name, judge := range judge {
				got := judge(snapshot, at)
				if !reflect.DeepEqual(got.Findings, whole.Findings) {
					t.Fatalf("%s, at %s:%s\n%s", name, at, differ(got.Findings, whole.Findings), d.show())
				}
				if !reflect.DeepEqual(judged(got, 1<<60), judged(whole, 1<<60)) {
					t.Fatalf("%s, windows at %s:%s\n%s", name, at, differ(judged(got, 1<<60), judged(whole, 1<<60)), d.show())
				}
				if !same(unplanned(got), unplanned(whole)) {
					t.Fatalf("%s, unplanned at %s: %v; in one piece %v\n%s", name, at, unplanned(got), unplanned(whole), d.show())
				}
			}
			for _, n := range auditor.Chapters() {
				most = max(most, n)
			}
		}
	})
	if most < 8 {
		t.Errorf("no duty had more than %d chapters, so little was tried", most)
	}
}

// A photo that is filed leaves the work of every duty as it was; a licence has those judged again that rely on it.
func TestPapersTouchWhatReliesOnThem(t *testing.T) {
	start := instant("2025-01-01T00:00:00Z")
	now := start.Add(40 * 24 * time.Hour)
	st, n := state.New(), byte(0)
	write := func(f records.Fact) {
		n++
		st.Apply(st.Size(), records.Entry{ID: records.EntryID{6: 0x70, 8: 0x80, 15: n}, Happened: start.Add(time.Duration(n) * time.Hour), Recorded: now, By: "nora", Meaning: records.Performed, Kind: f.Kind(), Fact: f})
	}
	text := yard("06:00", "18:00")
	sum := sha256.Sum256([]byte(text))
	write(&records.Adoption{Text: text, SHA256: hex.EncodeToString(sum[:])})
	for range 3 {
		write(&records.Signoff{Task: "apart", Station: "yard", Outcome: records.Passed})
		write(&records.Signoff{Task: "round", Station: "yard", Outcome: records.Passed})
	}
	auditor := new(audit.Auditor)
	lapsed := func(rep *audit.Report) (n int) {
		for _, f := range rep.Findings {
			if f.Rule == "document-lapsed" {
				n++
			}
		}
		return n
	}
	work := func(rep *audit.Report, task records.TaskCode) *audit.Work {
		return rep.Duty(state.Duty{Task: task, Station: "yard"})
	}
	before := auditor.At(st.Snapshot(), now)
	if lapsed(before) != 3 {
		t.Fatalf("%d sign-offs rely on a licence that is not on file", lapsed(before))
	}
	write(&records.Document{Code: "photo-1", Title: "P", Type: "photo", Subject: records.Subject{Of: "plant"}})
	photo := auditor.At(st.Snapshot(), now)
	for i, w := range before.Work {
		if photo.Work[i] != w {
			t.Errorf("%s was judged again for a photo", w.Duty.Task)
		}
	}
	write(&records.Document{Code: "licence", Title: "L", Type: "licence", Subject: records.Subject{Of: "plant"}})
	licence := auditor.At(st.Snapshot(), now)
	if lapsed(licence) != 0 || work(licence, "apart") == work(photo, "apart") || work(licence, "round") != work(photo, "round") {
		t.Errorf("a licence was filed: %d rely on none, apart judged again %t, round %t", lapsed(licence), work(licence, "apart") != work(photo, "apart"), work(licence, "round") != work(photo, "round"))
	}
}

// yardwork is a sign-off of one of the yard's tasks.
func (d *drawer) yardwork(when func() records.Instant) *records.Signoff {
	s := &records.Signoff{Task: pick(d, "task", []records.TaskCode{"round", "round", "apart", "over", "wipe", "wipe", "teach", "check", "weigh", "again", "watch"}), Station: "yard",
		Outcome: pick(d, "outcome", []records.Outcome{records.Passed, records.Passed, records.Failed})}
	if d.often(30, "named") {
		s.Window = when()
	}
	switch s.Task {
	case "over":
		if d.often(50, "with an agent") {
			s.Agents = []records.AgentUse{{Agent: pick(d, "agent", []records.AgentCode{"water", "lye"})}}
		}
	case "teach":
		s.Trainees = []records.PersonCode{pick(d, "trainee", []records.PersonCode{"nora", "hugo"})}
	case "wipe":
		s.Answers = []records.Response{{Ask: "left", Value: &records.Quantity{Value: pick(d, "left", []records.Decimal{records.NewDecimal(5, 1), records.NewDecimal(2, 0)}), Unit: "mg/L"}}}
	case "weigh":
		s.Answers = []records.Response{{Ask: "shown", Value: &records.Quantity{Value: records.NewDecimal(50, 0), Unit: "lb"}}}
	}
	return s
}

func unplanned(r *audit.Report) (all []records.Position) {
	for _, w := range r.Work {
		for _, rec := range w.Unplanned {
			all = append(all, rec.Position)
		}
	}
	return all
}

func instant(text string) records.Instant {
	i, err := records.ParseInstant(text)
	if err != nil {
		panic(err)
	}
	return i
}
