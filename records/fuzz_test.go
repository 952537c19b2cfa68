package records

import (
	"bytes"
	"reflect"
	"testing"
)

func seedEntries(f *testing.F) {
	for _, kind := range Kinds() {
		row, err := Format(example(kind.Kind))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(row.Bytes)
	}
	f.Add([]byte(`{"kind":"correct","fact":{"with":{"fact":{},"kind":"review"}},"by":"a"}`))
	f.Add([]byte(`{"kind":"plan"}`))
	f.Add([]byte(`null`))
}

func FuzzParse(f *testing.F) {
	seedEntries(f)
	f.Fuzz(func(t *testing.T, b []byte) {
		fast, errFast := ParseTrusted(b)
		slow, errSlow := slowParse(b)
		if (errFast == nil) != (errSlow == nil) || errFast == nil && !reflect.DeepEqual(fast, slow) {
			t.Fatalf("%s\nfast %+v %v\nslow %+v %v", b, fast, errFast, slow, errSlow)
		}
		e, err := Parse(b)
		if err != nil {
			if KindOf(err) != Invalid || err.Error() == "" {
				t.Fatalf("an error of kind %d: %v", KindOf(err), err)
			}
			return
		}
		row, err := Format(e)
		if err != nil || !bytes.Equal(row.Bytes, b) {
			t.Fatalf("read\n%s\nwritten (%v)\n%s", b, err, row.Bytes)
		}
		if err := CheckShape(e); err != nil {
			t.Fatalf("read, and not well formed: %v", err)
		}
	})
}

func FuzzParseDraft(f *testing.F) {
	seedEntries(f)
	for _, kind := range Kinds() {
		e := example(kind.Kind)
		e.ID, e.Recorded, e.Meaning = EntryID{}, 0, ""
		row, err := Format(e)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(row.Bytes)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		e, err := ParseDraft(b)
		if err != nil {
			if KindOf(err) != Invalid || err.Error() == "" {
				t.Fatalf("an error of kind %d: %v", KindOf(err), err)
			}
			return
		}
		again, err := ParseDraft(b)
		if err != nil || again.ID != e.ID || !again.SameAs(e) {
			t.Fatalf("read twice: %s and %s (%v)", e.ID, again.ID, err)
		}
		if CheckShape(e) != nil {
			return
		}
		// A draft that passes can be taken in: recorded, written, and read again as it was.
		e.Recorded = e.Happened
		row, err := Format(e)
		if err != nil {
			t.Fatal(err)
		}
		if back, err := Parse(row.Bytes); err != nil || !reflect.DeepEqual(back, e) {
			t.Fatalf("%s\nis read again as %+v (%v)", row.Bytes, back, err)
		}
	})
}

func FuzzParseDecimal(f *testing.F) {
	for _, text := range []string{"0", "-0.25", "3.50", "999999999999999999", "1e5", "-", ".", "01", "1½"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		d, err := ParseDecimal(text)
		if err == nil && (d.String() != text || d.Cmp(d) != 0) {
			t.Fatalf("%q is written again as %q", text, d)
		}
		var decoded Decimal
		if errText := decoded.UnmarshalText([]byte(text)); (errText == nil) != (err == nil) || decoded != d {
			t.Fatalf("%q: %v %v, as bytes %v %v", text, d, err, decoded, errText)
		}
	})
}

func FuzzParseInstant(f *testing.F) {
	for _, text := range []string{"2026-03-08T07:30:00.000Z", "2026-03-08T02:30:00-05:00", "2024-02-29T00:00:00.000Z", "1900-01-01T00:00:00Z", "2026-03-08T7:30:00,5Z"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		sameBothWays(t, text)
		if i, err := ParseInstant(text); err == nil {
			if back, err := ParseInstant(i.String()); err != nil || back != i {
				t.Fatalf("%q is %s, read again as %s (%v)", text, i, back, err)
			}
		}
	})
}

func FuzzParseMass(f *testing.F) {
	for _, text := range []string{"55 lb", "22.6796185 kg", "-1 t", " 1  ton ", "0.000001 g", "999999999999999999 ton", "55lb"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		m, err := ParseMass(text)
		if err != nil {
			return
		}
		if back, err := ParseMass(m.String()); err != nil || back != m {
			t.Fatalf("%q is %s, read again as %s (%v)", text, m, back, err)
		}
		if _, err := m.Micrograms(); err != nil {
			t.Fatalf("%q is a mass that can not be weighed: %v", text, err)
		}
	})
}

func FuzzParseEntryID(f *testing.F) {
	for _, text := range []string{idA, "017F22E2-79B0-7CC3-98C4-DC0C0C07398F", "urn:uuid:" + idA, "{" + idA + "}", "919108f7-52d1-4320-9bac-f847db4148a8"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		id, err := ParseEntryID(text)
		if err == nil && (id.String() != text || id[6]>>4 != 7 || id[8]>>6 != 2) {
			t.Fatalf("%q is written again as %s", text, id)
		}
	})
}
