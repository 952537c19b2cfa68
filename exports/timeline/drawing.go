package timeline

import (
	"bufio"
	"cmp"
	"fmt"
	"io"
	"slices"
	"unicode/utf8"

	"grainward/exports/ink"
	"grainward/records"
)

// Input is what is to be drawn. Texts are in one language.
type Input struct {
	ID       string // names this drawing within the page
	Title    string
	Says     string // in a sentence, for those who can not see it
	From, To records.Instant
	Now      records.Instant // drawn as a line where it lies within
	Days     []Mark          // of the axis, in order
	Bars     []Bar
	Signs    []Sign
	Gaps     []Gap
}

// Mark is a mark of the axis.
type Mark struct {
	At    records.Instant
	Label string
}

// Bar is a lot at the station. To is not before From; where they are equal it only passed.
type Bar struct {
	From, To records.Instant
	Code     string
	Status   records.Status // its shape
	Says     string         // in full
	Href     string         // may be empty
	Held     bool
	Purge    bool // it was run through to clean
	Stays    bool // it is there still
}

// Sign is a clean-out or a purge.
type Sign struct {
	From, To records.Instant
	Short    string // the grade in a word or two
	Says     string
	Href     string
	Purge    bool
	Passed   bool
}

// Gap is a stretch without evidence between unlike lots, or with unlike lots together.
type Gap struct {
	From, To records.Instant
	Says     string
	Href     string
}

// Drawn is how much went onto the paper.
type Drawn struct {
	Left int // bars there was no row for
}

// Sizes, in the drawing's own units.
const (
	width     = 960.0
	left      = 10.0
	right     = 10.0
	axis      = 26.0
	gapLane   = 22.0
	rowHeight = 30.0
	signLane  = 34.0
	mostRows  = 14  // of bars
	closest   = 5.0 // two lots of one sort that pass nearer than this are one mark
	mostSigns = 400
	mostGaps  = 80
	letter    = 7.4 // width of a letter of the lot codes
)

type drawing struct {
	w   *bufio.Writer
	in  *Input
	end []float64 // where each row of bars is free again
}

// Write draws.
func Write(w io.Writer, in Input) (Drawn, error) {
	if in.To <= in.From {
		return Drawn{}, &records.Error{Kind: records.Invalid, What: "a stretch of time to draw must end after it begins"}
	}
	b := bufio.NewWriter(w)
	d := &drawing{w: b, in: &in}
	drawn := d.draw()
	if err := b.Flush(); err != nil {
		return drawn, fmt.Errorf("writing the timeline: %w", err)
	}
	return drawn, nil
}

func (d *drawing) printf(format string, args ...any) { fmt.Fprintf(d.w, format, args...) }

// x is where an instant stands; what lies outside stands at the edge.
func (d *drawing) x(at records.Instant) float64 {
	at = min(max(at, d.in.From), d.in.To)
	return left + (width-left-right)*float64(at-d.in.From)/float64(d.in.To-d.in.From)
}

// placed is a bar with its place.
type placed struct {
	*Bar
	x0, x1 float64
	label  float64 // where its code stands
	row    int
	n      int // lots that pass as one mark
}

func (d *drawing) draw() (out Drawn) {
	bars := d.place(&out)
	rows := max(1, len(d.end))
	top := axis
	gaps := d.in.Gaps[:min(len(d.in.Gaps), mostGaps)]
	if len(gaps) > 0 {
		top += gapLane
	}
	bottom := top + rowHeight*float64(rows)
	height := bottom + signLane
	d.printf("<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"timeline\" viewBox=\"0 0 %.0f %.0f\" width=\"%.0f\" height=\"%.0f\" role=\"group\" aria-labelledby=\"%s-t %s-d\">\n",
		width, height, width, height, ink.Escape(d.in.ID), ink.Escape(d.in.ID))
	d.printf("<title id=\"%s-t\">%s</title><desc id=\"%s-d\">%s</desc>\n", ink.Escape(d.in.ID), ink.Escape(d.in.Title), ink.Escape(d.in.ID), ink.Escape(d.in.Says))
	d.axis(height)
	for i := range gaps {
		d.gap(&gaps[i], bottom)
	}
	for i := range bars {
		d.bar(&bars[i], top)
	}
	d.printf("<path class=\"tl-base\" d=\"M%.1f %.1fH%.1f\"/>\n", left, bottom+2, width-right)
	d.signs(top, bottom)
	if d.in.From < d.in.Now && d.in.Now < d.in.To {
		d.printf("<path class=\"tl-now\" d=\"M%.1f %.1fV%.1f\"/>\n", d.x(d.in.Now), axis-6, height-2)
	}
	d.printf("</svg>\n")
	return out
}

