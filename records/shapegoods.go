package records

import (
	"fmt"
	"strings"

	"github.com/go-playground/validator/v10"
)

// mostMass is past anything that a plant of this kind weighs at once (our own bound, no source). A mass above it is a
// mistyped unit; and sums of what is below it stay within an int64 for as long as a plant lives.
var mostMass = Mass{NewDecimal(10_000, 0), "t"}

// massShape refuses a mass that is none: an unknown unit, less than a microgram, below nothing or beyond belief. The zero
// Mass was not given; whether it had to be is the field's business.
func massShape(sl validator.StructLevel) {
	m := sl.Current().Interface().(Mass)
	if m == (Mass{}) {
		return
	}
	most, _ := mostMass.Micrograms()
	ug, err := m.Micrograms()
	switch {
	case err != nil:
		sl.ReportError(m, "", "", "mass", strings.Replace(err.Error(), clip(m.String()), "it", 1))
	case ug < 0:
		sl.ReportError(m, "", "", "mass", "a mass is never less than nothing; write what was there, and correct the earlier entry if that was wrong")
	case ug > most:
		sl.ReportError(m, "", "", "mass", "it is more than "+mostMass.String()+", the most that is weighed at once; look at the unit")
	}
}

// weightShape refuses a moisture that can not be, and a weight without its mass.
func weightShape(sl validator.StructLevel) {
	w := sl.Current().Interface().(Weight)
	if w != (Weight{}) && w.Mass == (Mass{}) {
		sl.ReportError(w.Mass, "mass", "Mass", "required", "")
	}
	if w.Moisture != nil && (w.Moisture.Cmp(Decimal{}) < 0 || w.Moisture.Cmp(NewDecimal(100, 0)) > 0) {
		sl.ReportError(*w.Moisture, "moisture", "Moisture", "moisture", "it must be a percentage from 0 to 100, wet basis")
	}
}

// goodsFaults are those of facts about goods that no tag can say.
func goodsFaults(under string, f Fact) []FieldError {
	c := &goodsCheck{under: under}
	switch f := f.(type) {
	case *Receipt:
		c.seals(f.Vehicle)
	case *Handover:
		c.handover(f)
	case *Count:
		seen := map[LotCode]bool{}
		for i, x := range f.Found {
			if x.Lot != "" {
				c.once(seen, fmt.Sprintf("found[%d].lot", i), x.Lot, "the lot is counted twice; write it once, with all that was found of it")
			}
		}
	case *Hold:
		c.lots(f.Lots)
	case *Release:
		c.lots(f.Lots)
	case *Result:
		c.measured("values", f.Values)
	case *Sample:
		c.sample(f)
	case *Drill:
		c.drill(f)
	}
	return c.faults
}

// goodsCheck gathers the faults of one fact.
type goodsCheck struct {
	under  string
	faults []FieldError
}

func (c *goodsCheck) add(field, value, want string) {
	c.faults = append(c.faults, FieldError{Field: c.under + "." + field, Value: value, Want: want})
}

// once notes a fault at the second of two.
func (c *goodsCheck) once(seen map[LotCode]bool, field string, lot LotCode, want string) {
	if seen[lot] {
		c.add(field, string(lot), want)
	}
	seen[lot] = true
}

func (c *goodsCheck) lots(lots []LotCode) {
	seen := map[LotCode]bool{}
	for i, l := range lots {
		c.once(seen, fmt.Sprintf("lots[%d]", i), l, "the lot is there twice; keep one")
	}
}

func (c *goodsCheck) measured(field string, values []Measured) {
	seen := map[string]bool{}
	for i, v := range values {
		if seen[v.Name] && v.Name != "" {
			c.add(fmt.Sprintf("%s[%d].name", field, i), v.Name, "the name is there twice, and nothing says which value counts; keep one, or tell them apart by name")
		}
		seen[v.Name] = true
	}
}

func (c *goodsCheck) seals(v Vehicle) {
	for i, s := range v.Seals {
		if s == (Seal{}) {
			c.add(fmt.Sprintf("vehicle.seals[%d]", i), "", "the seal's number as the papers have it, as it was found, or both")
		}
	}
}

func (c *goodsCheck) handover(f *Handover) {
	c.seals(f.Vehicle)
	if !f.Confirms.IsZero() {
		if f.Received == nil {
			c.add("received", "", "who received it; that is what is being confirmed")
		}
		return
	}
	switch {
	case f.From == "" && f.FromHolder == "":
		c.add("from", "", "the station it left, or `fromHolder`, the partner it stood with")
	case f.From != "" && f.FromHolder != "":
		c.add("from", string(f.From), "it left one place: keep either `from`, a station, or `fromHolder`, a partner")
	case f.FromHolder != "" && f.FromHolder == f.To:
		c.add("to", string(f.To), "it must not be the same as `fromHolder`")
	}
	if f.FromHolder != "" && f.Lot == "" {
		c.add("lot", "", "it must be given: goods that stand with a partner are handed on by lot")
	}
	if f.Use == "" {
		c.add("use", "", oneOf([]Use{Sale, Storage, Feed, Compost, Landfill, ForTest, Return}))
	}
	if f.Weight == (Weight{}) {
		c.add("weight", "", wantGiven)
	}
}

func (c *goodsCheck) sample(f *Sample) {
	switch {
	case f.Act == "discarded" && (f.From != "" || f.Mass != nil):
		c.add("act", f.Act, "samples that are thrown out are not taken from a station: leave out `from` and `mass`")
	case f.From == "" && f.Mass != nil:
		c.add("from", "", "the station the mass was taken from; or leave out `mass`")
	case f.From != "" && f.Mass == nil:
		c.add("mass", "", "the mass taken from the station, of all the samples together; or leave out `from`")
	}
}

func (c *goodsCheck) drill(f *Drill) {
	c.measured("figures", f.Figures)
	for _, need := range []struct {
		step, field string
		given       bool
	}{
		{"start", "subject", f.Subject != ""},
		{"start", "why", f.Why != ""},
		{"start", "lead", f.Lead != ""},
		{"contact", "partner", f.Partner != ""},
		{"finish", "lessons", f.Lessons != ""},
	} {
		if need.step == f.Step && !need.given {
			c.add(need.field, "", "it must be given: a drill's "+f.Step+" says it")
		}
	}
}
