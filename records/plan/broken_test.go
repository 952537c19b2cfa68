package plan

import (
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/goccy/go-yaml"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"grainward/records"
)

var update = flag.Bool("update", false, "write the golden files anew; then read them")

// small is a plan without faults; the table below breaks it in one place each.
const small = `grainward: 1
plant:
  name: Small Floor
  address: 1 Lane, Nowhere
  zone: America/New_York
  languages: [en, es]
  since: 2025-01-06
profile:
  clauses:
    - {cite: 21 CFR 117.35, title: Clean}
shifts:
  - {code: day, title: Day, from: "06:00", to: "18:00"}
  - {code: night, title: Night, from: "18:00", to: "06:00"}
stations:
  - {code: floor-1, title: {en: Floor, es: Piso}, kind: germination floor}
  - {code: bench, title: Bench, kind: laboratory, holds: nothing}
grades:
  - {code: swept, title: Swept}
  - {code: washed, title: Washed}
changeovers:
  - {from: conventional, to: organic, grade: washed}
items:
  - {code: malt, title: Malt, stage: finished}
agents:
  - {code: ozone, title: Ozone, organic: "yes", approval: ozone-letter}
instruments:
  - {code: probe, title: Probe, station: bench, calibration: ice, holds: 120d}
documents:
  - {code: ozone-letter, title: Letter, of: agent, about: ozone}
tasks:
  - code: scrub
    title: Scrub
    family: floor
    stations: [floor-1]
    agents: [ozone]
    grade: washed
    when:
      - {rule: FREQ=DAILY, opens: "05:00", due: "08:00", lapses: "06:00 +1"}
    asks:
      - {code: air, title: Air, type: number, unit: ppm, limits: {min: 0, max: 0.10}, instrument: probe}
      - {code: dry, title: Dry, type: yesno, right: "yes"}
      - {code: look, title: Look, type: choice, choices: [good, bad], right: good}
    clauses: [21 CFR 117.35]
  - code: wipe
    title: Wipe
    family: sanitation
    stations: [bench]
    when:
      - {after: {kind: signoff, task: scrub, station: any}, dueIn: 6h, lapsesIn: 1d}
      - {eachShift: true, grace: 1h}
    clauses: [21 CFR 117.35]
  - code: ice
    title: Ice
    family: calibration
    stations: [bench]
    clauses: [21 CFR 117.35]
partners:
  - {code: farm, name: Farm, roles: [supplier]}
people:
  - {code: ann, name: Ann, initials: A, role: lead, trained: [{task: scrub, on: 2025-01-06}]}
  - {code: bob, name: Bob, initials: B, role: crew}
`