func (d *drawing) axis(height float64) {
	d.printf("<g class=\"tl-axis\" aria-hidden=\"true\">\n")
	for i, m := range d.in.Days {
		x := d.x(m.At)
		d.printf("<path class=\"tl-day\" d=\"M%.1f %.1fV%.1f\"/>\n", x, axis-8, height-2)
		room := width - right - x
		if i+1 < len(d.in.Days) {
			room = d.x(d.in.Days[i+1].At) - x
		}
		if label := ink.Clip(m.Label, int(room/6.6)); label != "" {
			d.text("tl-label", x+3, 14, label)
		}
	}
	d.printf("</g>\n")
}

// place gives each bar the first row that is free, with room for its code where there is; those that only pass and follow each other too
// closely are one mark.
func (d *drawing) place(out *Drawn) (bars []placed) {
	order := make([]*Bar, len(d.in.Bars))
	for i := range d.in.Bars {
		order[i] = &d.in.Bars[i]
	}
	slices.SortStableFunc(order, func(a, b *Bar) int { return cmp.Or(cmp.Compare(a.From, b.From), cmp.Compare(b.To, a.To)) })
	passing := map[string]int{} // by status: the last mark
	for _, b := range order {
		p, passes := placed{Bar: b, x0: d.x(b.From), x1: d.x(b.To), n: 1}, ""
		if b.From == b.To || p.x1-p.x0 < closest {
			p.x0, p.x1 = (p.x0+p.x1)/2-2.5, (p.x0+p.x1)/2+2.5
			key := fmt.Sprint(b.Status, b.Purge, b.Held)
			if k, ok := passing[key]; ok && p.x0-bars[k].x1 < 1 && bars[k].n > 0 {
				bars[k].n++
				continue
			}
			passes = key
		}
		lo, hi := p.x0, p.x1 // with its code
		switch long := 18 + letter*float64(utf8.RuneCountInString(p.Code)); {
		case p.x1-p.x0 >= long+6:
			p.label = p.x0 + 6
		case p.x1+long <= width-right:
			p.label, hi = p.x1+4, p.x1+long
		case p.x0-long > left:
			p.label, lo = p.x0-long, p.x0-long
		default:
			p.label = p.x0 + 6
		}
		p.row = slices.IndexFunc(d.end, func(x float64) bool { return x <= lo })
		if p.row < 0 {
			if len(d.end) == mostRows {
				out.Left += p.n
				continue
			}
			p.row = len(d.end)
			d.end = append(d.end, 0)
		}
		d.end[p.row] = hi + 4
		if passes != "" {
			passing[passes] = len(bars)
		}
		bars = append(bars, p)
	}
	return bars
}

func (d *drawing) bar(p *placed, top float64) {
	y := top + rowHeight*float64(p.row) + 3
	h := rowHeight - 8
	says := p.Says
	if p.n > 1 {
		says += fmt.Sprintf(" (+%d)", p.n-1)
	}
	d.open(p.Href, says)
	class := "tl-bar"
	if p.Purge {
		class += " tl-purge"
	}
	d.printf("<rect class=\"%s\" x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" height=\"%.1f\"/>", class, p.x0, y, p.x1-p.x0, h)
	d.printf("<path class=\"tl-band %s\" d=\"M%.1f %.1fH%.1f\"/>", band(p.Status), p.x0, y+h-2, p.x1)
	if p.Held {
		d.printf("<rect class=\"tl-ink\" x=\"%.1f\" y=\"%.1f\" width=\"4\" height=\"%.1f\"/>", p.x0, y, h)
	}
	if p.From < d.in.From { // it was there before
		d.printf("<path class=\"tl-ink\" d=\"M%.1f %.1fl-6 -5v10z\"/>", p.x0, y+h/2)
	}
	if p.Stays || p.To > d.in.To {
		d.printf("<path class=\"tl-ink\" d=\"M%.1f %.1fl6 -5v10z\"/>", p.x1+2, y+h/2)
	}
	d.printf("%s", ink.Status(p.Status, p.label+4, y+h/2-1, 4, "tl-ink", "tl-line"))
	d.text("tl-code", p.label+12, y+h/2+3, p.Code)
	d.close(p.Href)
}

