package across

import (
	"strconv"
	"strings"
	"unicode"

	"grainward/records"
)

// Named is how a receipt names the lot that was handed over; the nearer to the letter, the smaller.
type Named int

const (
	AsWritten Named = iota // letter for letter
	AsBag                  // the lot and the number of a bag, as labels have it
	Respelt                // letter case, spaces and signs aside
	Among                  // as one of several names
	NotNamed               // not at all: papers alone join it
)

// fold leaves the letters and digits of a text, in capitals.
func fold(text string) string {
	return strings.Map(func(c rune) rune {
		if unicode.IsLetter(c) || unicode.IsDigit(c) {
			return unicode.ToUpper(c)
		}
		return -1
	}, text)
}

// bagOf cuts the number of a bag off: "LOT/12", "LOT#12", "LOT 12", as a label reads (audit/trace, ParseSubject).
func bagOf(text string) (lot string, ok bool) {
	at := strings.LastIndexAny(text, "/# ")
	if at <= 0 {
		return "", false
	}
	if n, err := strconv.Atoi(text[at+1:]); err != nil || n <= 0 {
		return "", false
	}
	return strings.TrimRight(text[:at], "/# "), true
}

// named says whether one written name means a lot, and how.
func named(written string, lot records.LotCode) (Named, bool) {
	written = strings.TrimSpace(written)
	folded := fold(string(lot))
	bag, isBag := bagOf(written)
	switch {
	case written == "" || folded == "":
		return NotNamed, false
	case written == string(lot):
		return AsWritten, true
	case isBag && bag == string(lot):
		return AsBag, true
	case fold(written) == folded:
		return Respelt, true
	case isBag && fold(bag) == folded:
		return AsBag, true
	}
	return NotNamed, false
}

// keys are what a lot that a name could mean folds to.
func keys(written string) (out []string) {
	if k := fold(written); k != "" {
		out = append(out, k)
	}
	if bag, ok := bagOf(strings.TrimSpace(written)); ok {
		if k := fold(bag); k != "" {
			out = append(out, k)
		}
	}
	return out
}

// several are the names in a text that holds more than one.
func several(written string) []string {
	parts := strings.FieldsFunc(written, func(c rune) bool { return c == ',' || c == ';' || c == '+' || c == '&' || c == '\n' })
	if len(parts) < 2 {
		return nil
	}
	return parts
}

// shares says whether two lists of papers have a number in common: the same one, or one that ends in the other ("delivery note 10471"
// and "10471"). Fewer than four signs, or no digit, are no number.
func shares(a, b []string) bool {
	for _, x := range a {
		for _, y := range b {
			x, y := fold(x), fold(y)
			if len(x) > len(y) {
				x, y = y, x
			}
			if len(x) >= 4 && strings.ContainsFunc(x, unicode.IsDigit) && strings.HasSuffix(y, x) && !cutsNumber(y, x) {
				return true
			}
		}
	}
	return false
}

// cutsNumber says whether the end of a text begins in the midst of a longer number there.
func cutsNumber(whole, end string) bool {
	before := whole[:len(whole)-len(end)]
	return before != "" && isDigit(before[len(before)-1]) && isDigit(end[0])
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }
