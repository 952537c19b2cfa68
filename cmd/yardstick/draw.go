package yardstick

import (
	"bufio"
	"cmp"
	"fmt"
	"html"
	"io"
	"math"
	"slices"
	"strings"

	"grainward/exports/columns"
	"grainward/records"
)

// panel is one small picture: how some figures grow with the journal, both on a logarithmic scale.
type panel struct {
	title, unit string
	lines       []curve
	limit       *Limit // drawn across, where it is a figure of ours and no ratio
}

// curve is one figure of the reports.
type curve struct {
	label string
	style string // ours, peer or other
	value func(*Report) (float64, bool)
}

func ours(row string) func(*Report) (float64, bool) {
	return func(r *Report) (float64, bool) {
		if x := r.Row(row); x != nil {
			return x.Ours.Value, true
		}
		return 0, false
	}
}

func theirs(row string, times float64) func(*Report) (float64, bool) {
	return func(r *Report) (float64, bool) {
		if x := r.Row(row); x != nil && x.Peer != "" {
			return x.Theirs.Value * times, true
		}
		return 0, false
	}
}

// slowest is the largest of the medians after one more entry.
func slowest(r *Report) (most float64, ok bool) {
	for i := range r.Rows {
		if x := &r.Rows[i]; strings.HasPrefix(x.Name, oneMoreRow("")) {
			most, ok = max(most, x.Ours.Value), true
		}
	}
	return most, ok
}

func panels() []panel {
	return []panel{
		{"Opening the journal", "s", []curve{{"opening", "ours", ours("opening")}, {"reading, hashing", "peer", theirs("opening", 1)}}, nil},
		{"All findings", "s", []curve{{"findings", "ours", ours("findings")}, {"¼ of opening", "peer", theirs("findings", 0.25)}}, nil},
		{"Findings after one more entry", "s", []curve{{"slowest sort", "ours", slowest}, {"a sign-off", "other", ours(oneMoreRow("a sign-off"))}}, &Limit{Most: 0.005, Unit: "s"}},
		{"Memory an entry", "B", []curve{{"open journal", "ours", ours("memory")}}, &Limit{Most: 600, Unit: "B"}},
		{"Sign-offs, 64 devices at once", "/s", []curve{{"sign-offs", "ours", ours("sign-offs")}, {"fsync a record", "peer", theirs("sign-offs", 1)}}, nil},
		{"Trace with shares, as many lots", "s", []curve{{"trace", "ours", ours("trace-walk")}, {"bare walk", "peer", theirs("trace-walk", 1)}, {"SQLite", "other", theirs("trace-query", 1)}}, nil},
		{"Binder of the last eight months", "s", []curve{{"binder", "ours", ours("binder")}, {"stream writer", "peer", theirs("binder", 1)}}, nil},
		{"Memory while a binder is written", "MB", []curve{{"binder", "ours", ours("binder-memory")}}, &Limit{Most: 300, Unit: "MB"}},
	}
}

// Measures of the drawing, in its own units: about those of a screen.
const (
	across         = 2
	panelW, panelH = 500, 240
	left, right    = 62, 142 // of a panel, for the scale and for the names of the lines
	over1, under   = 40, 34
	headH, footH   = 74, 18
	labelApart     = 13
	sheetW         = across*panelW + 20
	markRadius     = 3.4
)

const look = `
  .paper { fill: #faf7f0 } text { fill: #26221c; font: 11px ui-sans-serif, system-ui, sans-serif; font-variant-numeric: tabular-nums }
  .title { font-size: 17px; font-weight: 600 } .name { font-size: 13px; font-weight: 600 } .soft { fill: #6b6456 }
  .rule { stroke: #d9d2c2; stroke-width: 1 } .axis { stroke: #26221c; stroke-width: 1 } .limit { stroke: #8c2f1b; stroke-width: 1; stroke-dasharray: 7 3 } .limit-name { fill: #8c2f1b }
  .line { fill: none; stroke: #26221c } .ours { stroke-width: 1.8 } .peer { stroke-width: 1.2; stroke-dasharray: 5 3 } .other { stroke-width: 1.2; stroke-dasharray: 1.5 2.5 }
  .mark-ours { fill: #26221c } .mark-peer, .mark-other { fill: #faf7f0; stroke: #26221c; stroke-width: 1.2 }
  @media (prefers-color-scheme: dark) {
    .paper { fill: #1b1915 } text { fill: #ece5d6 } .soft { fill: #a79e8b } .rule { stroke: #39342b } .axis { stroke: #ece5d6 } .limit { stroke: #e08a72 } .limit-name { fill: #e08a72 }
    .line { stroke: #ece5d6 } .mark-ours { fill: #ece5d6 } .mark-peer, .mark-other { fill: #1b1915; stroke: #ece5d6 }
  }
`

