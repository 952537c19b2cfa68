package lineage

import (
	"bufio"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"grainward/exports/ink"
	"grainward/records"
)

// WriteDrawing draws the lineage as SVG, left to right in the way of the goods: paper, ink, thin ruled lines. A box is a lot, with its code,
// item, status in a word and a shape, and mass; a line is what of one lot went into another, with its mass: dashed and marked est. when
// it is an estimate. Nothing is told by colour alone, so it reads the same when printed in black.
func WriteDrawing(w io.Writer, in Input) error {
	f, err := Flatten(in)
	if err != nil {
		return err
	}
	b := bufio.NewWriter(w)
	d := &drawing{w: b, f: f, l: arrange(f), boxes: f.boxes()}
	d.draw()
	if err := b.Flush(); err != nil {
		return fmt.Errorf("writing the drawing: %w", err)
	}
	return nil
}

const (
	margin     = 36.0
	headHeight = 104.0
	footHeight = 92.0
	leastWidth = 860.0
)

type drawing struct {
	w     *bufio.Writer // keeps the first error until Flush
	f     *Form         // whose words and stamp the paper bears
	l     *layout
	boxes []boxed // by node
	x, y  float64 // of the layout's corner on the paper
	ids   string  // in front of every id
	href  func(records.LotCode) string
}

// boxed is a lot, in the form whose units it is shown in.
type boxed struct {
	f *Form
	*Lot
}

func (f *Form) boxes() (out []boxed) {
	for i := range f.Lots {
		out = append(out, boxed{f, &f.Lots[i]})
	}
	return out
}

func (d *drawing) printf(format string, args ...any) { fmt.Fprintf(d.w, format, args...) }

func (d *drawing) text(class string, x, y float64, s string) {
	d.printf("<text class=\"%s\" x=\"%.1f\" y=\"%.1f\">%s</text>\n", class, x, y, ink.Escape(s))
}

const style = `text{font-family:"Liberation Sans",Arial,Helvetica,sans-serif;fill:#1d1a16;font-size:11px;font-variant-numeric:tabular-nums}
.t{font-size:20px;font-family:"Liberation Serif",Georgia,"Times New Roman",serif}
.s{font-size:11px;fill:#4a453d}
.c{font-size:13px;font-weight:bold;font-family:"Liberation Mono","Courier New",monospace}
.r{text-anchor:end}
.m{font-size:9.5px;text-anchor:end;paint-order:stroke;stroke:#fcfaf5;stroke-width:3px;stroke-linejoin:round}
.f{font-size:10px;fill:#4a453d}
.e{fill:none;stroke:#1d1a16;stroke-width:1}
.d{stroke-dasharray:5 4}
.b{fill:#fffefb;stroke:#1d1a16;stroke-width:1}
.g{fill:none;stroke:#1d1a16;stroke-width:.8}
.l{stroke:#e4dccd;stroke-width:.6}
.k{fill:#1d1a16;stroke:none}
.p{fill:#fcfaf5}
@media print{.p{fill:#fff}.m{stroke:#fff}.b{fill:#fff}}
`

func (d *drawing) draw() {
	f := d.f
	width := max(d.l.w+2*margin, leastWidth)
	height := headHeight + d.l.h + footHeight + margin
	d.x, d.y = margin+(width-2*margin-d.l.w)/2, headHeight+rowGap
	d.open(width, height, f.heading(), d.describe(), style)
	for y := headHeight; y < height-footHeight; y += 24 {
		d.printf("<path class=\"l\" d=\"M%.0f %.0fH%.0f\"/>\n", margin, y, width-margin)
	}
	d.head(width)
	for _, e := range d.l.edges {
		d.edge(e)
	}
	for _, n := range d.l.nodes {
		if n.lot >= 0 {
			d.box(n)
		}
	}
	for _, e := range d.l.edges {
		d.label(e)
	}
	if len(f.Lots) == 0 {
		d.text("", margin, headHeight+30, f.words["No lot had to do with it by that moment."])
	}
	d.foot(width, height)
	d.printf("</svg>\n")
}

// open begins the paper.
func (d *drawing) open(width, height float64, title, says, style string) {
	d.printf("<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"%.0f\" height=\"%.0f\" viewBox=\"0 0 %.0f %.0f\" role=\"img\" aria-labelledby=\"h n\" lang=\"%s\">\n",
		width, height, width, height, d.f.words["lang"])
	d.printf("<title id=\"h\">%s</title>\n<desc id=\"n\">%s</desc>\n<style>%s</style>\n", ink.Escape(title), ink.Escape(says), style)
	d.printf("<defs><marker id=\"a\" viewBox=\"0 0 8 8\" refX=\"7.5\" refY=\"4\" markerWidth=\"7\" markerHeight=\"7\" orient=\"auto-start-reverse\"><path class=\"k\" d=\"M0 1L8 4L0 7z\"/></marker></defs>\n")
	d.printf("<rect class=\"p\" width=\"%.0f\" height=\"%.0f\"/>\n", width, height)
}

func (d *drawing) describe() string {
	return fmt.Sprintf("%d %s; %s %s", len(d.f.Lots), strings.ToLower(d.f.words["Lots"]), d.f.words["Mass accounted for"], d.f.accounted())
}

