package records

import (
	"math/big"
	"strings"
	"testing"

	"github.com/go-json-experiment/json"
	"pgregory.net/rapid"
)

// 1 lb = 0.45359237 kg is exact: NIST Handbook 44, Appendix C. The short ton (2,000 lb), the hundredweight (100 lb) and
// the sums follow from it (standards.md section 7, where the Debian program `units` gave the same).
func TestMassVectors(t *testing.T) {
	for text, want := range map[string]Micrograms{
		"1 lb":                  453_592_370,
		"50 lb":                 22_679_618_500,
		"22.6796185 kg":         22_679_618_500,
		"55 lb":                 24_947_580_350,
		"2000 lb":               907_184_740_000,
		"1 ton":                 907_184_740_000,
		"907.18474 kg":          907_184_740_000,
		"1 cwt":                 45_359_237_000,
		"45.359237 kg":          45_359_237_000,
		"5000 kg":               5_000_000_000_000,
		"5 t":                   5_000_000_000_000,
		"1 t":                   1_000_000_000_000,
		"0.000001 g":            1,
		"0.1 lb":                45_359_237,
		"0 kg":                  0,
		"0.01 lb":               4_535_924,      // 4,535,923.7: a bag scale's division
		"55.25 lb":              25_060_978_443, // 25,060,978,442.5, the half away from zero
		" 3.50  kg ":            3_500_000_000,
		"9223372.03685477580 t": 9_223_372_036_854_775_800,
	} {
		m, err := ParseMass(text)
		if err != nil {
			t.Errorf("%q: %v", text, err)
			continue
		}
		if got, err := m.Micrograms(); err != nil || got != want {
			t.Errorf("%q is %d µg (%v), want %d", text, got, err, want)
		}
	}
	// 5,000 kg = 11,023.1131092438790… lb: standards.md section 7.
	kg, err := ParseMass("5000 kg")
	if err != nil {
		t.Fatal(err)
	}
	ug, err := kg.Micrograms()
	if err != nil {
		t.Fatal(err)
	}
	if lb := big.NewRat(int64(ug), massUnits["lb"]).FloatString(13); lb != "11023.1131092438790" {
		t.Errorf("5,000 kg are %s lb", lb)
	}
	for text, why := range map[string]string{
		"": "not a mass", "55": "not a mass", "55lb": "not a mass", "lb": "not a mass", "55 lbs": "not a unit", "55 LB": "not a unit", "55 oz": "not a unit", "1 bu": "not a unit",
		"1,000 kg": "','", "x kg": "decimal", "0.0000001 g": "less than a microgram", "0.0000000001 lb": "less than a microgram", "9223372.03685477581 t": "more than", "999999999999999999 ton": "more than",
	} {
		m, err := ParseMass(text)
		if err == nil || !strings.Contains(err.Error(), why) {
			t.Errorf("%q is read as %s, error %v; want one with %q", text, m, err, why)
		}
		if m != (Mass{}) {
			t.Errorf("%q is refused, and still gives %s", text, m)
		}
	}
}

func TestMassAgainstBig(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		unit := rapid.SampledFrom([]string{"kg", "g", "t", "lb", "cwt", "ton"}).Draw(t, "unit")
		m := Mass{Value: drawer{t}.decimal(), Unit: unit}
		if rapid.Bool().Draw(t, "short") {
			m.Value = NewDecimal(rapid.Int64Range(-999_999, 999_999).Draw(t, "coef"), rapid.IntRange(0, 4).Draw(t, "scale"))
		}
		want := new(big.Rat).Mul(m.Value.Rat(), new(big.Rat).SetInt64(massUnits[unit]))
		got, err := m.Micrograms()
		// Whole micrograms, halves away from zero: FloatString rounds so.
		whole, _ := new(big.Int).SetString(want.FloatString(0), 10)
		if ok := whole.IsInt64() && new(big.Int).Neg(whole).IsInt64() && (whole.Sign() != 0 || want.Sign() == 0); ok != (err == nil) {
			t.Fatalf("%s: %v, and math/big says %s µg", m, err, want.FloatString(3))
		}
		if err == nil && whole.Int64() != int64(got) {
			t.Fatalf("%s is %d µg, math/big says %s", m, got, want.FloatString(3))
		}
		if err != nil {
			return
		}
		text, err := json.Marshal(m)
		var back Mass
		if err != nil || json.Unmarshal(text, &back) != nil || back != m {
			t.Fatalf("%s is written %s and read as %s (%v)", m, text, back, err)
		}
	})
}

// A reading that was left out is not a reading of 0.
func TestQuantityNeedsItsValue(t *testing.T) {
	for _, text := range []string{`{}`, `{"unit":"mg/L"}`, `{"value":null,"unit":"mg/L"}`, `{"value":"","unit":"mg/L"}`, `{"value":0}`, `{"value":"1","units":"mg/L"}`, `"1 mg/L"`, `1`} {
		line := `{"kind":"signoff","happened":"2026-03-08T07:30:00Z","by":"crew-1","fact":{"task":"t","station":"s","outcome":"passed","answers":[{"ask":"ozone","value":` + text + `}]}}`
		e, err := ParseDraft([]byte(line))
		if err == nil {
			t.Errorf("%s is read as %s", text, e.Fact.(*Signoff).Answers[0].Value)
		} else if !strings.Contains(err.Error(), "fact.answers[0].value") {
			t.Errorf("%s: the error does not say where: %v", text, err)
		}
	}
	for q, want := range map[Quantity]string{{mustDecimal("3.50"), "mg/L"}: "3.50 mg/L", {mustDecimal("7"), ""}: "7", {}: "0"} {
		if q.String() != want {
			t.Errorf("%q, want %q", q, want)
		}
	}
}
