package audit_test

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"grainward/audit"
	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/plan"
	"grainward/records/state"
)

// A small plant for what a lead asks: two tasks every working day, an instrument, training, two documents that are wanted.
const outlookPlan = `grainward: 1
plant: {name: Testhof Malt, address: 1 Test Lane, zone: America/New_York, units: lb, languages: [en], since: 2026-03-01, nonWorking: {weekdays: [sat, sun], dates: [2026-03-12]}}
profile: {allergens: [US], reviewWorkingDays: 7, lateEntry: 24h, keepYears: {food: 2, organic: 5}}
stations:
  - {code: floor-1, title: Floor 1, kind: germination floor, holds: separate}
  - {code: bench, title: Bench, kind: bench, holds: nothing}
agents:
  - {code: foam, title: Foam, organic: conditions, check: rinse, approval: foam-approval}
documents:
  - {code: water-test, title: Water test, of: plant}
  - {code: foam-approval, title: Approval of foam, of: agent, about: foam}
instruments:
  - {code: meter, title: Meter, station: bench, calibration: check-meter, holds: 7d}
tasks:
  - code: scrub
    title: Scrub
    family: floor
    stations: [floor-1]
    agents: [foam]
    relies: [water-test]
    trained: true
    when: [{rule: FREQ=DAILY, opens: "06:00", due: "10:00", lapses: "20:00"}]
    asks: [{code: clean, title: Clean, type: yesno, right: "yes"}]
  - {code: check-meter, title: Check the meter, family: calibration, stations: [bench]}
  - {code: teach, title: Teach the scrub, family: training, stations: [floor-1], trains: [scrub]}
partners:
  - {code: farm, name: Farm, roles: [supplier], certificates: [water-test]}
people:
  - {code: ana, name: Ana Test, initials: AT, role: lead, trained: [{task: scrub, on: 2026-01-05}]}
  - {code: ben, name: Ben Test, initials: BT, role: crew}
  - {code: vee, name: Vee Test, initials: VT, role: visitor}
`

// desk writes entries into a state, in order.
type desk struct {
	*testing.T
	st *state.State
	n  int
}

func newDesk(t *testing.T) *desk {
	d := &desk{T: t, st: state.New()}
	sum := sha256.Sum256([]byte(outlookPlan))
	if _, err := plan.Parse([]byte(outlookPlan)); err != nil {
		t.Fatal(err)
	}
	d.writes("2026-03-02 05:00", "ana", &records.Adoption{Text: outlookPlan, SHA256: hex.EncodeToString(sum[:])})
	return d
}

var zone = func() *time.Location {
	l, err := time.LoadLocation("America/New_York")
	if err != nil {
		panic(err)
	}
	return l
}()

func wall(text string) records.Instant {
	t, err := time.ParseInLocation("2006-01-02 15:04", text, zone)
	if err != nil {
		panic(err)
	}
	return records.InstantOf(t)
}

func (d *desk) writes(when string, by records.PersonCode, f records.Fact) records.Position {
	d.n++
	row, _ := records.RowOf(f.Kind())
	id := records.EntryID{6: 0x70, 8: 0x80, 15: byte(d.n)}
	pos := d.st.Size()
	d.st.Apply(pos, records.Entry{ID: id, Happened: wall(when), Recorded: wall(when), By: by, Meaning: row.Meanings[0], Kind: f.Kind(), Fact: f})
	return pos
}

func (d *desk) at(when string) *audit.Report { return audit.At(d.st.Snapshot(), wall(when)) }

func scrubbed() *records.Signoff {
	clean := true
	return &records.Signoff{Task: "scrub", Station: "floor-1", Outcome: records.Passed, Answers: []records.Response{{Ask: "clean", Yes: &clean}}}
}

// The clock of the review is counted here by walking the calendar: Monday 2 March, seven working days, and the 12th is closed.
func TestOwed(t *testing.T) {
	d := newDesk(t)
	d.writes("2026-03-02 07:00", "ben", scrubbed())
	d.writes("2026-03-03 07:00", "ben", scrubbed())
	walk := func(from, to string) (n int) { // working days after one day, up to another
		day, _ := calendar.ParseDate(from)
		last, _ := calendar.ParseDate(to)
		for day++; day <= last; day++ {
			if w := day.Weekday(); w != time.Saturday && w != time.Sunday && day.String() != "2026-03-12" {
				n++
			}
		}
		return n
	}
	for _, c := range []struct {
		now  string
		left [2]int
		late [2]bool
	}{
		{"2026-03-03 12:00", [2]int{6, 7}, [2]bool{}},
		{"2026-03-10 12:00", [2]int{1, 2}, [2]bool{}},
		{"2026-03-11 23:59", [2]int{0, 1}, [2]bool{}},
		{"2026-03-12 00:00", [2]int{0, 1}, [2]bool{true, false}},
		{"2026-03-14 00:00", [2]int{0, 0}, [2]bool{true, true}},
	} {
		rep := d.at(c.now)
		owed := rep.Owed()
		if len(owed) != 2 || owed[0].Day.String() != "2026-03-02" || owed[0].Limit.String() != "2026-03-11" || owed[1].Limit.String() != "2026-03-13" {
			t.Fatalf("%s: %+v", c.now, owed)
		}
		for i, b := range owed {
			if b.Left(rep.At) != c.left[i] || b.Late(rep.At) != c.late[i] {
				t.Errorf("at %s day %s has %d left (late %v), not %d (%v)", c.now, b.Day, b.Left(rep.At), b.Late(rep.At), c.left[i], c.late[i])
			}
			if want := walk(c.now[:10], b.Limit.String()); b.Left(rep.At) != want {
				t.Errorf("at %s day %s has %d left, walking says %d", c.now, b.Day, b.Left(rep.At), want)
			}
			if found := slices.ContainsFunc(rep.Findings, func(f *audit.Finding) bool { return f.ID == "review-missed:"+b.Day.String() }); found != b.Late(rep.At) {
				t.Errorf("at %s the finding and the clock of %s differ", c.now, b.Day)
			}
		}
	}
}

