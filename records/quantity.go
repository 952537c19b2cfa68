package records

import (
	"fmt"
	"math"
	"math/bits"
	"strings"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
)

// Quantity is a measured value with the unit it was read in. The unit is free text of the plan ("mg/L", "degF"): the
// journal keeps what was written, and only a plan's limit in the same unit can judge it.
type Quantity struct {
	Value Decimal `json:"value"`
	Unit  string  `json:"unit,omitzero" validate:"max=40"`
}

// quantityWire remembers whether there was a value: a reading that was left out must not become a reading of 0.
type quantityWire struct {
	Value givenDecimal `json:"value"`
	Unit  unitText     `json:"unit"`
}

type givenDecimal struct {
	Decimal
	given bool
}

// UnmarshalText is ParseDecimal.
func (d *givenDecimal) UnmarshalText(text []byte) error {
	d.given = true
	return d.Decimal.UnmarshalText(text)
}

type unitText string

// UnmarshalText keeps one copy of a unit: a journal has few, in a million places.
func (u *unitText) UnmarshalText(text []byte) error { *u = unitText(shared(text)); return nil }

// UnmarshalJSONFrom reads a quantity and refuses one without a value.
func (q *Quantity) UnmarshalJSONFrom(dec *jsontext.Decoder) error {
	var w quantityWire
	if err := json.UnmarshalDecode(dec, &w); err != nil {
		return err
	}
	if !w.Value.given {
		return &Error{Kind: Invalid, What: unreadable, Fields: []FieldError{{Field: "value", Want: wantGiven}}}
	}
	*q = Quantity{w.Value.Decimal, string(w.Unit)}
	return nil
}

// String is the value and its unit, as written.
func (q Quantity) String() string { return strings.TrimSpace(q.Value.String() + " " + q.Unit) }

// Micrograms is an exact mass. An int64 holds 9.2 million tonnes of it.
type Micrograms int64

// In is the mass in a unit, as the nearest double: to show it, never to judge it. The unit is one of those a Mass can have.
func (m Micrograms) In(unit string) float64 { return float64(m) / float64(massUnits[unit]) }

// massUnits are exact by definition: 1 lb is 0.45359237 kg (NIST Handbook 44, Appendix C); the short ton and
// hundredweight are 2,000 and 100 of it.
var massUnits = map[string]int64{
	"kg":  1e9,
	"g":   1e6,
	"t":   1e12,
	"lb":  453_592_370,
	"cwt": 45_359_237_000,
	"ton": 907_184_740_000,
}

// Mass is a mass as somebody wrote it; Micrograms gives its exact value.
type Mass struct {
	Value Decimal `json:"value"`
	Unit  string  `json:"unit"`
}

// ParseMass reads a value and a unit, such as "55 lb" or "22.68 kg".
func ParseMass(text string) (Mass, error) {
	number, unit, ok := strings.Cut(strings.TrimSpace(text), " ")
	if !ok {
		return Mass{}, fmt.Errorf("%q is not a mass: write a number, a space and one of %s", clip(text), massUnitList)
	}
	v, err := ParseDecimal(number)
	if err != nil {
		return Mass{}, err
	}
	m := Mass{Value: v, Unit: strings.TrimSpace(unit)}
	if _, err := m.Micrograms(); err != nil {
		return Mass{}, err
	}
	return m, nil
}

const massUnitList = "kg, g, t, lb, cwt (100 lb), ton (2,000 lb)"

// Micrograms is the mass to the nearest microgram, halves away from zero. It is exact for metric values and for pounds to
// one decimal; hundredths of a pound, which bag scales show, are no whole micrograms (0.01 lb is 4,535,923.7). The value
// as written stays beside it, exactly. A value that is something and comes to nothing, or is beyond an int64, is an error, as is an
// unknown unit.
func (m Mass) Micrograms() (Micrograms, error) {
	factor, ok := massUnits[m.Unit]
	if !ok {
		return 0, fmt.Errorf("%q is not a unit of mass: use %s", clip(m.Unit), massUnitList)
	}
	hi, lo := bits.Mul64(magnitude(m.Value.coef), uint64(factor))
	per := uint64(pow10[m.Value.scale])
	if hi >= per {
		return 0, fmt.Errorf("%s %s", clip(m.String()), tooHeavy)
	}
	whole, rest := bits.Div64(hi, lo, per)
	if rest >= per-rest {
		whole++
	}
	switch {
	case whole > math.MaxInt64:
		return 0, fmt.Errorf("%s %s", clip(m.String()), tooHeavy)
	case whole == 0 && m.Value.coef != 0:
		return 0, fmt.Errorf("%s is less than a microgram", clip(m.String()))
	case m.Value.coef < 0:
		return -Micrograms(whole), nil
	}
	return Micrograms(whole), nil
}

const tooHeavy = "is more than a journal can weigh (about 9.2 million tonnes)"

// String is the mass as written.
func (m Mass) String() string { return m.Value.String() + " " + m.Unit }

// MarshalText writes the mass as written.
func (m Mass) MarshalText() ([]byte, error) { return []byte(m.String()), nil }

// UnmarshalText is ParseMass.
func (m *Mass) UnmarshalText(text []byte) error {
	parsed, err := ParseMass(string(text))
	if err != nil {
		return err
	}
	*m = parsed
	return nil
}
