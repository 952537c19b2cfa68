package binder

import (
	"fmt"
	"strings"
	"unicode/utf16"
	"unicode/utf8"
)

// maxFormula is how many characters a formula may have (the limit Excel states).
const maxFormula = 8192

// maxChars is how many UTF-16 units a cell holds; the library silently cuts what is longer.
const maxChars = 32_767

// visible makes characters that a workbook can not hold, or a reader could not see, visible instead of losing them: control
// characters as their pictures (U+2400 on), and others that hide or turn text around by number. A line feed stays: a cell may have lines.
func visible(s string) string {
	if ordinary(s) || !strings.ContainsFunc(s, hidden) {
		return s
	}
	var b strings.Builder
	for _, r := range s {
		switch {
		case !hidden(r):
			b.WriteRune(r)
		case r < 0x20:
			b.WriteRune(0x2400 + r)
		case r == 0x7f:
			b.WriteRune(0x2421)
		default:
			fmt.Fprintf(&b, "⟨U+%04X⟩", r)
		}
	}
	return b.String()
}

// ordinary says whether a text is of printable ASCII: nearly all are, and there are millions.
func ordinary(s string) bool {
	for i := range len(s) {
		if c := s[i]; c < 0x20 || c >= 0x7f {
			return false
		}
	}
	return true
}

func hidden(r rune) bool {
	switch {
	case r < 0x20:
		return r != '\n'
	case r < 0x7f:
		return false
	case r <= 0x9f, r == 0x2028, r == 0x2029, r == 0xfeff, r == 0xfffe, r == 0xffff:
		return true
	case r >= 0x200b && r <= 0x200f, r >= 0x202a && r <= 0x202e, r >= 0x2060 && r <= 0x2069:
		return true // no width, or another direction
	}
	return false
}

// pieces cuts a text into pieces of at most most UTF-16 units, never through a character.
func pieces(s string, most int) []string {
	if len(s) <= most { // a UTF-16 unit takes at least one byte
		return []string{s}
	}
	var out []string
	units, start := 0, 0
	for i, r := range s {
		n := max(1, utf16.RuneLen(r))
		if units+n > most {
			out, start, units = append(out, s[start:i]), i, 0
		}
		units += n
	}
	return append(out, s[start:])
}

// clip shortens a text that is also given whole elsewhere.
func clip(s string, most int) string {
	if utf8.RuneCountInString(s) <= most {
		return s
	}
	return string([]rune(s)[:most-1]) + "…"
}