func TestReviewOf(t *testing.T) {
	d := newDesk(t)
	first := d.writes("2026-03-02 07:00", "ben", scrubbed())
	second := d.writes("2026-03-02 08:00", "ben", &records.Deviation{What: "A gull got in."})
	d.writes("2026-03-02 09:00", "ana", &records.Review{From: first, To: second, Except: []records.EntryID{d.st.First(second).ID}})
	d.writes("2026-03-02 10:00", "ben", scrubbed())
	rep := d.at("2026-03-02 12:00")
	day, _ := calendar.ParseDate("2026-03-02")
	got := ""
	for _, v := range rep.ReviewOf(rep.Batch(day)) {
		got += fmt.Sprintf("%d %q %v %v; ", v.Record.Position, v.Family, v.By != nil, v.Excepted != nil)
	}
	if want := `1 "floor" true false; 2 "" false true; 4 "floor" false false; `; got != want {
		t.Errorf("%s\nwant %s", got, want)
	}
	if n := rep.Batch(day).Open; n != 2 {
		t.Errorf("%d are open", n)
	}
	if rep.Batch(day+1) != nil {
		t.Error("a day without records has a batch")
	}
}

// Every window that Covered names is excused once the excuse is signed, and no other one is.
func TestCoveredIsWhatIsExcused(t *testing.T) {
	for _, x := range []records.Excuse{
		{From: wall("2026-03-03 00:00"), To: wall("2026-03-05 00:00"), Reason: "flood"},
		{From: wall("2026-03-03 06:00"), To: wall("2026-03-03 10:00"), Reason: "flood"},
		{From: wall("2026-03-03 06:01"), To: wall("2026-03-04 09:59"), Reason: "flood"}, // touches two, covers none
		{Task: "teach", From: wall("2026-03-03 00:00"), To: wall("2026-03-05 00:00"), Reason: "flood"},
		{Task: "scrub", Station: "floor-1", From: wall("2026-03-02 00:00"), To: wall("2026-03-30 00:00"), Reason: "flood"},
	} {
		d := newDesk(t)
		d.writes("2026-03-04 07:00", "ben", scrubbed())
		before := d.at("2026-03-06 12:00")
		covered := map[records.Instant]bool{}
		for _, p := range before.Covered(&x) {
			covered[p.Opens] = true
		}
		was := map[records.Instant]audit.Result{}
		for _, j := range before.Duty(state.Duty{Task: "scrub", Station: "floor-1"}).Windows {
			was[j.Opens] = j.Result
		}
		d.writes("2026-03-06 11:00", "ana", &x)
		for _, j := range d.at("2026-03-06 12:00").Duty(state.Duty{Task: "scrub", Station: "floor-1"}).Windows {
			want := was[j.Opens]
			if covered[j.Opens] && want != audit.Done {
				want = audit.Excused
			}
			if j.Result != want {
				t.Errorf("%v: the window of %s became %s, not %s", x, j.Opens, j.Result, want)
			}
		}
	}
}

func TestOutlook(t *testing.T) {
	d := newDesk(t)
	d.writes("2026-03-03 07:00", "ben", scrubbed()) // the 2nd is missed, and ben was never trained
	to, _ := calendar.ParseDate("2026-04-20")
	d.writes("2026-03-03 08:00", "ana", &records.Document{Code: "water-test", Title: "Water test", Type: "report", Subject: records.Subject{Of: "plant"}, To: &to})
	rep := d.at("2026-03-04 11:00") // due by 10:00 and open until 20:00
	o := rep.Outlook(60)
	if len(o.Overdue) != 1 || o.Overdue[0].Due != wall("2026-03-04 10:00") {
		t.Errorf("overdue: %+v", o.Overdue)
	}
	if o.Oldest == nil || o.Oldest.Rule != "document-missing" || o.Oldest.When != wall("2026-03-02 05:00") { // missing since the plan came into force
		t.Errorf("oldest: %+v", o.Oldest)
	}
	var papers []string
	for _, p := range o.Expiring {
		papers = append(papers, fmt.Sprintf("%s %s %d", p.Code, p.Standing, p.Left))
	}
	if got := strings.Join(papers, "; "); got != "foam-approval missing 0; water-test holds 47" {
		t.Error(got)
	}
	if n := len(rep.Outlook(40).Expiring); n != 1 {
		t.Errorf("%d run out within 40 days", n)
	}
	sum := 0
	for _, n := range o.Open {
		sum += n
	}
	if sum != len(rep.Findings) || len(o.Owed) != 1 {
		t.Errorf("%d open of %d, %d owed", sum, len(rep.Findings), len(o.Owed))
	}
	for _, f := range rep.Findings {
		if j := rep.WindowOf(f); (j != nil) != (f.Rule == "missed" || f.Rule == "overdue") || j != nil && j.Due != f.When {
			t.Errorf("%s has the window %+v", f.ID, j)
		}
	}
}

