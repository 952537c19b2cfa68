package binder

import (
	"context"
	"fmt"
	"strings"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"

	"grainward/records"
	"grainward/records/calendar"
)

// headRows is the title, the line below it, and the headings; they repeat on every printed page.
const headRows = 3

// column is one column of a table.
type column struct {
	head  string
	width float64 // in characters
	look  look
}

// part is the stretch of rows of a table that lies on one sheet.
type part struct {
	sheet       string
	first, last int // data rows; last < first when there are none
}

// table writes rows of one kind, on as many sheets as the row limit asks for. A row is begun by row, filled from left
// to right by the methods named after what a cell holds, and written by end; the first cell of a row is its position.
type table struct {
	b     *builder
	name  string // of the sheet; "… (2)" and so on when it is split
	title string
	cols  []column
	parts []part

	sw      *sheet
	next    int // the row to write
	n       int // cells filled
	cells   []cell
	rows    int    // data rows so far
	entries int    // of them, those that begin with a position as a number
	counted string // heading of the column whose numbers are the rows, when it is not the first
	long    bool
}

// table starts a table and its first sheet.
func (b *builder) table(name, title string, cols []column) (*table, error) {
	t := &table{b: b, name: name, title: title, cols: cols, cells: make([]cell, len(cols))}
	return t, t.open()
}

// open starts a sheet and writes what every sheet begins with.
func (t *table) open() error {
	name := t.name
	if n := len(t.parts) + 1; n > 1 {
		name = fmt.Sprintf("%s (%d)", t.name, n)
	}
	sw, err := t.b.sheet(name, t.cols, headRows)
	if err != nil {
		return err
	}
	t.sw, t.next = sw, headRows+1
	t.parts = append(t.parts, part{sheet: name, first: t.next, last: t.next - 1})
	st := &t.b.looks
	lines := []struct {
		text string
		look look
	}{{t.title, title}, {t.b.line, below}}
	for i, l := range lines {
		cells := make([]cell, len(t.cols))
		for c := range cells {
			cells[c] = cell{is: empty, style: st[l.look]}
		}
		cells[0] = textCell(l.text).in(st[l.look])
		if err := sw.row(i+1, 0, cells); err != nil {
			return err
		}
	}
	heads := make([]cell, len(t.cols))
	for c := range heads {
		l := head
		if t.cols[c].look.numeric() {
			l = headNumber
		}
		heads[c] = textCell(t.cols[c].head).in(st[l])
	}
	return sw.row(headRows, 3*lineHeight+2, heads)
}

// put fills the next cell.
func (t *table) put(c cell) {
	t.cells[t.n] = c.in(t.b.looks[t.cols[t.n].look])
	t.n++
}

// text puts a text; it stays text whatever it begins with, for only formula makes formulas.
func (t *table) text(s string) {
	if s == "" {
		t.blank()
		return
	}
	s = visible(s)
	t.long = t.long || len(s) > t.b.most
	t.put(textCell(s))
}

func (t *table) blank()           { t.put(cell{is: empty}) }
func (t *table) whole(n int64)    { t.put(wholeCell(n)) }
func (t *table) number(f float64) { t.put(numberCell(f)) }

// when puts an instant as the plant's clock showed it; 0 is none.
func (t *table) when(at records.Instant) {
	if at == 0 {
		t.blank()
		return
	}
	t.number(t.b.serial(at))
}

// day puts a civil date; nil is none.
func (t *table) day(d *calendar.Date) {
	if d == nil {
		t.blank()
		return
	}
	t.whole(int64(*d) + epoch)
}

// formula puts a formula with the value it comes to, for readers that do not work it out themselves: a text, a whole number or a number.
func (t *table) formula(f string, value any) error {
	if len(f) > maxFormula {
		return fmt.Errorf("sheet %q: a formula of %d characters; the format holds %d: choose a shorter period", t.name, len(f), maxFormula)
	}
	c := cell{formula: f}
	switch v := value.(type) {
	case string:
		c.is, c.s = aText, v
	case int64:
		c.is, c.n = aWhole, v
	case float64:
		c.is, c.f = aNumber, v
	default:
		return fmt.Errorf("sheet %q: a formula that comes to a %T", t.name, value)
	}
	t.put(c)
	return nil
}

// spot is a row on a sheet.
type spot struct {
	sheet string
	row   int
}

// here is where the row being filled will stand: the sheet may be full, and the row open the next.
func (t *table) here() spot {
	if n := len(t.parts); t.next > t.b.limit {
		return spot{fmt.Sprintf("%s (%d)", t.name, n+1), headRows + 1}
	}
	return spot{t.parts[len(t.parts)-1].sheet, t.next}
}

// ref is the cell of the row being filled under a heading.
func (t *table) ref(head string) string { return t.letter(head) + itoa(t.here().row) }

func (t *table) letter(head string) string {
	c := 0
	for t.cols[c].head != head {
		c++
	}
	return columnName(c + 1)
}

// sumAt is the sum of a column's cells in some rows, as a formula of any sheet; neighbours are one range.
func (t *table) sumAt(head string, at []spot) string {
	if len(at) == 0 {
		return "0"
	}
	c := t.letter(head)
	var args []string
	for i := 0; i < len(at); i++ {
		j := i
		for j+1 < len(at) && at[j+1] == (spot{at[j].sheet, at[j].row + 1}) {
			j++
		}
		args = append(args, fmt.Sprintf("%s!$%s$%d:$%s$%d", quote(at[i].sheet), c, at[i].row, c, at[j].row))
		i = j
	}
	return "SUM(" + strings.Join(args, ",") + ")"
}

// end writes the row.
func (t *table) end(ctx context.Context) error {
	if t.long {
		return t.endLong(ctx)
	}
	return t.write(ctx)
}

func (t *table) write(ctx context.Context) error {
	for ; t.n < len(t.cols); t.blank() {
	}
	t.n = 0
	if t.next > t.b.limit {
		if err := t.close(ctx); err != nil {
			return err
		}
		if err := t.open(); err != nil {
			return err
		}
	}
	p := &t.parts[len(t.parts)-1]
	if t.b.tap != nil {
		t.b.tap(p.sheet, t.next, t.cells)
	}
	if err := t.sw.row(t.next, t.height(), t.cells); err != nil {
		return err
	}
	p.last = t.next
	t.next++
	t.rows++
	if t.cells[0].is == aWhole {
		t.entries++
	}
	return t.b.step(ctx)
}

// lineHeight is the height of a line of text, in points.
const lineHeight = 12

// height is how high the row has to be for its longest text. Spreadsheet programs do not all work it out by themselves.
func (t *table) height() float64 {
	most := 1
	for i := range t.cells {
		if t.cells[i].is != aText {
			continue
		}
		s := t.cells[i].s
		fit := int(t.cols[i].width * 1.3) // characters in a line: of 9 points where the column counts in 11
		if t.cols[i].look == mono {
			fit = int(t.cols[i].width * 1.07)
		}
		if len(s) <= fit && strings.IndexByte(s, '\n') < 0 {
			continue
		}
		n := 0
		for l := range strings.SplitSeq(s, "\n") {
			n += 1 + max(0, utf8.RuneCountInString(l)-1)/fit
		}
		most = max(most, n)
	}
	return min(float64(most*lineHeight+1), excelize.MaxRowHeight)
}

// endLong writes a row that has texts longer than a cell: what is over goes on in rows below it, marked as such, and
// without a number in the first column, so that counts stay right.
func (t *table) endLong(ctx context.Context) error {
	t.long = false
	rest := map[int][]string{}
	most := 1
	for i := range t.n {
		if c := &t.cells[i]; c.is == aText && c.formula == "" {
			if p := pieces(c.s, t.b.most); len(p) > 1 {
				c.s, rest[i], most = p[0], p[1:], max(most, len(p))
			}
		}
	}
	var mark string
	if t.n > 0 && t.cells[0].is != empty {
		mark = t.cells[0].value() + " " + t.b.say("(continued)")
	}
	if err := t.write(ctx); err != nil {
		return err
	}
	for k := range most - 1 {
		for i := range t.cols {
			switch p := rest[i]; {
			case k < len(p):
				t.put(textCell(p[k]))
			case i == 0:
				t.put(textCell(mark))
			default:
				t.blank()
			}
		}
		if err := t.write(ctx); err != nil {
			return err
		}
	}
	return nil
}

// close ends the sheet being written.
func (t *table) close(ctx context.Context) error {
	p := t.parts[len(t.parts)-1]
	if p.last < p.first {
		t.n = 0
		if err := t.sw.row(headRows+1, 0, []cell{textCell(t.b.say("Nothing in this period.")).in(t.b.looks[prose])}); err != nil {
			return err
		}
	}
	t.sw.filter = fmt.Sprintf("A%d:%s%d", headRows, columnName(len(t.cols)), max(p.last, headRows+1))
	return t.sw.end(ctx)
}

// ranges are a column's cells on every sheet of the table, as formulas name them. A table without rows has one row that
// counts for nothing.
func (t *table) ranges(head string) []string {
	c := 0
	for t.cols[c].head != head {
		c++
	}
	name := columnName(c + 1)
	var out []string
	for _, p := range t.parts {
		out = append(out, fmt.Sprintf("%s!$%s$%d:$%s$%d", quote(p.sheet), name, p.first, name, max(p.last, p.first)))
	}
	return out
}

// sum adds one formula for each sheet of a table; each gives the text of one sheet's, by its number.
func (t *table) sum(each func(sheet int) string) string {
	var terms []string
	for i := range t.parts {
		terms = append(terms, each(i))
	}
	return strings.Join(terms, "+")
}

// quote is a sheet's name in a formula.
func quote(sheet string) string { return "'" + strings.ReplaceAll(sheet, "'", "''") + "'" }
