package journey

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"grainward/exports/columns"
)

// WriteText writes the trace to be read in a terminal or on paper.
func WriteText(w io.Writer, f *Form) error {
	b := bufio.NewWriter(w)
	line := func(s string) {
		for _, part := range columns.Break(s, columns.Wide) {
			fmt.Fprintln(b, part)
		}
	}
	heading := func(s string) { fmt.Fprintf(b, "\n%s\n%s\n", s, strings.Repeat("─", utf8.RuneCountInString(s))) }
	line(fmt.Sprintf("%s: %s/%s, %s", f.words["trace"], f.Plant, f.Subject, f.words[f.Direction]))
	for _, p := range f.Plants {
		heading(p.Name + " (" + p.Code + ")")
		if len(p.Lots) == 0 {
			line(f.words["no-lots"])
			continue
		}
		var rows [][]string
		for _, l := range p.Lots {
			where := strings.Join(l.Where, "; ")
			if where == "" {
				where = f.words["gone"]
			}
			rows = append(rows, []string{string(l.Code), f.words[l.Role], l.Title, l.Mass, where})
		}
		head := []string{f.words["lot"], f.words["role"], f.words["item"], f.words["mass"], f.words["where"]}
		if err := columns.Write(b, head, "lllrl", rows); err != nil {
			return fmt.Errorf("writing the trace: %w", err)
		}
	}
	if len(f.Joins) > 0 || len(f.Loose) == 0 {
		heading(f.words["from-plant"])
	}
	if len(f.Joins) == 0 && len(f.Loose) == 0 {
		line(f.words["nothing"])
	}
	for _, j := range f.Joins {
		line("· " + strings.Join(j.Says, " "))
	}
	if len(f.Loose) > 0 {
		heading(f.words["loose"])
		for _, l := range f.Loose {
			line("· " + l.Says)
		}
	}
	fmt.Fprintln(b)
	line(f.words["decides"])
	if err := b.Flush(); err != nil {
		return fmt.Errorf("writing the trace: %w", err)
	}
	return nil
}

// WriteJSON writes the form as indented JSON with a line feed at its end.
func WriteJSON(w io.Writer, f *Form) error {
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	if err := enc.Encode(f); err != nil {
		return fmt.Errorf("writing the trace as JSON: %w", err)
	}
	return nil
}
