package lineage

import (
	"fmt"
	"strings"

	"grainward/records"
)

// glyph is the shape of a status: a disc for organic, half of one for made with organic, a square for conventional, an empty
// triangle for unknown.
func (d *drawing) glyph(s records.Status, x, y float64) {
	switch {
	case s == records.Organic || s == records.Organic100:
		d.printf("<circle class=\"k\" cx=\"%.1f\" cy=\"%.1f\" r=\"4.5\"/>\n", x, y)
	case s == records.MadeWith:
		d.printf("<circle class=\"g\" cx=\"%.1f\" cy=\"%.1f\" r=\"4.5\"/><path class=\"k\" d=\"M%.1f %.1fa4.5 4.5 0 0 0 0 9z\"/>\n", x, y, x, y-4.5)
	case s == "":
		d.printf("<path class=\"g\" d=\"M%.1f %.1fl5 8.5h-10z\"/>\n", x, y-4.5)
	default:
		d.printf("<rect class=\"g\" x=\"%.1f\" y=\"%.1f\" width=\"8.5\" height=\"8.5\"/>\n", x-4.2, y-4.2)
	}
}

func (d *drawing) box(n *node) {
	f, l := d.boxes[n.lot].f, d.boxes[n.lot].Lot
	x, y := d.x+d.l.x[n.layer], d.y+n.y
	says := esc(join(" · ", string(l.Code), l.Title, f.status(l.Status), f.mass(l.Entered)))
	tag := "g"
	if d.href != nil {
		tag = "a"
		class := ""
		if l.Role == "subject" {
			class = " class=\"subject\""
		}
		// Its name is what can be read in the box, in that order (WCAG 2.5.3).
		name := []string{clip(string(l.Code), 20), clip(l.Title, 29), f.status(l.Status), f.mass(l.Entered), clip(f.whereabouts(l), 32)}
		if l.Held {
			name = append([]string{strings.ToUpper(f.words["held"])}, name...)
		}
		d.printf("<a%s href=\"%s\" aria-label=\"%s\">", class, esc(d.href(l.Code)), esc(join(" ", name...)))
	} else {
		d.printf("<g id=\"%slot-%d\">", d.ids, n.lot)
	}
	d.printf("<title>%s</title>\n", says)
	if l.Stage == "by-product" { // a corner cut off: a by-product
		d.printf("<path class=\"b\" d=\"M%.1f %.1fH%.1fL%.1f %.1fV%.1fH%.1fz\"/>\n", x, y, x+boxWidth-12, x+boxWidth, y+12, y+n.h, x)
	} else {
		d.printf("<rect class=\"b\" x=\"%.1f\" y=\"%.1f\" width=\"%.0f\" height=\"%.1f\"/>\n", x, y, boxWidth, n.h)
	}
	if l.Role == "subject" {
		d.printf("<rect class=\"g\" x=\"%.1f\" y=\"%.1f\" width=\"%.0f\" height=\"%.1f\"/>\n", x+3, y+3, boxWidth-6, n.h-6)
	}
	left := x + 11
	if l.Held {
		d.printf("<rect class=\"k\" x=\"%.1f\" y=\"%.1f\" width=\"5\" height=\"%.1f\"/>\n", x, y, n.h)
		d.text("r", x+boxWidth-14, y+18, strings.ToUpper(f.words["held"]))
	}
	d.text("c", left, y+19, clip(string(l.Code), 20))
	d.text("", left, y+34, clip(l.Title, 29))
	d.glyph(l.Status, left+4.5, y+45.5)
	d.text("", left+14, y+49, f.status(l.Status))
	d.text("r", x+boxWidth-11, y+49, f.mass(l.Entered))
	d.text("s", left, y+65, clip(f.whereabouts(l), 32))
	d.printf("</%s>\n", tag)
}

// whereabouts is in one line where a lot is.
func (f *Form) whereabouts(l *Lot) string {
	var ours, theirs, samples Kg
	partners := 0
	name := ""
	for _, w := range l.Where {
		switch {
		case w.Holder != "":
			theirs += w.Mass
			name = w.Title
			partners++
		case w.Title == f.words["retained samples"]:
			samples += w.Mass
		default:
			ours += w.Mass
		}
	}
	var parts []string
	if ours != 0 {
		parts = append(parts, f.words["on hand"]+" "+fmt.Sprintf("%.0f", f.amount(ours)))
	}
	switch {
	case partners == 1:
		parts = append(parts, f.words["with"]+" "+clip(name, 18))
	case partners > 1:
		parts = append(parts, fmt.Sprintf("%s %d %s", f.words["with"], partners, f.words["partners"]))
	}
	return strings.Join(parts, " · ")
}