// broken names one fault each. In put, « stands before the spot the error must point at; the test takes it out and
// works out line and column itself. shape: a JSON Schema can see it too.
var broken = []struct {
	name, take, put string
	shape           bool
}{
	{"syntax", "shifts:\n", "shifts: «a: b: c\n", false},
	{"unknown-key", "    grade: washed\n", "    «grad: washed\n", true},
	{"unknown-key-at-top", "people:\n", "«persons:\n  - {}\npeople:\n", true},
	{"comma-in-text", "title: Wipe\n", "title: {en: Wipe it, «then dry, es: Secar}\n", true},
	{"key-twice", "    title: Wipe\n", "    title: Wipe\n    «title: Again\n", false},
	{"list-wanted", "stations: [bench]\n    when", "stations: «bench\n    when", true},
	{"group-wanted", "  clauses:\n    - {cite: 21 CFR 117.35, title: Clean}", "  clauses:\n    - «21 CFR 117.35", true},
	{"value-wanted", "kind: germination floor", "kind: «[germination, floor]", true},
	{"version", "grainward: 1", "grainward: «2", true},
	{"not-a-number", "grainward: 1", "grainward: «one", true},
	{"not-a-bool", "eachShift: true", "eachShift: «yes", true},
	{"name-missing", "«plant:\n  name: Small Floor\n", "", true},
	{"code-shape", "code: bench, title", "code: «Bench_1, title", true},
	{"one-of", "family: sanitation", "family: «sanitaton", true},
	{"date", "since: 2025-01-06", "since: «2025-02-30", false},
	{"clock", `from: "06:00"`, `from: «6am`, true},
	{"clock-missing", `{code: day, title: Day, from: "06:00", to: "18:00"}`, `«{code: day, title: Day, to: "18:00"}`, true},
	{"decimal", "max: 0.10", "max: «1e-1", true},
	{"span", "holds: 120d", "holds: «4 months", true},
	{"day-time", `"06:00 +1"`, `«"06:00 tomorrow"`, true},
	{"rule", "rule: FREQ=DAILY", "rule: «FREQ=HOURLY", false},
	{"mass", "holds: nothing", "holds: nothing, capacity: «8 tons", true},
	{"language", "title: {en: Floor, es: Piso}", "title: {en: Floor, «fr: Sol}", true},
	{"empty-title", "title: Ice", "title: «\"\"", true},
	{"zone", "zone: America/New_York", "zone: «America/Newyork", false},
	{"no-alias", "title: Ice", "title: «*ice", false},
	{"tag", "title: Ice", "title: «!!str Ice", false},
	{"two-documents", "people:\n", "---\n«people:\n", false},
	{"code-twice", "code: bob,", "code: «ann,", false},
	{"initials-twice", "initials: B", "initials: «A", false},
	{"no-station", "stations: [floor-1]", "stations: [«flor-1]", false},
	{"station-twice", "stations: [floor-1]", "stations: [floor-1, «floor-1]", false},
	{"no-agent", "agents: [ozone]", "agents: [«chlorine]", false},
	{"no-grade", "    grade: washed", "    grade: «polished", false},
	{"no-clause", "clauses: [21 CFR 117.35]\n  - code: wipe", "clauses: [«21 CFR 117.36]\n  - code: wipe", false},
	{"no-instrument", "instrument: probe", "instrument: «prob", false},
	{"no-document", "approval: ozone-letter", "approval: «ozone-leter", false},
	{"about-nothing", "about: ozone}", "about: «steam}", false},
	{"calibration-family", "calibration: ice", "calibration: «wipe", false},
	{"calibration-place", "station: bench, calibration: ice", "station: floor-1, calibration: «ice", false},
	{"after-no-task", "task: scrub, station", "task: «scrubb, station", false},
	{"after-kind", "kind: signoff", "kind: «sign-off", false},
	{"two-ways", "{eachShift: true,", "«{eachShift: true, rule: FREQ=DAILY,", true},
	{"wrong-company", "{eachShift: true,", "{eachShift: true, dueIn: «1h,", false},
	{"due-missing", `{rule: FREQ=DAILY, opens: "05:00", due: "08:00",`, `«{rule: FREQ=DAILY, opens: "05:00",`, true},
	{"due-before-opens", `due: "08:00"`, `due: «"04:00"`, false},
	{"lapses-before-due", `lapses: "06:00 +1"`, `lapses: «"06:00"`, false},
	{"lapses-in-before-due-in", "lapsesIn: 1d", "lapsesIn: «5h", false},
	{"while-nowhere", "family: floor", "family: floor\n    while: {from: wipe, until: «wope}", false},
	{"while-itself", "family: floor", "family: floor\n    while: {from: wipe, until: «wipe}", false},
	{"trains", "family: floor", "family: floor\n    trains: «[wipe]", false},
	{"unit-missing", "type: number, unit: ppm,", "type: number,", false},
	{"unit-with-yesno", "type: yesno,", "type: yesno, unit: «ppm,", false},
	{"limits-crossed", "{min: 0, max: 0.10}", "{min: 0.2, max: «0.10}", false},
	{"right-yesno", `right: "yes"`, "right: «ja", false},
	{"right-choice", "right: good}", "right: «fine}", false},
	{"choices-few", "choices: [good, bad], right: good", "choices: «[good]", false},
	{"shifts-overlap", `from: "18:00", to`, `from: «"17:00", to`, false},
	{"class", "from: conventional, to", "from: «convent, to", false},
	{"changeover-twice", "  - {from: conventional, to: organic, grade: washed}\n", "  - {from: conventional, to: organic, grade: washed}\n  - «{from: conventional, to: organic, grade: swept}\n", false},
	{"trained-in-nothing", "{task: scrub, on", "{task: «scrab, on", false},
	{"nobody-leads", "people:\n  - {code: ann, name: Ann, initials: A, role: lead", "people:\n  «- {code: ann, name: Ann, initials: A, role: crew", false},
	{"nothing", "", "", false},
}

const mark = "«"

// breakIt gives the broken text, and the line and column (from 1, in characters) of each mark.
func breakIt(t *testing.T, take, put string) (text string, spots [][2]int) {
	t.Helper()
	bare := strings.ReplaceAll(take, mark, "")
	if strings.Contains(take, mark) {
		put = strings.Split(take, "\n")[0] + "\n" + put // the mark is on the line that stays
	}
	if strings.Count(small, bare) != 1 {
		t.Fatalf("%q stands %d times in the small plan", bare, strings.Count(small, bare))
	}
	marked := strings.Replace(small, bare, put, 1)
	for line, content := range strings.Split(marked, "\n") {
		for {
			before, after, found := strings.Cut(content, mark)
			if !found {
				break
			}
			spots = append(spots, [2]int{line + 1, utf8.RuneCountInString(before) + 1})
			content = before + after
		}
	}
	return strings.ReplaceAll(marked, mark, ""), spots
}