// band is the class of the line under a bar: whole, in two, or broken.
func band(s records.Status) string {
	switch {
	case s == records.Organic || s == records.Organic100:
		return "tl-organic"
	case s == records.MadeWith:
		return "tl-made-with"
	case s == "":
		return "tl-unknown"
	}
	return "tl-conventional"
}

// signs stand under the bars, each with a line up through them: what was cleaned lies between what was before and after it.
func (d *drawing) signs(top, bottom float64) {
	free := 0.0
	for i := range d.in.Signs[:min(len(d.in.Signs), mostSigns)] {
		s := &d.in.Signs[i]
		x, y := d.x(s.To), bottom+16
		d.open(s.Href, s.Says)
		d.printf("<path class=\"tl-clean\" d=\"M%.1f %.1fV%.1f\"/>", x, top, y-7)
		if s.From < s.To {
			d.printf("<path class=\"tl-during\" d=\"M%.1f %.1fH%.1f\"/>", d.x(s.From), y-9, x)
		}
		switch {
		case s.Purge && s.Passed:
			d.printf("<path class=\"tl-pass\" d=\"M%.1f %.1fl8 8l-8 8l-8 -8z\"/><path class=\"tl-cut\" d=\"M%.1f %.1fl3 3l5 -6\"/>", x, y-8, x-4, y)
		case s.Purge:
			d.printf("<path class=\"tl-fail\" d=\"M%.1f %.1fl8 8l-8 8l-8 -8z\"/><path class=\"tl-cut\" d=\"M%.1f %.1fl6 6m0 -6l-6 6\"/>", x, y-8, x-3, y-3)
		case s.Passed:
			d.printf("<circle class=\"tl-pass\" cx=\"%.1f\" cy=\"%.1f\" r=\"7\"/><path class=\"tl-cut\" d=\"M%.1f %.1fl3 3l5 -6\"/>", x, y, x-4, y)
		default:
			d.printf("<rect class=\"tl-fail\" x=\"%.1f\" y=\"%.1f\" width=\"14\" height=\"14\"/><path class=\"tl-cut\" d=\"M%.1f %.1fl8 8m0 -8l-8 8\"/>", x-7, y-7, x-4, y-4)
		}
		next := width - right
		if i+1 < len(d.in.Signs) {
			next = d.x(d.in.Signs[i+1].To) - 10
		}
		if room := int((next - x - 12) / 6.2); x+10 >= free && room > 3 {
			label := ink.Clip(s.Short, room)
			d.text("tl-label", x+10, y+4, label)
			free = x + 10 + 6.2*float64(utf8.RuneCountInString(label))
		}
		d.close(s.Href)
	}
}

// gap is a hatched band over the bars with an exclamation mark in a triangle.
func (d *drawing) gap(g *Gap, bottom float64) {
	x0, x1 := d.x(g.From), d.x(g.To)
	if x1-x0 < 4 {
		x0, x1 = (x0+x1)/2-2, (x0+x1)/2+2
	}
	d.open(g.Href, g.Says)
	d.printf("<rect class=\"tl-gap\" x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" height=\"%.1f\"/>", x0, axis+18, x1-x0, bottom-axis-18)
	if x1-x0 > 12 {
		d.printf("<path class=\"tl-hatch\" d=\"")
		for x := x0 + 4; x < x1; x += max(8, (x1-x0)/40) {
			d.printf("M%.0f %.0fv-6", x, axis+18)
		}
		d.printf("\"/>")
	}
	m := min(max((x0+x1)/2, left+9), width-right-9)
	d.printf("<path class=\"tl-alarm\" d=\"M%.1f %.1fl9 16h-18z\"/><path class=\"tl-cut\" d=\"M%.1f %.1fv5m0 2v1.500\"/>", m, axis, m, axis+5)
	d.close(g.Href)
}

func (d *drawing) open(href, says string) {
	if href != "" {
		d.printf("<a href=\"%s\" aria-label=\"%s\">", ink.Escape(href), ink.Escape(says))
	} else {
		d.printf("<g role=\"img\" aria-label=\"%s\">", ink.Escape(says))
	}
	d.printf("<title>%s</title>", ink.Escape(says))
}

func (d *drawing) close(href string) {
	if href != "" {
		d.printf("</a>\n")
	} else {
		d.printf("</g>\n")
	}
}

func (d *drawing) text(class string, x, y float64, s string) {
	d.printf("<text class=\"%s\" x=\"%.1f\" y=\"%.1f\">%s</text>", class, x, y, ink.Escape(s))
}
