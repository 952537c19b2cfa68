package records

import (
	"cmp"
	"fmt"
	"math/big"
	"math/bits"
	"strconv"
	"unicode/utf8"
)

// Decimal is an exact decimal number as somebody wrote it: 3.50 stays "3.50" and equals 3.5. It is written in JSON
// as a string, because RFC 8785 would turn a number into a double. At most 18 significant digits and 12 decimals, far past any
// instrument of a plant. The zero value is 0.
type Decimal struct {
	coef  int64
	scale uint8
}

const (
	maxDigits   = 18
	maxDecimals = 12
)

var pow10 = [...]int64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12}

// ParseDecimal reads an optional minus, digits, and optionally a point and more digits. No exponent, no thousands
// marks, no bare point: what a person might read two ways is refused.
func ParseDecimal(text string) (Decimal, error) { return parseDecimal(text) }

// parseDecimal also reads bytes as they are: a copy made for each value read would be a copy a sign-off.
func parseDecimal[T string | []byte](text T) (Decimal, error) {
	bad := func(why string) (Decimal, error) {
		return Decimal{}, fmt.Errorf("%q is not a decimal number: %s (write it like 12, 3.5 or -0.25)", clip(string(text)), why)
	}
	s, negative := text, false
	if len(s) > 0 && s[0] == '-' {
		negative, s = true, s[1:]
	}
	if len(s) == 0 {
		return bad("no digits")
	}
	var d Decimal
	digits, point := 0, -1
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c == '.':
			if point >= 0 {
				return bad("two points")
			}
			if i == 0 || i == len(s)-1 {
				return bad("digits are needed on both sides of the point")
			}
			point = i
		case c >= '0' && c <= '9':
			if digits++; digits > maxDigits {
				return bad("more than 18 digits")
			}
			d.coef = d.coef*10 + int64(c-'0')
		default:
			r, _ := utf8.DecodeRuneInString(string(s[i:]))
			return bad(fmt.Sprintf("%q does not belong there", r))
		}
	}
	if s[0] == '0' && len(s) > 1 && s[1] != '.' {
		return bad("it starts with a needless 0")
	}
	if point >= 0 {
		if d.scale = uint8(len(s) - point - 1); d.scale > maxDecimals {
			return bad("more than 12 decimals")
		}
	}
	if negative {
		if d.coef == 0 {
			return bad("minus nothing is 0")
		}
		d.coef = -d.coef
	}
	return d, nil
}

// NewDecimal is coef / 10^scale. It panics on a scale above 12 or a coefficient of more than 18 digits, which
// ParseDecimal would not read again: the caller wrote a constant.
func NewDecimal(coef int64, scale int) Decimal {
	if scale < 0 || scale > maxDecimals || coef <= -1e18 || coef >= 1e18 {
		panic("records: decimal out of range")
	}
	return Decimal{coef: coef, scale: uint8(scale)}
}

// Cmp is -1, 0 or 1 as d is below, equal to or above other, exactly.
func (d Decimal) Cmp(other Decimal) int {
	if d.scale == other.scale || d.coef < 0 != (other.coef < 0) {
		return cmp.Compare(d.coef, other.coef)
	}
	// a/10^i against b/10^j is a*10^j against b*10^i: 30 digits at most, which 128 bits hold.
	hi, lo := bits.Mul64(magnitude(d.coef), uint64(pow10[other.scale]))
	otherHi, otherLo := bits.Mul64(magnitude(other.coef), uint64(pow10[d.scale]))
	c := cmp.Or(cmp.Compare(hi, otherHi), cmp.Compare(lo, otherLo))
	if d.coef < 0 {
		return -c
	}
	return c
}

func magnitude(n int64) uint64 {
	if n < 0 {
		return -uint64(n)
	}
	return uint64(n)
}

// Rat is the exact value, for arithmetic.
func (d Decimal) Rat() *big.Rat { return big.NewRat(d.coef, pow10[d.scale]) }

// Over is the exact value as a fraction, not reduced: den is a power of ten.
func (d Decimal) Over() (num, den int64) { return d.coef, pow10[d.scale] }

// Float is the nearest double: for a spreadsheet cell or a picture, never for a judgement.
func (d Decimal) Float() float64 {
	// A whole number below 2^53 and a power of ten to 10^22 are doubles themselves, and IEEE 754 divides two doubles to the nearest.
	if magnitude(d.coef) < 1<<53 {
		return float64(d.coef) / float64(pow10[d.scale])
	}
	f, _ := d.Rat().Float64()
	return f
}

// String is the number as written.
func (d Decimal) String() string {
	b, _ := d.AppendText(nil)
	return string(b)
}

// AppendText appends the number as written.
func (d Decimal) AppendText(b []byte) ([]byte, error) {
	u := magnitude(d.coef)
	if d.coef < 0 {
		b = append(b, '-')
	}
	if d.scale == 0 {
		return strconv.AppendUint(b, u, 10), nil
	}
	p := uint64(pow10[d.scale])
	b = append(strconv.AppendUint(b, u/p, 10), '.')
	at := len(b)
	b = strconv.AppendUint(b, p+u%p, 10) // the leading 1 of p keeps the zeros; the point goes over it
	copy(b[at:], b[at+1:])
	return b[:len(b)-1], nil
}

// MarshalText writes the number as written.
func (d Decimal) MarshalText() ([]byte, error) { return d.AppendText(nil) }

// UnmarshalText is ParseDecimal.
func (d *Decimal) UnmarshalText(text []byte) error {
	parsed, err := parseDecimal(text)
	if err != nil {
		return err
	}
	*d = parsed
	return nil
}

// clip keeps a quoted value readable in an error.
func clip(text string) string {
	const most = 60
	if len(text) <= most {
		return text
	}
	cut := most
	for cut > 0 && !utf8.RuneStart(text[cut]) {
		cut-- // never through the middle of a letter
	}
	return text[:cut] + "…"
}
