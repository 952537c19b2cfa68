package binder

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"
)

// content is what a cell holds.
type content uint8

const (
	absent content = iota // no cell at all
	empty                 // only its look
	aText
	aWhole
	aNumber
)

// cell is one cell of a row, held by value: a row costs no memory of its own.
type cell struct {
	style   int
	is      content
	s       string
	n       int64
	f       float64
	formula string // what it holds is then what the formula comes to
}

func textCell(s string) cell     { return cell{is: aText, s: s} }
func wholeCell(n int64) cell     { return cell{is: aWhole, n: n} }
func numberCell(f float64) cell  { return cell{is: aNumber, f: f} }
func (c cell) in(style int) cell { c.style = style; return c }

// value is what a cell holds as a word of a sentence.
func (c *cell) value() string {
	switch c.is {
	case aText:
		return c.s
	case aWhole:
		return strconv.FormatInt(c.n, 10)
	case aNumber:
		return string(appendNumber(nil, c.f))
	}
	return ""
}

// foreign is the cell as the library has it, for whoever measures or tests this file against the library's own writer.
func (c *cell) foreign() excelize.Cell {
	out := excelize.Cell{StyleID: c.style, Formula: c.formula}
	switch c.is {
	case aText:
		out.Value = c.s
	case aWhole:
		out.Value = c.n
	case aNumber:
		out.Value = c.f
	}
	return out
}

// letters are the names of the columns a sheet may need, A first.
var letters = func() (names [64]string) {
	for i := range names {
		names[i] = columnName(i + 1)
	}
	return names
}()

// appendRow writes a row as the format has it (ECMA-376 part 1, 18.3.1.73 and 18.3.1.4): the bytes that the library's stream writer
// writes for the same cells, to which a test holds it, at a fifth of the cost. A height of 0 is the reader's own.
func appendRow(to []byte, row int, height float64, cells []cell) ([]byte, error) {
	if len(cells) > len(letters) {
		return to, fmt.Errorf("%d cells in a row; a sheet of a binder has at most %d", len(cells), len(letters))
	}
	to = append(to, `<row r="`...)
	to = strconv.AppendInt(to, int64(row), 10)
	if height > 0 {
		to = append(to, `" ht="`...)
		to = strconv.AppendFloat(to, height, 'f', -1, 64)
		to = append(to, `" customHeight="1`...)
	}
	to = append(to, `">`...)
	for i := range cells {
		c := &cells[i]
		if c.is == absent {
			continue
		}
		if c.is == aText && len(c.s) > maxChars && utf16Units(c.s) > maxChars {
			return to, fmt.Errorf("a text of %d characters; a cell holds %d", utf16Units(c.s), maxChars)
		}
		to = appendCell(to, i, row, c)
	}
	return append(to, `</row>`...), nil
}

func appendCell(to []byte, col, row int, c *cell) []byte {
	to = append(to, `<c`...)
	if c.formula != "" && c.is == aText && edged(c.s) {
		to = append(to, ` xml:space="preserve"`...)
	}
	to = append(to, ` r="`...)
	to = append(to, letters[col]...)
	to = strconv.AppendInt(to, int64(row), 10)
	to = append(to, '"')
	if c.style != 0 {
		to = append(to, ` s="`...)
		to = strconv.AppendInt(to, int64(c.style), 10)
		to = append(to, '"')
	}
	is := c.is
	if is == aNumber && (math.IsNaN(c.f) || math.IsInf(c.f, 0)) { // no number of the format
		is, c = aText, &cell{s: strconv.FormatFloat(c.f, 'g', -1, 64), formula: c.formula}
	}
	switch {
	case is == aText && c.formula == "":
		to = append(to, ` t="inlineStr"><is><t`...)
		if edged(c.s) {
			to = append(to, ` xml:space="preserve"`...)
		}
		to = append(to, '>')
		to = appendText(to, c.s, inText)
		return append(to, `</t></is></c>`...)
	case is == aText || is == empty && c.formula != "":
		to = append(to, ` t="str">`...)
	default:
		to = append(to, '>')
	}
	if c.formula != "" {
		to = append(to, `<f>`...)
		to = appendText(to, c.formula, inFormula)
		to = append(to, `</f>`...)
	}
	switch {
	case is == empty || is == aText && c.s == "":
		return append(to, `</c>`...)
	case is == aText:
		to = append(to, `<v>`...)
		to = appendText(to, c.s, inValue)
	case is == aWhole:
		to = append(to, `<v>`...)
		to = strconv.AppendInt(to, c.n, 10)
	default:
		to = append(to, `<v>`...)
		to = appendNumber(to, c.f)
	}
	return append(to, `</v></c>`...)
}