func (d *drawing) head(width float64) {
	f := d.f
	d.text("t", margin, 42, f.heading())
	d.text("s", margin, 62, join(" · ", d.f.stamp("plant"), f.words["moment"]+" "+f.when(f.At)+" "+f.Zone))
	d.text("s", margin, 79, f.words["Mass accounted for"]+" "+f.accounted())
	d.printf("<path class=\"g\" d=\"M%.0f 92H%.0fM%.0f 94.5H%.0f\"/>\n", margin, width-margin, margin, width-margin)
}

func (d *drawing) foot(width, height float64) {
	w := d.f.words
	y := height - footHeight + 14
	d.printf("<path class=\"g\" d=\"M%.0f %.0fH%.0f\"/>\n", margin, y, width-margin)
	y += 22
	d.legend(y)
	y += 17
	for _, c := range d.f.Cycles {
		y += 15
		d.text("f", margin, y, ink.Clip(w["These lots are recorded as made from themselves; look for a slip:"]+" "+codes(c), int((width-2*margin)/5)))
	}
	y += 17
	d.text("f", margin, y, w["What the records show; the certifier and the authority having jurisdiction judge."])
	if root := d.f.stamp("tree head"); root != "" {
		d.text("f r", width-margin, y, join(" · ", w["position"]+" "+d.f.stamp("position"), w["tree head"]+" "+ink.Clip(root, 13), d.f.stamp("program")))
	}
}

// legend is two lines that say what shapes mean.
func (d *drawing) legend(y float64) {
	x := margin
	put := func(shape func(x, y float64), label string) {
		shape(x+6, y-4)
		d.text("f", x+18, y, label)
		x += 30 + 5.6*float64(utf8.RuneCountInString(label))
	}
	w := d.f.words
	for _, s := range []records.Status{records.Organic, records.MadeWith, records.Conventional, ""} {
		put(func(x, y float64) { d.glyph(s, x, y) }, d.f.status(s))
	}
	put(func(x, y float64) { d.printf("<path class=\"e\" d=\"M%.1f %.1fh14\"/>\n", x-6, y) }, " "+w["solid line: weighed"])
	put(func(x, y float64) { d.printf("<path class=\"e d\" d=\"M%.1f %.1fh14\"/>\n", x-6, y) }, " "+w["dashed line: estimate (est.)"])
	y += 17
	x = margin
	put(func(x, y float64) {
		d.printf("<rect class=\"b\" x=\"%.1f\" y=\"%.1f\" width=\"12\" height=\"9\"/><rect class=\"g\" x=\"%.1f\" y=\"%.1f\" width=\"8\" height=\"5\"/>\n", x-6, y-4, x-4, y-2)
	}, w["double frame: subject"])
	put(func(x, y float64) {
		d.printf("<rect class=\"k\" x=\"%.1f\" y=\"%.1f\" width=\"5\" height=\"10\"/>\n", x-4, y-5)
	}, w["heavy bar: held"])
	put(func(x, y float64) { d.printf("<path class=\"b\" d=\"M%.1f %.1fh8l4 4v5h-12z\"/>\n", x-6, y-4) }, w["cut corner: by-product"])
	put(func(x, y float64) {
		d.printf("<path class=\"e\" d=\"M%.1f %.1fh12\" marker-end=\"url(#a)\"/>\n", x-6, y)
	}, w["at a line: mass that went into the step"])
}

// edge draws one line.
func (d *drawing) edge(e *drawn) {
	if len(e.links) == 0 {
		return
	}
	class := "e"
	if e.estimated {
		class += " d"
	}
	marker := "marker-end"
	if e.backward {
		marker = "marker-start"
	}
	way, _, _ := d.way(e, 0)
	d.printf("<path class=\"%s\" d=\"%s\" %s=\"url(#%sa)\"/>\n", class, way, marker, d.ids)
}

// way is a line through its lanes, short of its head by as much, and where it ends.
func (d *drawing) way(e *drawn, short float64) (way string, x, y float64) {
	var b strings.Builder
	for i, k := range e.links {
		x0, x1 := d.x+d.l.x[k.from.layer]+boxWidth, d.x+d.l.x[k.to.layer]
		y0, y1 := d.y+k.y0, d.y+k.y1
		if i == 0 {
			if e.backward {
				x0 += short
			}
			fmt.Fprintf(&b, "M%.1f %.1f", x0, y0)
		} else {
			fmt.Fprintf(&b, "H%.1f", x0)
		}
		x, y = x1, y1
		if i == len(e.links)-1 {
			x1 -= flat
		}
		mid := (x0 + x1) / 2
		fmt.Fprintf(&b, "C%.1f %.1f %.1f %.1f %.1f %.1f", mid, y0, mid, y1, x1, y1)
		if i == len(e.links)-1 {
			end := x1 + flat
			if !e.backward {
				end -= short
			}
			fmt.Fprintf(&b, "H%.1f", end)
		}
	}
	return b.String(), x, y
}

// flat is how long the last stretch of a line runs level, under its mass.
const flat = 84

// label writes the mass at the end of a line, where every line has a place of its own.
func (d *drawing) label(e *drawn) {
	if len(e.links) == 0 {
		return
	}
	k := e.links[len(e.links)-1]
	f, says, above := d.boxes[e.to].f, "", 3.0
	if e.mass != 0 || e.crossing == 0 {
		says = f.est(f.mass(e.mass), e.estimated)
	}
	if e.crossing > 0 {
		says, above = join(" ", crossingMark(e.crossing), says), 6
	}
	d.text("m", d.x+d.l.x[k.to.layer]-11, d.y+k.y1-above, says)
}
