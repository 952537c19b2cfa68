// Package columns sets rows of text side by side, for a terminal or a printer with letters of one width.
//
// It knows widths and where a text may be broken. It must not know what the text means.
package columns

import (
	"bufio"
	"fmt"
	"io"
	"strings"
	"unicode"
	"unicode/utf8"
)

const (
	// Wide is how many letters a line may have: what a terminal beside another window, and a page in landscape, show.
	Wide = 100
	gap  = 2
	// longest is the longest word that is not broken: the codes people read out loud are shorter.
	longest = 24
)

// Write writes a table: head may be nil; align has a letter a column, l or r. Where the rows as they are would be wider than Wide, cells are
// broken at spaces into several lines, those of the widest columns first and figures last; a table that can not be made so narrow without
// breaking words is wider.
func Write(w io.Writer, head []string, align string, rows [][]string) error {
	all := make([][]string, 0, len(rows)+1)
	if head != nil {
		all = append(all, head)
	}
	all = append(all, rows...)
	for i, r := range all {
		if len(r) != len(align) {
			return fmt.Errorf("row %d of a table has %d cells, want %d", i, len(r), len(align))
		}
	}
	t := measure(align, all)
	t.narrow()
	b := bufio.NewWriter(w)
	for _, r := range all {
		t.row(b, r)
	}
	if err := b.Flush(); err != nil {
		return fmt.Errorf("writing a table: %w", err)
	}
	return nil
}

// table is the widths of its columns, and how narrow each can be.
type table struct {
	align string
	width []int
	least []int
}

func measure(align string, rows [][]string) *table {
	t := &table{align: align, width: make([]int, len(align)), least: make([]int, len(align))}
	for _, r := range rows {
		for i, c := range r {
			t.width[i] = max(t.width[i], utf8.RuneCountInString(OneLine(c)))
			for _, word := range strings.Fields(c) {
				t.least[i] = max(t.least[i], min(longest, utf8.RuneCountInString(word)))
			}
		}
	}
	return t
}

func (t *table) narrow() {
	total := gap * (len(t.width) - 1)
	for _, n := range t.width {
		total += n
	}
	for _, align := range "lr" {
		for total > Wide {
			widest := -1
			for i, n := range t.width {
				if rune(t.align[i]) == align && n > t.least[i] && (widest < 0 || n > t.width[widest]) {
					widest = i
				}
			}
			if widest < 0 {
				break
			}
			t.width[widest]--
			total--
		}
	}
}

func (t *table) row(w *bufio.Writer, cells []string) {
	lines := make([][]string, len(cells))
	deep := 1
	for i, c := range cells {
		lines[i] = Break(c, t.width[i])
		deep = max(deep, len(lines[i]))
	}
	var b strings.Builder
	for k := range deep {
		b.Reset()
		for i := range cells {
			text := ""
			if k < len(lines[i]) {
				text = lines[i][k]
			}
			pad := strings.Repeat(" ", max(0, t.width[i]-utf8.RuneCountInString(text)))
			if i > 0 {
				b.WriteString(strings.Repeat(" ", gap))
			}
			if t.align[i] == 'r' {
				b.WriteString(pad + text)
			} else {
				b.WriteString(text + pad)
			}
		}
		fmt.Fprintln(w, strings.TrimRight(b.String(), " ")) // its error is kept until Flush
	}
}

// Break breaks a text into lines of at most width letters, at spaces where there are any; always at least one line.
func Break(text string, width int) []string {
	text = OneLine(text)
	width = max(width, 1)
	if utf8.RuneCountInString(text) <= width {
		return []string{text}
	}
	var lines []string
	line, n := "", 0
	for _, word := range strings.Fields(text) {
		m := utf8.RuneCountInString(word)
		if n > 0 && n+1+m <= width {
			line, n = line+" "+word, n+1+m
			continue
		}
		if n > 0 {
			lines = append(lines, line)
		}
		for m > width {
			letters := []rune(word)
			lines = append(lines, string(letters[:width]))
			word, m = string(letters[width:]), m-width
		}
		line, n = word, m
	}
	if n > 0 || len(lines) == 0 {
		lines = append(lines, line)
	}
	return lines
}

// OneLine keeps what somebody typed from breaking the lines, or a terminal.
func OneLine(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || r == 0x2028 || r == 0x2029 || r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069 {
			return ' '
		}
		return r
	}, s)
}
