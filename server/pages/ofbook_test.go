package pages

import (
	"os"
	"regexp"
	"strings"
	"testing"
)

// Everything the shape of facts is known to say (its golden file, one malformation of every sort) can be said in Spanish.
func TestOfBookKnowsTheShape(t *testing.T) {
	b, err := os.ReadFile("../../records/testdata/shape.golden")
	if err != nil {
		t.Fatal(err)
	}
	field := regexp.MustCompile(`^  [a-z][a-zA-Z0-9.\[\]]*(?: is ".*")?: (.*)$`)
	n := 0
	for line := range strings.SplitSeq(string(b), "\n") {
		if line == "" || line[0] == '#' {
			continue
		}
		says := line
		if m := field.FindStringSubmatch(line); m != nil {
			says = m[1]
		}
		if es := OfBook("es", says); es == says {
			t.Errorf("there is no Spanish for %q", says)
		}
		n++
	}
	if n < 100 {
		t.Errorf("%d lines", n)
	}
}

func TestOfBook(t *testing.T) {
	for en, es := range map[string]string{
		"the plan then in force has no such task; did you mean scrub?": "el plan entonces en vigor no tiene eso (tarea); ¿quiso decir scrub?",
		"it is a number and must be text in quotes":                    "es un número y debe ser texto entre comillas",
		"the sign-off names what is not there":                         "nombra algo que no existe: firma de trabajo",
		"the plan has 3 faults":                                        "el plan tiene 3 fallos",
		"nothing anybody ever said":                                    "nothing anybody ever said",
		"":                                                             "",
	} {
		if got := OfBook("es", en); got != es {
			t.Errorf("%q: %q", en, got)
		}
		if got := OfBook("en", en); got != en {
			t.Errorf("%q: %q", en, got)
		}
	}
	for _, row := range bookTexts {
		if strings.Count(row.en, "%s") != strings.Count(row.es, "%s") || row.es == "" {
			t.Errorf("%q has other values in Spanish", row.en)
		}
		// every row can be reached: none before it takes its place
		words := strings.ReplaceAll(row.en, "%s", "zz9")
		if got, want := OfBook("es", words), strings.ReplaceAll(row.es, "%s", "zz9"); got != want {
			t.Errorf("%q is said as %q", words, got)
		}
	}
}
