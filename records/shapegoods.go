package records

import "github.com/go-playground/validator/v10"

// massShape refuses a mass that is none: an unknown unit, finer than a microgram, or below nothing. The zero Mass was
// not given; whether it had to be is the field's business.
func massShape(sl validator.StructLevel) {
	m := sl.Current().Interface().(Mass)
	if m == (Mass{}) {
		return
	}
	ug, err := m.Micrograms()
	switch {
	case err != nil:
		sl.ReportError(nil, "", "", "mass", "it "+err.Error())
	case ug < 0:
		sl.ReportError(nil, "", "", "mass", m.String()+" is less than nothing; write what was there, and correct the earlier entry if it was wrong")
	}
}

// weightShape refuses a moisture that can not be, and a weight without its mass.
func weightShape(sl validator.StructLevel) {
	w := sl.Current().Interface().(Weight)
	if w != (Weight{}) && w.Mass == (Mass{}) {
		sl.ReportError(nil, "mass", "Mass", "required", "")
	}
	if w.Moisture != nil && (w.Moisture.Cmp(Decimal{}) < 0 || w.Moisture.Cmp(NewDecimal(100, 0)) > 0) {
		sl.ReportError(nil, "moisture", "Moisture", "weight", "it is a percentage from 0 to 100, wet basis; "+w.Moisture.String()+" is not")
	}
}

// goodsFaults are those of facts about goods that no tag can say.
func goodsFaults(under string, f Fact) (faults []FieldError) {
	add := func(field, value, want string) {
		faults = append(faults, FieldError{Field: under + "." + field, Value: value, Want: want})
	}
	switch f := f.(type) {
	case *Handover:
		if !f.Confirms.IsZero() {
			if f.Received == nil {
				add("received", "", "who received it; that is what is being confirmed")
			}
			break
		}
		if (f.From == "") == (f.FromHolder == "") {
			add("from", string(f.From), "either the station it left, or `fromHolder`, the partner it stood with")
		}
		if f.FromHolder != "" && f.Lot == "" {
			add("lot", "", "goods that stand with a partner are handed on by lot")
		}
		if f.Use == "" {
			add("use", "", oneOf([]Use{Sale, Storage, Feed, Compost, Landfill, ForTest, Return}))
		}
		if f.Weight.Mass == (Mass{}) {
			add("weight.mass", "", wantGiven)
		}
	case *Drill:
		need := map[string]map[string]bool{
			"start":   {"subject": f.Subject != "", "why": f.Why != "", "lead": f.Lead != ""},
			"contact": {"partner": f.Partner != ""},
			"finish":  {"lessons": f.Lessons != ""},
		}[f.Step]
		for _, name := range []string{"subject", "why", "lead", "partner", "lessons"} {
			if given, needed := need[name]; needed && !given {
				add(name, "", "a drill's "+f.Step+" says it")
			}
		}
	case *Sample:
		if (f.From == "") != (f.Mass == nil) {
			add("mass", "", "give the station it was taken from and its mass together, or neither")
		}
	}
	return faults
}