func TestRegister(t *testing.T) {
	d := newDesk(t)
	file := func(when, code, from, to string) records.Position {
		doc := &records.Document{Code: records.DocumentCode(code), Title: "Paper " + when, Type: "certificate", Subject: records.Subject{Of: "plant"}}
		if from != "" {
			x, _ := calendar.ParseDate(from)
			doc.From = &x
		}
		if to != "" {
			x, _ := calendar.ParseDate(to)
			doc.To = &x
		}
		return d.writes(when, "ana", doc)
	}
	file("2026-03-02 06:00", "water-test", "2025-03-10", "2026-03-09")
	file("2026-03-02 07:00", "farm-organic", "", "")
	say := func(now string) (out string) {
		rep := d.at(now)
		for _, p := range rep.Register() {
			out += fmt.Sprintf("%s %s %d; ", p.Code, p.Standing, p.Left)
		}
		return out
	}
	for _, c := range []struct{ now, want string }{
		{"2026-03-09 23:59", "farm-organic holds 0; foam-approval missing 0; water-test holds 0; "},
		{"2026-03-10 00:00", "farm-organic holds 0; foam-approval missing 0; water-test expired -1; "},
	} {
		if got := say(c.now); got != c.want {
			t.Errorf("at %s: %s\nwant %s", c.now, got, c.want)
		}
	}
	newer := file("2026-03-10 09:00", "water-test", "2026-03-20", "2027-03-19")
	if got := say("2026-03-10 10:00"); got != "farm-organic holds 0; foam-approval missing 0; water-test coming 374; " {
		t.Error(got)
	}
	all := d.at("2026-03-25 10:00").Filings("water-test")
	if len(all) != 2 || all[0].Filing.Position != newer || all[0].Standing != audit.PaperHolds || all[1].Standing != audit.PaperReplaced || all[1].By != all[0].Filing {
		t.Errorf("%+v", all)
	}
	rel := d.at("2026-03-25 10:00").ReliesOn("farm-organic")
	if rel.Wanted || len(rel.Partners)+len(rel.Tasks)+len(rel.Agents) != 0 {
		t.Errorf("%+v", rel)
	}
	if rel := d.at("2026-03-25 10:00").ReliesOn("foam-approval"); !rel.Wanted || len(rel.Agents) != 1 {
		t.Errorf("%+v", rel)
	}
	if rel := d.at("2026-03-25 10:00").ReliesOn("water-test"); len(rel.Tasks) != 1 || len(rel.Partners) != 1 {
		t.Errorf("%+v", rel)
	}
}

func TestCalibrationsAndTraining(t *testing.T) {
	d := newDesk(t)
	say := func(now string) string {
		rep := d.at(now)
		c := rep.Calibrations()[0]
		out := fmt.Sprintf("%v %v %d;", c.Last != nil, c.Lapsed, c.Left)
		for _, row := range rep.Training() {
			on := "-"
			if row.On != nil {
				on = row.On.String()
			}
			out += fmt.Sprintf(" %s %s %v;", row.Person.Code, on, row.Record != nil)
		}
		return out
	}
	if got := say("2026-03-03 12:00"); got != "false true 0; ana 2026-01-05 false; ben - false;" {
		t.Error(got)
	}
	d.writes("2026-03-03 13:00", "ana", &records.Signoff{Task: "check-meter", Station: "bench", Outcome: records.Passed})
	d.writes("2026-03-03 14:00", "ana", &records.Signoff{Task: "teach", Station: "floor-1", Outcome: records.Failed, Trainees: []records.PersonCode{"ben"}})
	if got := say("2026-03-03 15:00"); got != "true false 7; ana 2026-01-05 false; ben - false;" {
		t.Error(got)
	}
	d.writes("2026-03-04 14:00", "ana", &records.Signoff{Task: "teach", Station: "floor-1", Outcome: records.Passed, Trainees: []records.PersonCode{"ben"}})
	d.writes("2026-03-05 14:00", "ana", &records.Signoff{Task: "teach", Station: "floor-1", Outcome: records.Passed, Trainees: []records.PersonCode{"ben", "ana"}})
	if got := say("2026-03-11 12:00"); got != "true true -1; ana 2026-01-05 false; ben 2026-03-04 true;" {
		t.Error(got)
	}
}
