package lineage

import (
	"bufio"
	"fmt"
	"io"
	"slices"
	"strings"

	"grainward/exports/columns"
	"grainward/exports/ink"
)

// mostTold is how many changes of hands are told below a drawing; the workbook has all.
const mostTold = 60

const throughStyle = style + `.n{font-size:14px;font-weight:bold;font-family:"Liberation Serif",Georgia,"Times New Roman",serif}
.w{fill:none;stroke:#1d1a16;stroke-width:1.4}
.j{fill:none;stroke:#1d1a16;stroke-width:3.6}
.i{fill:none;stroke:#fcfaf5;stroke-width:1.6}
@media print{.i{stroke:#fff}}
`

// WriteThroughDrawing draws a trace through several plants: each plant's lots in a frame with its name, one frame below the other, all in the
// way of the goods from left to right. What went from plant to plant is a double line from frame to frame, with a number by which it is told
// below, and so is what has no counterpart.
func WriteThroughDrawing(w io.Writer, t *Through) error {
	b := bufio.NewWriter(w)
	d := &throughDrawing{drawing{w: b, f: t.Legs[t.First].Form, l: &layout{bands: make([]band, len(t.Legs))}}, t}
	d.join()
	d.l.lay()
	d.draw()
	if err := b.Flush(); err != nil {
		return fmt.Errorf("writing the drawing: %w", err)
	}
	return nil
}

type throughDrawing struct {
	drawing
	t *Through
}

// join takes in the lots of all legs, and what went between them.
func (d *throughDrawing) join() {
	first := make([]int, len(d.t.Legs))
	for i := range d.t.Legs {
		f := d.t.Legs[i].Form
		first[i] = d.l.add(f, i)
		d.boxes = append(d.boxes, f.boxes()...)
	}
	for n := range d.t.Crossings {
		c := &d.t.Crossings[n]
		from, to := d.t.Legs[c.From].Form.byLot, d.t.Legs[c.To].Form.byLot
		got, there := to[c.Got.Lots[0]]
		mass := c.Got.Mass
		for _, lot := range c.Gave.Lots {
			if gave, is := from[lot]; is && there {
				d.l.edges = append(d.l.edges, &drawn{from: first[c.From] + gave, to: first[c.To] + got, mass: mass, estimated: c.Estimated, crossing: n + 1})
				mass = 0 // said once
			}
		}
	}
}

func (d *throughDrawing) draw() {
	width := max(d.l.w+2*(margin+bandFoot), leastWidth)
	told := d.told(int((width - 2*margin) / 5.4))
	height := headHeight + bandHead + d.l.h + bandFoot + 14*float64(len(told)) + footHeight + 17 + margin
	d.x, d.y = margin+(width-2*margin-d.l.w)/2, headHeight+bandHead
	d.open(width, height, d.t.Heading, d.describe(), throughStyle)
	d.head(width)
	for i, b := range d.l.bands {
		d.frame(i, d.y+b.y-bandHead+8, bandHead+b.h+bandFoot-8, width)
	}
	for _, e := range d.l.edges {
		if e.crossing == 0 {
			d.edge(e)
		}
	}
	for _, e := range d.l.edges {
		if e.crossing > 0 {
			d.cross(e)
		}
	}
	for _, n := range d.l.nodes {
		if n.lot >= 0 {
			d.box(n)
		}
	}
	for _, e := range d.l.edges {
		d.label(e)
	}
	y := headHeight + bandHead + d.l.h + bandFoot + 22
	for _, line := range told {
		if line.says != "" {
			d.text(line.class, margin, y, line.says)
		}
		y += 14
	}
	d.foot(width, height)
	d.printf("</svg>\n")
}

func (d *throughDrawing) describe() string {
	w := d.f.words
	return fmt.Sprintf("%s: %d; %s: %d; %s: %d; %s: %d", w["Plants"], len(d.t.Legs), w["Lots"], len(d.boxes), w["From plant to plant"], len(d.t.Crossings), w["Without a counterpart"], len(d.t.Loose))
}

func (d *throughDrawing) head(width float64) {
	var names []string
	for _, leg := range d.t.Legs {
		names = append(names, leg.Name)
	}
	d.text("t", margin, 42, d.t.Heading)
	d.text("s", margin, 62, ink.Clip(strings.Join(names, " · "), int((width-2*margin)/5.6)))
	d.text("s", margin, 79, join(" ", d.f.words["moment"], d.f.when(d.f.At), d.f.Zone))
	d.printf("<path class=\"g\" d=\"M%.0f 92H%.0fM%.0f 94.5H%.0f\"/>\n", margin, width-margin, margin, width-margin)
}