func TestBrokenPlans(t *testing.T) {
	if _, err := Parse([]byte(small)); err != nil {
		t.Fatalf("the small plan has faults of its own: %v", err)
	}
	for _, c := range broken {
		t.Run(c.name, func(t *testing.T) {
			text, spots := "", [][2]int{{1, 1}}
			if c.take != "" {
				text, spots = breakIt(t, c.take, c.put)
			}
			_, err := Parse([]byte(text))
			var e *records.Error
			if !errors.As(err, &e) || e.Kind != records.Invalid {
				t.Fatalf("got %v, want an error of kind Invalid", err)
			}
			golden(t, c.name, e.Error())
			for _, s := range spots {
				if !slices.ContainsFunc(e.Fields, func(f records.FieldError) bool {
					return f.Line == s[0] && (strings.Contains(f.Want, fmt.Sprintf("\n    %d:%d | ", s[0], s[1])) || text == "")
				}) {
					t.Errorf("no fault is shown at line %d, column %d:\n%v", s[0], s[1], e)
				}
			}
			if len(spots) > 0 && len(e.Fields) > len(spots)+1 {
				t.Errorf("%d faults for one slip:\n%v", len(e.Fields), e)
			}
		})
	}
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", "broken", name+".golden")
	if *update {
		if err := os.WriteFile(path, []byte(got+"\n"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got+"\n" != string(want) {
		t.Errorf("the error reads\n%s\nwant\n%s", got, want)
	}
}

// The schema is checked by a validator we did not write, and must agree with Parse about shapes: what it refuses Parse
// refuses, and the faults of shape in the table above it sees.
func TestSchemaAgreesWithParse(t *testing.T) {
	document, err := jsonschema.UnmarshalJSON(strings.NewReader(string(Schema())))
	if err != nil {
		t.Fatal(err)
	}
	compiler := jsonschema.NewCompiler()
	if err := compiler.AddResource("plan.json", document); err != nil {
		t.Fatal(err)
	}
	compiled, err := compiler.Compile("plan.json") // checks it against the meta-schema of draft 2020-12
	if err != nil {
		t.Fatal(err)
	}
	check := func(text string) error {
		var v any
		if err := yaml.Unmarshal([]byte(text), &v); err != nil {
			t.Fatal(err)
		}
		return compiled.Validate(v)
	}
	for name, text := range map[string]string{"small": small, "starter": string(Starter())} {
		if err := check(text); err != nil {
			t.Errorf("the schema refuses the %s plan, which Parse takes: %v", name, err)
		}
	}
	for _, c := range broken {
		if slices.Contains([]string{"nothing", "syntax", "key-twice", "no-alias", "two-documents"}, c.name) {
			continue // not one YAML document with keys given once, so there is nothing to hold against a schema
		}
		text, _ := breakIt(t, c.take, c.put)
		if err := check(text); (err != nil) != c.shape {
			t.Errorf("%s: the schema says %v; shape fault: %v", c.name, err, c.shape)
		}
	}
}

func TestAllFaultsAtOnce(t *testing.T) {
	text := small
	for _, swap := range [][2]string{{"zone: America/New_York", "zone: Nowhere"}, {"max: 0.10", "max: much"}, {"stations: [floor-1]", "stations: [floor-9]"},
		{"role: crew", "role: boss"}, {"holds: 120d", "hold: 120d"}} {
		text = strings.Replace(text, swap[0], swap[1], 1)
	}
	_, err := Parse([]byte(text))
	var e *records.Error
	if !errors.As(err, &e) {
		t.Fatal(err)
	}
	var paths []string
	for i, f := range e.Fields {
		paths = append(paths, f.Field)
		if i > 0 && e.Fields[i-1].Line > f.Line {
			t.Error("the faults are not in the order of the lines")
		}
	}
	want := []string{"plant.zone", "instruments[probe].holds", "instruments[probe].hold", "tasks[scrub].stations[0]", "tasks[scrub].asks[air].limits.max", "people[bob].role"}
	if !slices.Equal(paths, want) {
		t.Errorf("faults at\n%q\nwant\n%q", paths, want)
	}
}
