package placed

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"grainward/records"
)

// Fault is one thing that is wrong, and where.
type Fault struct {
	Spot
	Field string // the value's path as people are shown it; empty: the file
	Value string // as written; may be empty
	Want  string
}

// Err is all faults in the order of the lines, as an *records.Error of kind Invalid. called is what the file is called ("the plan");
// where there are more than are listed, more is what it says instead of how many.
func (f *File) Err(called string, faults []Fault, more string) error {
	faults = slices.Clone(faults)
	slices.SortStableFunc(faults, func(a, b Fault) int {
		if a.Line != b.Line {
			return a.Line - b.Line
		}
		return a.Column - b.Column
	})
	e := &records.Error{Kind: records.Invalid, What: called + " has one fault", Do: "Put it right in the file and check it again."}
	if n := len(faults); n > 1 {
		e.What, e.Do = fmt.Sprintf("%s has %d faults", called, n), "Put them right in the file and check it again."
	}
	if more != "" {
		e.What = called + " " + more
	}
	for _, x := range faults {
		e.Fields = append(e.Fields, records.FieldError{Line: x.Line, Field: x.Field, Value: x.Value, Want: x.Want + f.quote(x.Spot)})
	}
	return e
}

// quote shows the line of a spot with a mark under it; the margin gives line and column.
func (f *File) quote(s Spot) string {
	if s.Line < 1 || s.Line > len(f.lines) {
		return ""
	}
	line := []rune(strings.TrimRight(strings.ReplaceAll(f.lines[s.Line-1], "\t", " "), " "))
	from := min(max(s.Column-1, 0), len(line))
	width := max(1, min(s.Width, len(line)-from))
	const most = 100 // of the line shown; a long one is shown from a little before the spot
	cut := ""
	if len(line) > most && from+width > most {
		back := min(from, 20)
		line, from, cut = line[from-back:], back, "…"
	}
	if len(line) > most {
		line = append(slices.Clone(line[:most]), '…')
		width = min(width, most-from)
	}
	margin := fmt.Sprintf("    %d:%d | ", s.Line, s.Column)
	blank := strings.Repeat(" ", len(margin)-2) + "| "
	return fmt.Sprintf("\n%s%s%s\n%s%s%s", margin, cut, string(line), blank, strings.Repeat(" ", from+utf8.RuneCountInString(cut)), strings.Repeat("^", width))
}
