package company

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"grainward/records"
	"grainward/records/plan"
)

func TestStarter(t *testing.T) {
	c, err := Parse(Starter())
	if err != nil {
		t.Fatal(err)
	}
	if c.Name != "Tarn and Fell Grain" || c.Host != "company.localhost" || len(c.Plants) != 2 || c.Plants[1].Dir != "mill" || c.PlantOf("malthouse", "fell-mill") != "mill" ||
		c.PlantOf("mill", "fell-mill") != "" || c.PlantOf("nowhere", "fell-mill") != "" || c.Plant("nowhere") != nil {
		t.Errorf("%+v", c)
	}
	var at []PlantCode
	for _, p := range c.Posts("mill", "nora") {
		at = append(at, p.Plant)
	}
	if !slices.Equal(at, []PlantCode{"mill", "malthouse"}) {
		t.Errorf("she belongs to %v", at)
	}
	if got := c.Posts("mill", "abel"); len(got) != 1 || got[0].Plant != "mill" || got[0].Person != "abel" {
		t.Errorf("somebody the file does not name belongs to %v", got)
	}
}

// Every fault is said at once, with its line and column, in the words of testdata/faults.txt. Rewrite them with UPDATE=1 go test.
func TestFaults(t *testing.T) {
	text, err := os.ReadFile("testdata/faults.yaml")
	if err != nil {
		t.Fatal(err)
	}
	_, err = Parse(text)
	var own *records.Error
	if !errors.As(err, &own) || own.Kind != records.Invalid {
		t.Fatal(err)
	}
	golden := filepath.Join("testdata", "faults.txt")
	if os.Getenv("UPDATE") != "" {
		if err := os.WriteFile(golden, []byte(err.Error()+"\n"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, ferr := os.ReadFile(golden)
	if ferr != nil {
		t.Fatal(ferr)
	}
	if err.Error()+"\n" != string(want) {
		t.Errorf("it says\n%s\nand not\n%s", err, want)
	}
	// The marker in the file says how many faults there are: each line with one ends in "# wrong".
	marked := 0
	for i, line := range strings.Split(string(text), "\n") {
		if strings.Contains(line, "# wrong") {
			marked++
			if !slices.ContainsFunc(own.Fields, func(f records.FieldError) bool { return f.Line == i+1 }) {
				t.Errorf("nothing is said of line %d: %s", i+1, line)
			}
		}
	}
	if marked != len(own.Fields) {
		t.Errorf("%d lines are wrong, and %d faults are said", marked, len(own.Fields))
	}
}

func TestNoCompany(t *testing.T) {
	for text, want := range map[string]string{
		"":                        "the file is empty",
		"# only a comment\n":      "the file is empty",
		"name: [":                 "not YAML",
		"just words":              "keys and values are wanted here",
		"name: A\n---\nname: B\n": "a second document starts here",
		"name: \xff":              "not text in UTF-8",
		"name: A\nhost: a.localhost\nplants: []\n":          "at least one plant",
		strings.Repeat("#", form.Bytes+1):                   "is the most",
		strings.Repeat("[", form.Brackets+1):                "brackets are open",
		"name: A\nhost: a.localhost\nplants:\n  a: b\n":     "a list is wanted here",
		"name: A\nhost: a.localhost\nplants:\n  - just it":  "keys and values are wanted here",
		"name: *x\nhost: a.localhost\nplants:\n  - code: b": "name",
	} {
		if _, err := Parse([]byte(text)); records.KindOf(err) != records.Invalid || !strings.Contains(err.Error(), want) {
			t.Errorf("%.40q: %v, and not %s", text, err, want)
		}
	}
}

// What the plans in force do not know is a note with its line, and nothing that stops.
func TestNotes(t *testing.T) {
	c, err := Parse(Starter())
	if err != nil {
		t.Fatal(err)
	}
	p, err := plan.Parse(plan.Starter())
	if err != nil {
		t.Fatal(err)
	}
	if n := c.Notes(func(PlantCode) *plan.Plan { return nil }); len(n) != 0 {
		t.Errorf("plants without a plan: %v", n)
	}
	notes := c.Notes(func(PlantCode) *plan.Plan { return p })
	if len(notes) != 2 || !strings.Contains(notes[0].String(), "line 16: the plan in force at malthouse has no partner fell-mill") || !strings.Contains(notes[0].Says, "odell-brook") ||
		!strings.Contains(notes[1].String(), "line 21:") {
		t.Errorf("%v", notes)
	}
	c.Plants[1].Partners, c.People[0].At[1].Person = nil, "abel"
	notes = c.Notes(func(PlantCode) *plan.Plan { return p })
	if len(notes) != 3 || !strings.Contains(notes[1].Says, "mill has no partner that is malthouse") || !strings.Contains(notes[2].Says, "nobody of the code abel (Nora Feldt)") {
		t.Errorf("%v", notes)
	}
}

// Whatever stands in a file, it is read or refused, and a company that was read is one.
func FuzzParse(f *testing.F) {
	f.Add(Starter())
	text, err := os.ReadFile("testdata/faults.yaml")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text)
	f.Add([]byte("name: &a x\nhost: *a\nplants: [{code: a, dir: b, host: a.b, partners: {c: }}]"))
	f.Fuzz(func(t *testing.T, text []byte) {
		c, err := Parse(text)
		if err != nil {
			if records.KindOf(err) != records.Invalid {
				t.Fatal(err)
			}
			return
		}
		hosts := map[string]bool{c.Host: true}
		for _, p := range c.Plants {
			if p.Code == "" || p.Dir == "" || hosts[p.Host] || c.Plant(p.Code) == nil {
				t.Fatalf("%+v", c)
			}
			hosts[p.Host] = true
			for _, x := range p.Partners {
				if c.Plant(x.Plant) == nil || x.Plant == p.Code {
					t.Fatalf("%+v", p)
				}
			}
		}
	})
}
