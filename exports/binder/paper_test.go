package binder

import (
	"strings"
	"testing"

	"grainward/records"
)

// A row from paper names who did the work where people are counted, and who typed it in beside it.
func TestARowFromPaper(t *testing.T) {
	p, _ := filled(t)
	id, err := records.ParseEntryID("0197f2a4-1c5e-7b3a-9d2e-0000000aaaaa")
	if err != nil {
		t.Fatal(err)
	}
	got, err := p.book.Admit(t.Context(), records.Entry{ID: id, Happened: at("2026-03-06T06:10:00-05:00"), By: "nora", Meaning: records.Performed, Kind: records.KindSignoff, Paper: &records.Paper{Whose: "lucia"},
		Fact: &records.Signoff{Task: "turn-bed", Station: "floor-1", Outcome: records.Passed, Answers: []records.Response{{Ask: "whole", Yes: yes()}}}})
	if err != nil {
		t.Fatal(err)
	}
	in := p.input("2026-03-02", "2026-03-14")
	cells := gridOf(t, made(t, in))["Turning"]
	column := map[string]string{}
	for _, c := range cells {
		if c.row == headRows {
			column[c.text] = columnName(c.col)
		}
	}
	found := false
	for _, c := range cells {
		if c.row <= headRows || c.col != 1 || !c.number || recordAt(t, c.text) != got[0].Position {
			continue
		}
		found = true
		row := itoa(c.row)
		lucia, nora := p.plan.Person("lucia"), p.plan.Person("nora")
		if v := cells[column["Person"]+row].text; !strings.Contains(v, lucia.Name) || strings.Contains(v, nora.Name) {
			t.Errorf("the work is %q's", v)
		}
		if v := cells[column["Others"]+row].text; !strings.Contains(v, "from paper, typed in by "+nora.Name) {
			t.Errorf("others: %q", v)
		}
	}
	if !found {
		t.Error("no row has the entry")
	}
}
