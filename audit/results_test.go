package audit

import (
	"fmt"
	"testing"

	"grainward/records"
)

// TestCertificate: typical values until the lot's own results arrive, then measured ones, and never one as the other.
func TestCertificate(t *testing.T) {
	w := goodWeek(0)
	w.result = nil
	w.extra = []told{
		{"2025-03-07 09:00", &records.Result{Lot: "P0", Values: []records.Measured{measure("moisture", "4.6", "%"), measure("Net weight 1", "55.02", "lb"), measure("Beta-glucan", "120", "mg/L")}}},
		{"2025-03-08 09:00", &records.Result{Lot: "P0", Values: []records.Measured{measure("Moisture", "4.4", "%"), measure("Colour", "5.0", "EBC")}}},
		{"2025-03-08 10:00", &records.Result{Lot: "M0", Values: []records.Measured{measure("Friability", "88", "%")}}}, // of another lot
	}
	x := newTeller(t)
	x.tell(w.tell(0)...)
	for _, c := range []struct{ now, want string }{
		{"2025-03-06 12:00", "Moisture 3.8 % typical false; Colour 2.1 SRM typical false; Friability - % none false; "},
		{"2025-03-07 12:00", "Moisture 4.6 % measured true; Colour 2.1 SRM typical false; Friability - % none false; Beta-glucan 120 mg/L measured false; "},
		{"2025-03-09 12:00", "Moisture 4.4 % measured false; Colour 5.0 EBC measured false; Friability - % none false; Beta-glucan 120 mg/L measured false; "},
	} {
		f, got := x.floor(c.now), ""
		for _, l := range Certificate(nil, f, x.st, "P0") {
			value := "-"
			if l.Value != nil {
				value = l.Value.String()
			}
			got += fmt.Sprintf("%s %s %s %s %v; ", l.Name, value, l.Unit, l.Kind, l.Outside)
			if (l.Kind == MeasuredValue) != (l.Source != nil) {
				t.Errorf("%s is %s and its source is %v", l.Name, l.Kind, l.Source)
			}
			if l.Unit == "EBC" && (l.Limits.Min != nil || l.Limits.Max != nil) {
				t.Errorf("limits in SRM stand beside a value in EBC")
			}
		}
		if got != c.want {
			t.Errorf("at %s:\n%s\nwant\n%s", c.now, got, c.want)
		}
	}
	if lines := Certificate(x.p, x.floor("2025-03-09 12:00"), x.st, "Z9"); lines != nil {
		t.Errorf("a lot that never was has the certificate %v", lines)
	}
}
