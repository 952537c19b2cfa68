package plan

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"grainward/records"
	"grainward/records/calendar"
)

func mustParse(t testing.TB, text string) *Plan {
	t.Helper()
	p, err := Parse([]byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func TestStarter(t *testing.T) {
	p := mustParse(t, string(Starter()))
	for _, n := range p.Notes() {
		t.Errorf("the starter should leave nothing to remark: %v", n)
	}
	families := map[string]bool{}
	for _, task := range p.Tasks {
		families[task.Family] = true
		for _, lang := range p.Plant.Languages {
			if task.Title[lang] == "" {
				t.Errorf("task %s has no title in %s", task.Code, lang)
			}
			for _, c := range task.Cautions {
				if c.Text[lang] == "" {
					t.Errorf("a caution of task %s has no text in %s", task.Code, lang)
				}
			}
		}
	}
	for _, f := range Families() {
		if !families[f] {
			t.Errorf("no task of family %s", f)
		}
	}
	if strings.Contains(strings.ToLower(string(Starter())), "complian") {
		t.Error("the starter may not speak of compliance")
	}
	// 29 CFR 1910.1000 Table Z-1: ozone 0.1 ppm (see regulations.md section 5.1).
	if limit := p.Task("floor-scrub").Ask("room-air").Limits.Max; limit.String() != "0.1" {
		t.Errorf("ozone in room air: limit %s ppm, want 0.1", limit)
	}
	if got := p.Location().String(); got != "America/New_York" {
		t.Errorf("zone %s", got)
	}
}

func TestDefaults(t *testing.T) {
	p := mustParse(t, small)
	scrub := p.Task("scrub")
	for _, c := range []struct{ what, got, want string }{
		{"units", p.Plant.Units, "lb"},
		{"allergens", strings.Join(p.Profile.Allergens, " "), "US"},
		{"reviewWorkingDays", fmt.Sprint(p.Profile.ReviewDays), "7"},
		{"lateEntry", p.Profile.LateEntry.String(), "1d"},
		{"keepYears", fmt.Sprint(p.Profile.Keep), "{2 5}"},
		{"holds", p.Station("floor-1").Holds, "separate"},
		{"who", scrub.Who, "crew"},
		{"nonWorking", scrub.NonWorking, "rest"},
		{"station of an event", p.Task("wipe").When[0].After.Station, "any"},
		{"starts", scrub.When[0].Starts.String(), "2025-01-06"},
		{"bare text", p.Station("bench").Title["en"], "Bench"},
		{"decimal as written", scrub.Ask("air").Limits.Max.String(), "0.10"},
	} {
		if c.got != c.want {
			t.Errorf("%s: %q, want %q", c.what, c.got, c.want)
		}
	}
	quoted := mustParse(t, strings.Replace(small, "max: 0.10", `max: "0.10"`, 1))
	if d := Diff(p, quoted); len(d) > 0 {
		t.Errorf("a quoted decimal is another one: %v", d)
	}
	explicit := strings.Replace(small, "    family: floor\n", "    family: floor\n    who:\n    nonWorking: rest\n", 1)
	if d := Diff(p, mustParse(t, explicit)); len(d) > 0 {
		t.Errorf("a key with nothing after it is not left out: %v", d)
	}
}

func TestBareTextIsInTheFirstLanguage(t *testing.T) {
	p := mustParse(t, strings.Replace(small, "[en, es]", "[es, en]", 1))
	if got := p.Task("scrub").Title; got["es"] != "Scrub" || got["en"] != "" {
		t.Errorf("title %v", got)
	}
}

func TestNotes(t *testing.T) {
	for _, c := range []struct{ take, put, note string }{
		{"    clauses: [21 CFR 117.35]\n  - code: ice", "  - code: ice", "tasks[wipe]: it names no clause"},
		{"    - {cite: 21 CFR 117.35, title: Clean}\n", "    - {cite: 21 CFR 117.35, title: Clean}\n    - {cite: 21 CFR 117.10, title: People}\n", "evidence for 21 CFR 117.10"},
		{", approval: ozone-letter", "", "agents[ozone]: no document"},
		{`organic: "yes"`, "organic: conditions", "agents[ozone]: it is allowed with conditions"},
		{", instrument: probe", "", "instruments[probe]: no task asks"},
		{"    family: floor\n", "    family: floor\n    trained: true\n", ""},
		{"    family: sanitation\n", "    family: sanitation\n    trained: true\n", "tasks[wipe].trained: only trained people"},
		{"languages: [en, es]", "languages: [en]", "stations[floor-1].title: es is not among plant.languages"},
		{"roles: [supplier]", "roles: [laboratory]", ""},
		{"grade: washed}", "grade: none}", ""},
	} {
		if strings.Count(small, c.take) < 1 {
			t.Fatalf("%q is not in the small plan", c.take)
		}
		before, after := mustParse(t, small).Notes(), mustParse(t, strings.Replace(small, c.take, c.put, 1)).Notes()
		has := func(ns []Note) bool {
			return slices.ContainsFunc(ns, func(n Note) bool { return strings.Contains(n.String(), c.note) && n.Line > 0 })
		}
		if c.note == "" && len(after) > len(before) {
			t.Errorf("%q: a needless note among %v", c.put, after)
		}
		if c.note != "" && (!has(after) || has(before)) {
			t.Errorf("%q: no new note %q in %v", c.put, c.note, after)
		}
	}
}

func TestGradeFor(t *testing.T) {
	p := mustParse(t, string(Starter()))
	for _, c := range []struct {
		from, to string
		at       records.StationCode
		grade    records.GradeCode
		needed   bool
	}{
		{"organic", "organic", "mill", "", false},
		{"organic+wheat", "organic+wheat", "mill", "", false},
		{"conventional", "organic", "conveyor", "stripped", true},
		{"organic+wheat", "organic", "conveyor", "stripped", true},
		{"organic+wheat", "organic", "mill", "washed", true}, // the row that names the mill
		{"organic", "organic+wheat", "mill", "swept", true},  // a row asks for it though no allergen is carried over
		{"organic", "organic+sesame", "mill", "", false},     // no row, same status, nothing carried over
		{"organic+sesame", "organic", "mill", "washed", true},
		{"organic", "made-with", "mill", "washed", true},
		{"organic+sesame+wheat", "organic+wheat+sesame", "mill", "", false}, // one class, two spellings
		{"unreadable", "unreadable", "mill", "washed", true},
	} {
		if grade, needed := p.GradeFor(c.from, c.to, c.at); grade != c.grade || needed != c.needed {
			t.Errorf("%s to %s at %s: %q %v, want %q %v", c.from, c.to, c.at, grade, needed, c.grade, c.needed)
		}
	}
	none := mustParse(t, strings.Replace(small, "{from: conventional, to: organic, grade: washed}", `{from: "*", to: organic, grade: none}`, 1))
	if grade, needed := none.GradeFor("conventional+wheat", "organic", "bench"); needed {
		t.Errorf("a row with grade none asks for %q", grade)
	}
}

func TestDiffNamesTheEdit(t *testing.T) {
	whole := string(Starter())
	was := mustParse(t, whole)
	if d := Diff(was, mustParse(t, whole)); len(d) > 0 {
		t.Errorf("a plan differs from itself: %v", d)
	}
	for _, c := range []struct{ take, put, sentence string }{
		{"limits: {min: 0, max: 0.1}, instrument: air-meter", "limits: {min: 0, max: 0.05}, instrument: air-meter", "Task floor-scrub, ask room-air: limits max was 0.1, is now 0.05"},
		{"who: lead\n    relies: [pest-licence]", "relies: [pest-licence]", "Task pest-visit: who was lead, is now crew"},
		{"capacity: 8 ton", "capacity: 9 ton", "Station floor-3: capacity was 8 ton, is now 9 ton"},
		{"FREQ=WEEKLY;BYDAY=WE", "\"FREQ=WEEKLY;BYDAY=WE,SA\"", "Task drain-clean: when was FREQ=WEEKLY;BYDAY=WE from 2025-01-06, opens 05:00, due 21:00, lapses 12:00 +2, is now FREQ=WEEKLY;BYDAY=WE,SA from 2025-01-06, opens 05:00, due 21:00, lapses 12:00 +2"},
		{"task: strip-bed}, dueIn: 8h", "task: strip-bed}, dueIn: 6h", "Task floor-scrub: when was after signoff of strip-bed, due in 8h, lapses in 1d, is now after signoff of strip-bed, due in 6h, lapses in 1d"},
		{"name: Hank Osgood", "name: Hank Osgoode", "Person hank: name was Hank Osgood, is now Hank Osgoode"},
		{"reviewWorkingDays: 7", "reviewWorkingDays: 5", "Profile review working days was 7, is now 5"},
		{"    - {cite: 21 CFR 117.20, title: Grounds and building}", "    - {cite: 21 CFR 117.20, title: Grounds}", "Profile clause 21 CFR 117.20: title was Grounds and building, is now Grounds"},
		{"  - {code: night, title: {en: Night shift, es: Turno de noche}, from: \"21:00\", to: \"05:00\"}\n", "", "Shift night is no longer there"},
	} {
		if strings.Count(whole, c.take) != 1 {
			t.Fatalf("%q stands %d times in the starter", c.take, strings.Count(whole, c.take))
		}
		is := mustParse(t, strings.Replace(whole, c.take, c.put, 1))
		if d := Diff(was, is); len(d) != 1 || d[0].Sentence != c.sentence {
			t.Errorf("got %v\nwant %s", d, c.sentence)
		}
		if back := Diff(is, was); len(back) != 1 || back[0].Before != Diff(was, is)[0].After {
			t.Errorf("back again: %v", back)
		}
	}
	if d := Diff(nil, was); len(d) < len(was.Tasks) || d[0].Before != "" {
		t.Errorf("from nothing: %d changes", len(d))
	}
}

// Any one upper limit of the starter, changed, is named as exactly that.
func TestDiffOfAnyLimit(t *testing.T) {
	whole := string(Starter())
	was := mustParse(t, whole)
	limits := regexp.MustCompile(`(max: )([0-9.]+)(})`).FindAllStringSubmatchIndex(whole, -1)
	rapid.Check(t, func(t *rapid.T) {
		at := limits[rapid.IntRange(0, len(limits)-1).Draw(t, "limit")]
		old := whole[at[4]:at[5]]
		fresh := rapid.StringMatching(`[1-9]`).Draw(t, "digit") + old
		is, err := Parse([]byte(whole[:at[4]] + fresh + whole[at[5]:]))
		if err != nil {
			t.Fatal(err)
		}
		d := Diff(was, is)
		if len(d) == 1 && (strings.Contains(d[0].Path, "[") && strings.Contains(d[0].Before, old) && strings.Contains(d[0].After, fresh)) {
			return
		}
		t.Fatalf("max %s to %s: %v", old, fresh, d)
	})
}

func TestSpanRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := Span(60 * rapid.Int64Range(0, maxSpanDays*1440).Draw(t, "minutes"))
		back, err := ParseSpan(s.String())
		if err != nil || back != s {
			t.Fatalf("%d is written %q and read %d, %v", s, s, back, err)
		}
		// The slow way: count with time.Duration.
		var d, h, m int
		for _, part := range strings.Fields(s.String()) {
			for unit, into := range map[string]*int{"d": &d, "h": &h, "m": &m} {
				if strings.HasSuffix(part, unit) {
					fmt.Sscanf(part, "%d", into)
				}
			}
		}
		if s.Duration() != time.Duration(d)*24*time.Hour+time.Duration(h)*time.Hour+time.Duration(m)*time.Minute || h > 23 || m > 59 {
			t.Fatalf("%v is not %q", s.Duration(), s)
		}
	})
	for _, bad := range []string{"", "5", "h", "0h", "-1h", "+1h", "1.5h", "1h 1d", "1h 1h", "1h  5m", " 1h", "1h ", "01h", "1H", "1w", "99999999999h", "40000d", "1d12h"} {
		if s, err := ParseSpan(bad); err == nil {
			t.Errorf("%q is read as %v", bad, s)
		}
	}
}

func TestDayTimeRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := DayTime{rapid.IntRange(0, maxDayTimeDays).Draw(t, "days"), calendar.Clock(rapid.IntRange(0, 86_399).Draw(t, "clock"))}
		if back, err := ParseDayTime(d.String()); err != nil || back != d {
			t.Fatalf("%v is read back as %v, %v", d, back, err)
		}
	})
	for _, bad := range []string{"", "5:30", "05:30 1", "05:30 +0", "05:30 +01", "05:30 ++1", "05:30  +1", "05:30 +367", "05:30 -1", "24:00", "05:30 "} {
		if d, err := ParseDayTime(bad); err == nil {
			t.Errorf("%q is read as %v", bad, d)
		}
	}
}

// Files made to cost time or stack end in an error.
func TestHostilePlans(t *testing.T) {
	bomb := "grainward: 1\ntasks:\n  - &t\n    asks: &a [" + strings.Repeat("{code: x}, ", 400) + "]\n"
	for name, text := range map[string]string{
		"brackets": strings.Repeat("[\n", 100_000),
		"dashes":   strings.Repeat("- ", 100_000),
		"large":    strings.Repeat("# a\n", form.Bytes),
		"keys":     strings.Repeat("a: 1\n", 60_000),
		"faults":   "grainward: 1\ntasks:\n" + strings.Repeat("  - {x: 1}\n", 10_000),
		"latin-1":  "plant:\n  name: Caf\xe9\n",
		"aliases":  bomb + strings.Repeat("  - {asks: *a}\n", 3_000),
	} {
		if _, err := Parse([]byte(text)); records.KindOf(err) != records.Invalid || err == nil {
			t.Errorf("%s: %v", name, err)
		} else if len(err.Error()) > 1<<20 {
			t.Errorf("%s: an error of %d bytes", name, len(err.Error()))
		}
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(small))
	f.Add(Starter())
	for _, c := range broken {
		f.Add([]byte(strings.ReplaceAll(strings.Replace(small, strings.ReplaceAll(c.take, mark, ""), c.put, 1), mark, "")))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		p, err := Parse(text)
		if (p == nil) != (err != nil) {
			t.Fatal("a plan and an error, or neither")
		}
		if err != nil {
			if records.KindOf(err) != records.Invalid {
				t.Fatalf("an error of another kind: %v", err)
			}
			_ = err.Error()
			return
		}
		if d := Diff(p, p); len(d) > 0 {
			t.Fatalf("a plan differs from itself: %v", d)
		}
		p.Notes()
		Diff(nil, p)
	})
}
