package binder

import (
	"strings"
	"testing"

	"grainward/records"
)

// 21 CFR 117.305(f) lists what a record must hold: the plant, the date and where it matters the time, the signature or
// initials of the person, and where it matters the product and its lot (shared wording: regulations of part 117, subpart F).
// Each is found in the row of an entry, or above it, item by item; so are 117.305(b), the actual values, and (d), when it was written down.
func TestARowHoldsWhatARecordMust(t *testing.T) {
	p, in := filled(t)
	g := gridOf(t, made(t, in))
	for _, family := range []string{"Turning", "Floor cleaning", "Monitoring", "Calibration", "Water", "Training"} {
		cells := g[family]
		column := map[string]string{}
		for _, c := range cells {
			if c.row == headRows {
				column[c.text] = columnName(c.col)
			}
		}
		if above := cells["A2"].text; !strings.Contains(above, p.plan.Plant.Name) || !strings.Contains(above, p.plan.Plant.Address) {
			t.Errorf("%s: the plant and where it is do not stand above the rows: %q", family, above)
		}
		records := 0
		for _, c := range cells {
			if c.row <= headRows || c.col != 1 || !c.number {
				continue
			}
			records++
			row := itoa(c.row)
			rec := p.book.View().State.Now(recordAt(t, c.text))
			if v := cells[column["Done at"]+row]; !agrees(v, rec.Happened.Time().In(p.plan.Location()).Format("2006-01-02 15:04:05")) {
				t.Errorf("%s row %s: done at %q", family, row, v.text)
			}
			if v := cells[column["Written down at"]+row]; !v.number {
				t.Errorf("%s row %s: written down at %q", family, row, v.text)
			}
			who := p.plan.Person(rec.By)
			if v := cells[column["Person"]+row].text; !strings.Contains(v, who.Name) || !strings.Contains(v, "("+who.Initials+")") {
				t.Errorf("%s row %s: signed by %q, wanted %s and initials %s", family, row, v, who.Name, who.Initials)
			}
			fact := signoffOf(t, rec.Fact)
			for _, lot := range fact.Lots {
				if v := cells[column["Lots"]+row].text; !strings.Contains(v, string(lot)) {
					t.Errorf("%s row %s: lots %q, wanted %s", family, row, v, lot)
				}
			}
			for _, a := range fact.Answers {
				if v := cells[column["Answers"]+row].text; a.Value != nil && !strings.Contains(v, a.Value.String()) {
					t.Errorf("%s row %s: answers %q, wanted the actual value %s", family, row, v, a.Value)
				}
			}
		}
		if records == 0 {
			t.Errorf("%s has no records to look at", family)
		}
	}
}

func recordAt(t *testing.T, text string) records.Position {
	t.Helper()
	d, err := records.ParseDecimal(text)
	if err != nil {
		t.Fatal(err)
	}
	return records.Position(d.Float())
}

func signoffOf(t *testing.T, f records.Fact) *records.Signoff {
	t.Helper()
	s, ok := f.(*records.Signoff)
	if !ok {
		t.Fatalf("not a sign-off: %T", f)
	}
	return s
}

// Nothing in the words of a binder judges in the certifier's place.
func TestTheWordsDeferToTheCertifier(t *testing.T) {
	_, in := filled(t)
	for _, lang := range []string{"en", "es"} {
		in.Lang = lang
		g := gridOf(t, made(t, in))
		for sheet, cells := range g {
			for _, c := range cells {
				if low := strings.ToLower(c.text); strings.Contains(low, "complian") || strings.Contains(low, "conformidad") {
					t.Errorf("%s!%s: %q", sheet, c.name(), c.text)
				}
			}
		}
		cover := dump(g[sayIn(lang, "Cover")])
		for _, want := range []string{"the certifier and the authority having jurisdiction decide", "lo deciden el certificador y la autoridad competente"} {
			if (lang == "en") == strings.HasPrefix(want, "the") && !strings.Contains(cover, want) {
				t.Errorf("%s: the cover does not say who decides", lang)
			}
		}
	}
}
