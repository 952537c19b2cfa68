package main

import (
	"bytes"
	"strings"
	"testing"

	"grainward/records"
	"grainward/records/plan"
)

// FuzzImport is a file of facts: every line that is not blank is a draft or has a fault, with the number of its line.
func FuzzImport(f *testing.F) {
	f.Add([]byte("\xef\xbb\xbf" + `{"happened":"2026-03-02T12:30:00-05:00","by":"ana","kind":"deviation","fact":{"what":"dust"}}` + "\r\n\r\n{\n"))
	f.Add([]byte("null\n[]\n\"\"\n1e999\n{\"kind\":\"signoff\",\"fact\":null}"))
	f.Add([]byte("\x00\n\xff\xfe{\n \t \n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		got, err := readFacts(bytes.NewReader(text))
		if err != nil {
			t.Fatal(err)
		}
		want := 0
		for i, line := range strings.Split(string(text), "\n") {
			if i == 0 {
				line = strings.TrimPrefix(line, "\xef\xbb\xbf")
			}
			if len(bytes.TrimSpace([]byte(line))) > 0 {
				if want >= len(got.lines) || got.lines[want] != i+1 {
					t.Fatalf("line %d is not among %v", i+1, got.lines)
				}
				want++
			}
		}
		if len(got.drafts) != want || len(got.lines) != want {
			t.Errorf("%d drafts of %d lines", len(got.drafts), want)
		}
		for i, d := range got.drafts {
			if got.bad[i] == nil && d.Fact == nil {
				t.Errorf("line %d is taken and says nothing", got.lines[i])
			}
		}
	})
}

// FuzzMoment is a time on the command line.
func FuzzMoment(f *testing.F) {
	p, err := plan.Parse([]byte(smallPlan))
	if err != nil {
		f.Fatal(err)
	}
	for _, text := range []string{"2026-03-08", "2026-03-08T02:30", "2026-03-08 02:30", "2026-03-08T07:30:00-05:00", "0000-00-00", "9999-12-31T24:00", "now", ""} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		for _, e := range []edge{dayStart, dayEnd} {
			at, err := parseMoment("--at", text, p, e)
			if err != nil {
				if records.KindOf(err) != records.Invalid {
					t.Errorf("kind %d: %v", records.KindOf(err), err)
				}
				continue
			}
			if again, err := parseMoment("--at", at.String(), nil, e); err != nil || again != at {
				t.Errorf("%q is %s, which is read as %s, %v", text, at, again, err)
			}
		}
	})
}
