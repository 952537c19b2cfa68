package lineage

import (
	"bufio"
	"fmt"
	"io"

	"grainward/exports/ink"
	"grainward/records"
)

// WriteInline draws the lineage as a fragment of SVG for a page: the same boxes and lines as WriteDrawing, without paper, heading, stamp
// and legend, and without a style of its own (a page that allows no inline style can show it, light or dark; its classes are
// those of the drawing, under "lineage"). href is where a lot leads. A page has one such drawing at most: its ids are fixed.
func WriteInline(w io.Writer, in Input, href func(records.LotCode) string) error {
	f, err := Flatten(in)
	if err != nil {
		return err
	}
	b := bufio.NewWriter(w)
	const edge = 6.0
	d := &drawing{w: b, f: f, l: arrange(f), boxes: f.boxes(), x: edge, y: edge, ids: "lineage-", href: href}
	width, height := d.l.w+2*edge, d.l.h+2*edge
	d.printf("<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"lineage\" width=\"%.0f\" height=\"%.0f\" viewBox=\"0 0 %.0f %.0f\" role=\"group\" aria-labelledby=\"lineage-h lineage-n\">\n", width, height, width, height)
	d.printf("<title id=\"lineage-h\">%s</title><desc id=\"lineage-n\">%s</desc>\n", ink.Escape(f.heading()), ink.Escape(d.describe()))
	d.printf("<defs><marker id=\"lineage-a\" viewBox=\"0 0 8 8\" refX=\"7.5\" refY=\"4\" markerWidth=\"7\" markerHeight=\"7\" orient=\"auto-start-reverse\"><path class=\"k\" d=\"M0 1L8 4L0 7z\"/></marker></defs>\n")
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
	d.printf("</svg>\n")
	if err := b.Flush(); err != nil {
		return fmt.Errorf("writing the drawing: %w", err)
	}
	return nil
}
