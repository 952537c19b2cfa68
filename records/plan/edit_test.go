package plan

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"grainward/records"
	"grainward/records/calendar"
)

func dayOf(t interface{ Fatal(...any) }, text string) calendar.Date {
	d, err := calendar.ParseDate(text)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// forms are the ways in which people are written one under the other.
var forms = map[string]func(string) string{
	"as the starter plan has it": func(s string) string { return s },
	"last in the file, without an end of line": func(s string) string {
		i := strings.Index(s, "\npeople:\n")
		rest := s[i+1:]
		end := strings.Index(rest[8:], "\n\n")
		if end < 0 {
			return strings.TrimRight(s, "\n")
		}
		end += 8
		return s[:i+1] + rest[end+1:] + "\n" + strings.TrimRight(rest[:end], "\n")
	},
	"each on a line of its own, with remarks": func(s string) string {
		return strings.Replace(s, "\npeople:\n", "\npeople:\n  # the owner\n  - {code: owner, name: \"Ana Ñ. Ruiz\", initials: AÑ, role: lead} # since ever\n", 1)
	},
}

func TestPeopleAreEdited(t *testing.T) {
	for name, form := range forms {
		t.Run(name, func(t *testing.T) {
			text := []byte(form(string(Starter())))
			before, err := Parse(text)
			if err != nil {
				t.Fatal(err)
			}
			from := dayOf(t, "2026-03-10")
			who := Person{Code: "zoe", Name: `Zoë "Zo" Quill: a # b`, Initials: "ZQ", Role: "crew", Languages: []string{"es", "en"}, From: &from}
			more, err := WithPerson(text, who)
			if err != nil {
				t.Fatal(err)
			}
			p, err := Parse(more)
			if err != nil || len(p.People) != len(before.People)+1 || p.Person("zoe").Name != who.Name || *p.Person("zoe").From != from {
				t.Fatal(err)
			}
			// nothing but one line came
			a, b := strings.Split(strings.TrimSuffix(string(text), "\n"), "\n"), strings.Split(strings.TrimSuffix(string(more), "\n"), "\n")
			if len(b) != len(a)+1 {
				t.Fatalf("%d lines became %d", len(a), len(b))
			}
			for i := range a {
				if !slices.Contains(b, a[i]) {
					t.Errorf("the line %q is gone", a[i])
				}
			}
			for _, leaver := range before.People {
				last := dayOf(t, "2026-04-30")
				out, err := WithLeaver(more, leaver.Code, last)
				if err != nil {
					t.Fatalf("%s: %v", leaver.Code, err)
				}
				p, err := Parse(out)
				if err != nil || *p.Person(leaver.Code).Until != last || len(Diff(before, p)) != 2 {
					t.Fatal(leaver.Code, err, Diff(before, p))
				}
				later := dayOf(t, "2026-05-31")
				if out, err = WithLeaver(out, leaver.Code, later); err != nil {
					t.Fatal(err)
				}
				if p, err = Parse(out); err != nil || *p.Person(leaver.Code).Until != later {
					t.Fatal(err)
				}
			}
		})
	}
	if _, err := WithLeaver(Starter(), "nobody-here", 1); records.KindOf(err) != records.NotFound {
		t.Error(err)
	}
	if _, err := WithPerson(Starter(), Person{Code: "nora", Name: "Twice", Initials: "T", Role: "crew"}); records.KindOf(err) != records.Invalid {
		t.Error("a code that is taken:", err)
	}
	for _, bad := range []string{"", "people: []", "people: [{code: a}]", "- a", "people:\n", "people: &x\n"} {
		if _, err := WithPerson([]byte(bad), Person{Code: "a"}); err == nil {
			t.Errorf("%q was edited", bad)
		}
	}
}

// Whatever a name is, it comes back as it was given, or is refused.
func TestAnyName(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		who := Person{Code: "zoe", Name: rapid.StringN(1, 40, -1).Draw(t, "name"), Initials: rapid.StringN(1, 5, -1).Draw(t, "initials"), Role: "crew"}
		text, err := WithPerson(Starter(), who)
		if err != nil {
			return
		}
		p, err := Parse(text)
		if err != nil || p.Person("zoe").Name != who.Name || p.Person("zoe").Initials != who.Initials {
			t.Fatal(err, who)
		}
	})
}