// frame is one plant: its name, where the trace starts, its journal's head, and its account.
func (d *throughDrawing) frame(i int, y, h, width float64) {
	leg, w := &d.t.Legs[i], d.f.words
	name := join(" ", leg.Name, "("+leg.Code+")")
	d.printf("<g id=\"plant-%d\"><rect class=\"w\" x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" height=\"%.1f\"/>\n", i, margin, y, width-2*margin, h)
	d.text("n", margin+12, y+20, ink.Clip(name, 60))
	says := w["Mass accounted for"] + " " + leg.Form.accounted()
	if len(leg.Form.Lots) == 0 {
		says = w["No lot had to do with it by that moment."]
	}
	d.text("f", margin+12, y+34, says)
	if root := leg.Form.stamp("tree head"); root != "" {
		d.text("f r", width-margin-12, y+20, join(" · ", w["position"]+" "+leg.Form.stamp("position"), w["tree head"]+" "+ink.Clip(root, 13)))
	}
	d.printf("</g>\n")
}

// cross draws what went from plant to plant: a double line, with an arrow's head at its end.
func (d *throughDrawing) cross(e *drawn) {
	if len(e.links) == 0 {
		return
	}
	const head = 8.0
	way, end, y := d.way(e, head)
	dash := ""
	if e.estimated {
		dash = " d"
	}
	c := &d.t.Crossings[e.crossing-1]
	d.printf("<g class=\"crossing\"><title>%s</title><path class=\"j%s\" d=\"%s\"/><path class=\"i\" d=\"%s\"/>", ink.Escape(strings.Join(c.Says, " ")), dash, way, way)
	if e.backward {
		k := e.links[0]
		x := d.x + d.l.x[k.from.layer] + boxWidth
		d.printf("<path class=\"e\" d=\"M%.1f %.1fH%.1f\" marker-start=\"url(#a)\"/></g>\n", x, d.y+k.y0, x+head)
		return
	}
	d.printf("<path class=\"e\" d=\"M%.1f %.1fH%.1f\" marker-end=\"url(#a)\"/></g>\n", end-head, y, end)
}

// told is a line of text below the frames.
type told struct{ class, says string }

func (d *throughDrawing) told(wide int) (out []told) {
	w := d.f.words
	heading := func(s string) { out = append(out, told{}, told{"n", s}, told{}) }
	say := func(mark, s string) {
		lines := columns.Break(s, wide-6)
		for i, line := range lines {
			if i > 0 {
				mark = "\u2003"
			}
			out = append(out, told{"s", mark + " " + line})
		}
	}
	list := func(name string, n int, line func(i int) (mark, says string)) {
		if n > 0 {
			heading(w[name])
		}
		for i := range min(n, mostTold) {
			say(line(i))
		}
		if n > mostTold {
			say("…", fmt.Sprintf("%d %s", n-mostTold, w["more; the workbook has all"]))
		}
	}
	list("From plant to plant", len(d.t.Crossings), func(i int) (string, string) { return crossingMark(i + 1), strings.Join(d.t.Crossings[i].Says, " ") })
	list("Without a counterpart", len(d.t.Loose), func(i int) (string, string) { return "·", d.t.Loose[i].Why })
	out = append(out, told{})
	for _, note := range append(d.t.Notes, w["Shares and the mass accounted for are, at each plant, of the lots by which the trace comes into it."]) {
		say("·", note)
	}
	return out
}

func crossingMark(n int) string { return fmt.Sprintf("[%d]", n) }

func (d *throughDrawing) foot(width, height float64) {
	w := d.f.words
	y := height - footHeight - 17 + 14
	d.printf("<path class=\"g\" d=\"M%.0f %.0fH%.0f\"/>\n", margin, y, width-margin)
	y += 22
	d.legend(y)
	y += 34
	d.printf("<path class=\"j\" d=\"M%.1f %.1fh14\"/><path class=\"i\" d=\"M%.1f %.1fh14\"/>\n", margin, y-4, margin, y-4)
	d.text("f", margin+22, y, w["double line: from plant to plant"])
	y += 17
	d.text("f", margin, y, w["What the records show; the certifier and the authority having jurisdiction judge."])
	d.text("f r", width-margin, y, d.t.Program)
}

// stamp is a line of the stamp by its name.
func (f *Form) stamp(name string) string {
	if i := slices.IndexFunc(f.Stamp, func(s StampLine) bool { return s.Name == name }); i >= 0 {
		return f.Stamp[i].Value
	}
	return ""
}
