// Package ink is what the drawings have in common: texts that are safe in them and fit, and the shape by which a lot's status is told
// without colour.
//
// It knows text and shapes. It must not know what is drawn, where it stands on the paper, or any style: whoever draws gives the classes.
package ink

import (
	"encoding/xml"
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"grainward/records"
)

// Escape makes any text safe inside XML: what XML 1.0 can not hold, or would turn the way of writing round, becomes a mark.
func Escape(s string) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || r == 0xfffe || r == 0xffff || r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069 {
			return '�'
		}
		return r
	}, s)
	var b strings.Builder
	if err := xml.EscapeText(&b, []byte(s)); err != nil {
		return "" // a strings.Builder does not fail
	}
	return b.String()
}

// Clip keeps a text within n characters; where there is room for no more than the sign that something is left out, nothing is left.
func Clip(s string, n int) string {
	if utf8.RuneCountInString(s) <= n {
		return s
	}
	if n < 2 {
		return ""
	}
	return string([]rune(s)[:n-1]) + "…"
}

// Status is the shape of a status, about a point and as large as a disc of radius r: a disc for organic, half of one for made with
// organic, a square for conventional, an empty triangle for unknown. ink and line are the classes of what is filled and what is outlined.
func Status(s records.Status, x, y, r float64, ink, line string) string {
	switch {
	case s == records.Organic || s == records.Organic100:
		return fmt.Sprintf("<circle class=\"%s\" cx=\"%.1f\" cy=\"%.1f\" r=\"%g\"/>", ink, x, y, r)
	case s == records.MadeWith:
		return fmt.Sprintf("<circle class=\"%s\" cx=\"%.1f\" cy=\"%.1f\" r=\"%g\"/><path class=\"%s\" d=\"M%.1f %.1fa%g %g 0 0 0 0 %gz\"/>", line, x, y, r, ink, x, y-r, r, r, 2*r)
	case s == "":
		return fmt.Sprintf("<path class=\"%s\" d=\"M%.1f %.1fl%g %gh-%gz\"/>", line, x, y-r, r+.5, 2*r-.5, 2*r+1)
	}
	return fmt.Sprintf("<rect class=\"%s\" x=\"%.1f\" y=\"%.1f\" width=\"%g\" height=\"%g\"/>", line, x-r+.3, y-r+.3, 2*r-.5, 2*r-.5)
}
