package records

import (
	"math/big"
	"math/rand/v2"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

func TestParseDecimal(t *testing.T) {
	for _, text := range []string{"0", "0.0", "0.00", "1", "-1", "10", "3.50", "-0.25", "0.000000000001", "999999999999999999", "-999999999999999999", "123456.789012345678", "-0.000000000001"} {
		if d, err := ParseDecimal(text); err != nil || d.String() != text {
			t.Errorf("%q is read as %s (%v)", text, d, err)
		}
	}
	for text, why := range map[string]string{
		"": "no digits", "-": "no digits", "--1": "'-'", "+1": "'+'", ".": "both sides", ".5": "both sides", "-.5": "both sides", "5.": "both sides",
		"1.2.3": "two points", "1e5": "'e'", "1,5": "','", " 1": "' '", "1 ": "' '", "01": "needless 0", "-01.5": "needless 0", "00": "needless 0",
		"-0": "minus nothing", "-0.00": "minus nothing", "0.0000000000001": "12 decimals", "1000000000000000000": "18 digits", "1½": "'½'", "٣": "'٣'",
		"0x10": "'x'", "NaN": "'N'", "1_000": "'_'", "−5": "'−'", "1\xff": "does not belong",
	} {
		d, err := ParseDecimal(text)
		if err == nil || !strings.Contains(err.Error(), why) {
			t.Errorf("%q is read as %s, error %v; want one with %q", text, d, err, why)
		}
	}
}

// What is read, and as which number, against a regular expression and math/big.
func TestDecimalAgainstBig(t *testing.T) {
	grammar := regexp.MustCompile(`^-?(0|[1-9][0-9]*)(\.[0-9]{1,12})?$`)
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(rapid.StringMatching(`-?[0-9]{0,10}\.?[0-9]{0,13}`), rapid.StringMatching(`-?[0-9]{15,20}`), rapid.StringMatching(`[-+.,e0-9 ]{0,8}`)).Draw(t, "text")
		want, ok := new(big.Rat).SetString(text)
		ok = ok && grammar.MatchString(text) && len(strings.Trim(strings.Replace(text, ".", "", 1), "-")) <= 18 && !(want.Sign() == 0 && text[0] == '-')
		got, err := ParseDecimal(text)
		switch {
		case (err == nil) != ok:
			t.Fatalf("%q: error %v, well formed %v", text, err, ok)
		case err == nil && got.Rat().Cmp(want) != 0:
			t.Fatalf("%q is %s, math/big says %s", text, got.Rat(), want)
		case err == nil && got.String() != text:
			t.Fatalf("%q is written as %q", text, got)
		}
	})
}

// closeDecimals draws pairs that are often equal or differ in the last digit, which free draws never are.
func closeDecimals(t *rapid.T) (Decimal, Decimal) {
	a := drawer{t}.decimal()
	if rapid.Bool().Draw(t, "far") {
		return a, drawer{t}.decimal()
	}
	text := a.String()
	if !strings.Contains(text, ".") {
		text += "."
	}
	b, err := ParseDecimal(text + strings.Repeat("0", rapid.IntRange(0, 3).Draw(t, "zeros")) + rapid.StringMatching(`[01]`).Draw(t, "last"))
	if err != nil {
		return a, a
	}
	return a, b
}

func TestDecimalCmpAndFloat(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := closeDecimals(t)
		if got, want := a.Cmp(b), a.Rat().Cmp(b.Rat()); got != want || b.Cmp(a) != -want {
			t.Fatalf("%s against %s: %d, math/big says %d", a, b, got, want)
		}
		if want, err := strconv.ParseFloat(a.String(), 64); err != nil || a.Float() != want {
			t.Fatalf("%s is %g, strconv says %g (%v)", a, a.Float(), want, err)
		}
	})
	even := rand.New(rand.NewPCG(1, 2)) // rapid favours small numbers; the carry past 64 bits needs large ones
	for range 10_000 {
		a, b := NewDecimal(even.Int64N(1e18), even.IntN(13)), NewDecimal(even.Int64N(1e18), even.IntN(13))
		if got, want := a.Cmp(b), a.Rat().Cmp(b.Rat()); got != want {
			t.Fatalf("%s against %s: %d, math/big says %d", a, b, got, want)
		}
	}
	for _, pair := range [][2]string{{"3.5", "3.50"}, {"0", "0.000000000000"}, {"999999999999999999", "999999999999999999.0"}} {
		b, err := ParseDecimal(pair[1])
		if err == nil && mustDecimal(pair[0]).Cmp(b) != 0 {
			t.Errorf("%s and %s differ", pair[0], pair[1])
		}
	}
	if (Decimal{}).String() != "0" || (Decimal{}).Cmp(NewDecimal(0, 12)) != 0 {
		t.Error("the zero value is not 0")
	}
}

func TestNewDecimal(t *testing.T) {
	for coef, want := range map[int64]string{0: "0.00", 5: "0.05", -5: "-0.05", 100: "1.00", 999_999_999_999_999_999: "9999999999999999.99"} {
		if d := NewDecimal(coef, 2); d.String() != want {
			t.Errorf("%d / 100 is written %s, not %s", coef, d, want)
		} else if back, err := ParseDecimal(want); err != nil || back != d {
			t.Errorf("%s is read as %v (%v)", want, back, err)
		}
	}
	for _, bad := range []struct {
		coef  int64
		scale int
	}{{1, 13}, {1, -1}, {1e18, 0}, {-1e18, 0}, {-1 << 63, 0}} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("NewDecimal(%d, %d) makes a number that can not be read again", bad.coef, bad.scale)
				}
			}()
			NewDecimal(bad.coef, bad.scale)
		}()
	}
}

func TestClipKeepsLettersWhole(t *testing.T) {
	for n := range 5 {
		text := strings.Repeat("x", 56+n) + "ööö😀😀"
		if got := clip(text); !utf8.ValidString(got) || !strings.HasSuffix(got, "…") || len(got) > 60+len("…") {
			t.Errorf("%q is clipped to %q", text, got)
		}
	}
	if clip("short") != "short" {
		t.Error("a short text is changed")
	}
}
