package records

import (
	"fmt"
	"math/big"
	"strings"
)

// Quantity is a measured value with the unit it was read in. The unit is free text of the plan ("mg/L", "degF"): the
// journal keeps what was written, and only a plan's limit in the same unit can judge it.
type Quantity struct {
	Value Decimal `json:"value"`
	Unit  string  `json:"unit,omitzero"`
}

// String is the value and its unit, as written.
func (q Quantity) String() string { return strings.TrimSpace(q.Value.String() + " " + q.Unit) }

// Micrograms is an exact mass. An int64 holds 9.2 million tonnes of it.
type Micrograms int64

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
	_, err = m.Micrograms()
	return m, err
}

const massUnitList = "kg, g, t, lb, cwt (100 lb), ton (2,000 lb)"

// Micrograms is the exact mass. A value finer than a microgram or beyond an int64 is an error, as is an unknown unit.
func (m Mass) Micrograms() (Micrograms, error) {
	factor, ok := massUnits[m.Unit]
	if !ok {
		return 0, fmt.Errorf("%q is not a unit of mass: use %s", clip(m.Unit), massUnitList)
	}
	v := new(big.Rat).Mul(m.Value.Rat(), new(big.Rat).SetInt64(factor))
	if !v.IsInt() {
		return 0, fmt.Errorf("%s is finer than a microgram", m)
	}
	if !v.Num().IsInt64() {
		return 0, fmt.Errorf("%s is more than a journal can weigh", m)
	}
	return Micrograms(v.Num().Int64()), nil
}

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
