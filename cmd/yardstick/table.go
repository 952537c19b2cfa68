package yardstick

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"grainward/exports/columns"
)

// WriteTable writes a report for people: a line a figure, what belongs to it below the table, and the machine.
func WriteTable(w io.Writer, r *Report) error {
	var rows [][]string
	var notes []string
	for i := range r.Rows {
		x := &r.Rows[i]
		theirs, ratio := "", ""
		if x.Peer != "" {
			theirs, ratio = x.Theirs.String(), short(x.Ratio)+"x"
		}
		says := "-"
		switch held, known := x.Held(); {
		case held:
			says = "held"
		case known:
			says = "SHORT"
		}
		rows = append(rows, []string{x.What, x.Ours.String(), x.Peer, theirs, ratio, x.Limit.String(), says})
		if len(x.Also) > 0 {
			var parts []string
			for _, a := range x.Also {
				parts = append(parts, strings.TrimSpace(a.What+" "+a.Figure.String()))
			}
			notes = append(notes, x.What+": "+strings.Join(parts, ", ")+".")
		}
	}
	if err := columns.Write(w, []string{"what", "ours", "beside", "theirs", "ratio", "limit", ""}, "lrlrrll", rows); err != nil {
		return err
	}
	if _, err := fmt.Fprintln(w); err != nil {
		return err
	}
	about := []string{r.Machine.String(), fmt.Sprintf("Journal: %s entries of a plant drawn from seed %d; measured %s.", whole(float64(r.Size)), r.Seed, r.Made.Format("2006-01-02 15:04 UTC"))}
	for _, n := range append(about, notes...) {
		for i, line := range columns.Break(n, columns.Wide-2) {
			if _, err := fmt.Fprintf(w, "%s%s\n", map[bool]string{true: "", false: "  "}[i == 0], line); err != nil {
				return err
			}
		}
	}
	return nil
}

// String is the figure as people read it.
func (f Figure) String() string {
	switch f.Unit {
	case "":
		return short(f.Value)
	case "s":
		switch v := f.Value; {
		case v == 0:
			return "0 s"
		case v < 1e-3:
			return short(v*1e6) + " µs"
		case v < 1:
			return short(v*1e3) + " ms"
		}
		return short(f.Value) + " s"
	case "/s":
		return short(f.Value) + "/s"
	}
	return short(f.Value) + " " + f.Unit
}

// String says what is asked.
func (l *Limit) String() string {
	switch {
	case l == nil:
		return ""
	case l.Least != 0:
		return "at least " + l.figure(l.Least)
	}
	return "under " + l.figure(l.Most)
}

func (l *Limit) figure(v float64) string {
	if l.Unit == "" {
		return short(v) + "x"
	}
	return Figure{v, l.Unit}.String()
}

// short is a number with three digits that count, or whole with its thousands apart.
func short(v float64) string {
	if a := math.Abs(v); a >= 1000 {
		return whole(v)
	}
	s := strconv.FormatFloat(v, 'g', 3, 64)
	if strings.Contains(s, "e") {
		s = strconv.FormatFloat(v, 'f', 6, 64)
	}
	return s
}

// whole is a number of some size, to three digits that count when it is a measurement: 234,567 is 234,567 all the same, since rates are
// compared with each other.
func whole(v float64) string {
	digits := strconv.FormatInt(int64(math.Round(v)), 10)
	var b strings.Builder
	for i, d := range digits {
		if i > 0 && (len(digits)-i)%3 == 0 && digits[i-1] != '-' {
			b.WriteByte(',')
		}
		b.WriteRune(d)
	}
	return b.String()
}
