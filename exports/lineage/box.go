package lineage

import (
	"fmt"
	"strings"

	"grainward/exports/ink"
	"grainward/records"
)

// glyph is the shape of a status.
func (d *drawing) glyph(s records.Status, x, y float64) {
	d.printf("%s\n", ink.Status(s, x, y, 4.5, "k", "g"))
}

func (d *drawing) box(n *node) {
	f, l := d.boxes[n.lot].f, d.boxes[n.lot].Lot
	x, y := d.x+d.l.x[n.layer], d.y+n.y
	says := ink.Escape(join(" · ", string(l.Code), l.Title, f.status(l.Status), f.mass(l.Entered)))
	tag := "g"
	if d.href != nil {
		tag = "a"
		class := ""
		if l.Role == "subject" {
			class = " class=\"subject\""
		}
		// Its name is what can be read in the box, in that order (WCAG 2.5.3).
		name := []string{ink.Clip(string(l.Code), 20), ink.Clip(l.Title, 29), f.status(l.Status), f.mass(l.Entered), ink.Clip(f.whereabouts(l), 32)}
		if l.Held {
			name = append([]string{strings.ToUpper(f.words["held"])}, name...)
		}
		d.printf("<a%s href=\"%s\" aria-label=\"%s\">", class, ink.Escape(d.href(l.Code)), ink.Escape(join(" ", name...)))
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
	d.text("c", left, y+19, ink.Clip(string(l.Code), 20))
	d.text("", left, y+34, ink.Clip(l.Title, 29))
	d.glyph(l.Status, left+4.5, y+45.5)
	d.text("", left+14, y+49, f.status(l.Status))
	d.text("r", x+boxWidth-11, y+49, f.mass(l.Entered))
	d.text("s", left, y+65, ink.Clip(f.whereabouts(l), 32))
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
		parts = append(parts, f.words["with"]+" "+ink.Clip(name, 18))
	case partners > 1:
		parts = append(parts, fmt.Sprintf("%s %d %s", f.words["with"], partners, f.words["partners"]))
	}
	return strings.Join(parts, " · ")
}