// edged says whether a text begins or ends with what readers of XML may take away.
func edged(s string) bool {
	return s != "" && (strings.IndexByte("\t\n\r ", s[0]) >= 0 || strings.IndexByte("\t\n\r ", s[len(s)-1]) >= 0)
}

// appendNumber writes a number without an exponent and with the 15 digits that count in the format, cut off after them as the library does.
func appendNumber(to []byte, f float64) []byte {
	begin := len(to)
	to = strconv.AppendFloat(to, f, 'f', -1, 64)
	point, counts := false, 0
	for i := begin; i < len(to); i++ {
		switch d := to[i]; {
		case d == '.':
			point = true
		case d < '0' || d > '9' || counts == 0 && d == '0':
		case counts < 15:
			counts++
		case point:
			if to[i-1] == '.' {
				i--
			}
			return to[:i]
		default:
			to[i] = '0'
		}
	}
	return to
}

// plainBytes are those that stand for themselves in a text.
var plainBytes = func() (ok [256]bool) {
	for c := 0x20; c < utf8.RuneSelf; c++ {
		ok[c] = c != '&' && c != '<' && c != '>' && c != '"' && c != '\'' && c != '_'
	}
	return ok
}()

// element is where a text stands in a cell.
type element uint8

const (
	inText  element = iota // as text
	inValue                // as what a formula came to
	inFormula
)

// appendText writes a text with what XML reads otherwise escaped, and outside of formulas _xHHHH_ too, which readers of the format
// take for a character (ECMA-376 part 1, 22.9.2.19).
func appendText(to []byte, s string, in element) []byte {
	from := 0
	for i := 0; i < len(s); {
		if plainBytes[s[i]] {
			i++
			continue
		}
		n, with := 1, ""
		switch c := s[i]; {
		case c == '&':
			with = "&amp;"
		case c == '<':
			with = "&lt;"
		case c == '>':
			with = "&gt;"
		case c == '"':
			with = "&#34;"
		case c == '\'':
			with = "&#39;"
		case c == '\t':
			with = "&#x9;"
		case c == '\n' && in == inText:
			i++
			continue
		case c == '\n':
			with = "&#xA;"
		case c == '\r':
			with = "&#xD;"
		case c == '_':
			if in == inFormula || !readAsCharacter(s[i:]) {
				i++
				continue
			}
			with = "_x005F_"
		default:
			r, size := utf8.DecodeRuneInString(s[i:])
			if n = size; (r != utf8.RuneError || size > 1) && r >= 0x20 && r != 0xfffe && r != 0xffff {
				i += n
				continue
			}
			with = "\uFFFD"
		}
		to = append(append(to, s[from:i]...), with...)
		i += n
		from = i
	}
	return append(to, s[from:]...)
}

// readAsCharacter says whether a text begins with _xHHHH_.
func readAsCharacter(s string) bool {
	if len(s) < 7 || s[1] != 'x' || s[6] != '_' {
		return false
	}
	_, err := strconv.ParseUint(s[2:6], 16, 16)
	return err == nil
}

func utf16Units(s string) (n int) {
	for _, r := range s {
		n++
		if r > 0xffff {
			n++
		}
	}
	return n
}