// Draw draws how the figures of reports of several sizes grow. The drawing has no script, and both a light and a dark look.
func Draw(w io.Writer, reports []*Report) error {
	all := slices.Clone(reports)
	slices.SortStableFunc(all, func(a, b *Report) int { return cmp.Compare(a.Size, b.Size) })
	if len(all) < 2 || all[0].Size == all[len(all)-1].Size {
		return &records.Error{Kind: records.Invalid, What: "there is nothing to draw: growth takes figures of two sizes at least", Do: "Measure with --growth."}
	}
	b := bufio.NewWriter(w)
	p := func(format string, args ...any) { fmt.Fprintf(b, format+"\n", args...) }
	ps := panels()
	rows := (len(ps) + across - 1) / across
	height := headH + rows*panelH + footH
	first, last := all[0], all[len(all)-1]
	title := fmt.Sprintf("How the costs grow, from %s to %s entries", whole(float64(first.Size)), whole(float64(last.Size)))
	p(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" width="%d" height="%d" role="img" aria-label="%s">`, sheetW, height, sheetW, height, html.EscapeString(title))
	p(`<style>%s</style>`, look)
	p(`<rect class="paper" width="%d" height="%d"/>`, sheetW, height)
	p(`<text class="title" x="20" y="32">%s</text>`, html.EscapeString(title))
	m := last.Machine
	p(`<text class="soft" x="20" y="52">%s</text>`, html.EscapeString(columns.OneLine(fmt.Sprintf("%s, %d cores, %s, %s. Both scales are logarithmic; a plant of 1,000,000 entries is five years old.", m.CPU, m.Cores, m.Go, last.Made.Format("2006-01-02")))))
	for i, pan := range ps {
		pan.draw(p, all, 10+i%across*panelW, headH+i/across*panelH)
	}
	p(`</svg>`)
	return b.Flush()
}

// scale is a logarithmic axis: values from lo to hi lie between two places of the drawing.
type scale struct{ lo, hi, from, to float64 }

func (s scale) at(v float64) float64 {
	return s.from + (math.Log10(v)-math.Log10(s.lo))/(math.Log10(s.hi)-math.Log10(s.lo))*(s.to-s.from)
}

// point is a value at a size.
type point struct {
	size  int
	value float64
}

func (pan *panel) draw(p func(string, ...any), all []*Report, x0, y0 int) {
	series := make([][]point, len(pan.lines))
	var values []float64
	for i, c := range pan.lines {
		for _, r := range all {
			if v, ok := c.value(r); ok && v > 0 {
				series[i] = append(series[i], point{r.Size, v})
				values = append(values, v)
			}
		}
	}
	p(`<g data-panel="%s">`, html.EscapeString(pan.title))
	defer p(`</g>`)
	p(`<text class="name" x="%d" y="%d">%s</text>`, x0+10, y0+18, html.EscapeString(pan.title))
	if len(values) == 0 {
		p(`<text class="soft" x="%d" y="%d">not measured</text>`, x0+left, y0+panelH/2)
		return
	}
	if pan.limit != nil {
		values = append(values, pan.limit.Most)
	}
	x := scale{float64(all[0].Size), float64(all[len(all)-1].Size), float64(x0 + left), float64(x0 + panelW - right)}
	y := scale{math.Pow10(int(math.Floor(math.Log10(slices.Min(values))))), math.Pow10(int(math.Ceil(math.Log10(slices.Max(values) * 1.0001)))), float64(y0 + panelH - under), float64(y0 + over1)}
	for v := y.lo; v <= y.hi*1.5; v *= 10 {
		p(`<line class="rule" data-y="%g" x1="%.1f" x2="%.1f" y1="%.2f" y2="%.2f"/>`, v, x.from, x.to, y.at(v), y.at(v))
		p(`<text class="soft" text-anchor="end" x="%.1f" y="%.1f">%s</text>`, x.from-7, y.at(v)+4, html.EscapeString(Figure{v, pan.unit}.String()))
	}
	for v := math.Pow10(int(math.Ceil(math.Log10(x.lo) - 1e-9))); v <= x.hi*1.0001; v *= 10 {
		p(`<line class="axis" data-x="%g" x1="%.2f" x2="%.2f" y1="%.1f" y2="%.1f"/>`, v, x.at(v), x.at(v), y.from, y.from+5)
		p(`<text class="soft" text-anchor="middle" x="%.1f" y="%.1f">%s</text>`, x.at(v), y.from+18, whole(v))
	}
	p(`<line class="axis" x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f"/>`, x.from, x.to, y.from, y.from)

	var labels []label
	if pan.limit != nil {
		at := y.at(pan.limit.Most)
		p(`<line class="limit" x1="%.1f" x2="%.1f" y1="%.2f" y2="%.2f"/>`, x.from, x.to, at, at)
		labels = append(labels, label{at, pan.limit.String(), "limit-name"})
	}
	for i, c := range pan.lines {
		if len(series[i]) == 0 {
			continue
		}
		path := ""
		for k, pt := range series[i] {
			path += fmt.Sprintf("%s%.2f %.2f", map[bool]string{true: "M", false: " L"}[k == 0], x.at(float64(pt.size)), y.at(pt.value))
		}
		p(`<path class="line %s" d="%s"/>`, c.style, path)
		for _, pt := range series[i] {
			c.mark(p, pt, x.at(float64(pt.size)), y.at(pt.value))
		}
		end := series[i][len(series[i])-1]
		labels = append(labels, label{y.at(end.value), c.label + " " + Figure{end.value, pan.unit}.String(), ""})
	}
	for _, l := range apart(labels) {
		p(`<text class="%s" x="%.1f" y="%.1f">%s</text>`, l.class, x.to+9, l.y+4, html.EscapeString(l.text))
	}
}

// mark is a point: a dot for ours, an open square or lozenge for a peer's.
func (c *curve) mark(p func(string, ...any), pt point, x, y float64) {
	data := fmt.Sprintf(`data-line="%s" data-size="%d"`, html.EscapeString(c.label), pt.size)
	switch c.style {
	case "ours":
		p(`<circle class="mark-ours" %s cx="%.2f" cy="%.2f" r="%g"/>`, data, x, y, markRadius)
	case "peer":
		p(`<rect class="mark-peer" %s x="%.2f" y="%.2f" width="6" height="6"/>`, data, x-3, y-3)
	default:
		p(`<path class="mark-other" %s d="M%.2f %.2f l4 4 l-4 4 l-4 -4 z"/>`, data, x, y-4)
	}
}

type label struct {
	y     float64
	text  string
	class string
}

// apart moves labels so that none lies on another, as little as it can, and keeps their order.
func apart(ls []label) []label {
	slices.SortStableFunc(ls, func(a, b label) int { return cmp.Compare(a.y, b.y) })
	for range 50 {
		moved := false
		for i := 1; i < len(ls); i++ {
			if gap := ls[i].y - ls[i-1].y; gap < labelApart-0.01 {
				by := (labelApart - gap) / 2
				ls[i-1].y, ls[i].y, moved = ls[i-1].y-by, ls[i].y+by, true
			}
		}
		if !moved {
			break
		}
	}
	return ls
}
