package lineage

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"

	"grainward/records"
	"grainward/records/calendar"
)

// maxRows is how many rows a sheet holds (the limit Excel states), headings included.
const maxRows = 1_048_576

// look is how a column's cells are set.
type look int

const (
	plain look = iota
	number
	whole
	when
	day
	share
	head
	headNumber
	title
	label
	figure // a number beside its label
	looks
)

// book is a workbook being written.
type book struct {
	f    *excelize.File
	form *Form
	look [looks]int
}

// column is one column: its heading, its width in characters, its look.
type column struct {
	head  string
	width float64
	look  look
}

// table is a sheet: headings in row 1, a record a row.
type table struct {
	name string
	cols []column
	rows [][]any
}

// WriteSheets writes the trace as a workbook (xlsx): a page about it, then a sheet each for lots, steps, movements,
// consignees (a row a shipment), contacts with stations, and documents. Each sheet is a plain table that can be sorted and filtered: one
// heading row, one record a row, no merged cells, numbers as numbers and dates as dates on the plant's clock.
func WriteSheets(w io.Writer, in Input) (err error) {
	form, err := Flatten(in)
	if err != nil {
		return err
	}
	return writeBook(w, form, in.Stamp.Program, form.heading(), func(b *book) error {
		if err := b.about(); err != nil {
			return err
		}
		for _, t := range b.tables() {
			if err := b.write(t()); err != nil {
				return err
			}
		}
		return nil
	})
}

// tables are the sheets of a trace, in order.
func (b *book) tables() []func() table {
	return []func() table{b.lots, b.paths, b.movements, b.consignees, b.stations, b.documents}
}

// writeBook writes a workbook that fill fills in.
func writeBook(w io.Writer, form *Form, program, title string, fill func(*book) error) (err error) {
	b := &book{f: excelize.NewFile(), form: form}
	defer func() {
		if e := b.f.Close(); err == nil && e != nil {
			err = fmt.Errorf("closing the workbook: %w", e)
		}
	}()
	if err := b.styles(); err != nil {
		return fmt.Errorf("styles of the workbook: %w", err)
	}
	if err := fill(b); err != nil {
		return fmt.Errorf("writing the workbook: %w", err)
	}
	at := form.At.Time().UTC()
	stamp := at.Format(time.RFC3339)
	if err := b.f.SetDocProps(&excelize.DocProperties{Creator: program, LastModifiedBy: program, Created: stamp, Modified: stamp, Title: title}); err != nil {
		return fmt.Errorf("properties of the workbook: %w", err)
	}
	b.f.SetActiveSheet(0)
	return pack(w, b.f, at)
}

func (b *book) styles() (err error) {
	rule := []excelize.Border{{Type: "bottom", Color: "B8B2A6", Style: 1}}
	strong := []excelize.Border{{Type: "bottom", Color: "000000", Style: 2}}
	font := func(size float64, bold bool) *excelize.Font {
		return &excelize.Font{Family: "Arial", Size: size, Bold: bold, Color: "000000"}
	}
	left := &excelize.Alignment{Vertical: "top", Horizontal: "left", WrapText: true}
	right := &excelize.Alignment{Vertical: "top", Horizontal: "right", Indent: 1} // apart from the text to its right
	wholeFmt, mass, whenFmt, dayFmt, shareFmt := "#,##0", "#,##0.00", "yyyy-mm-dd hh:mm", "yyyy-mm-dd", "0.0%"
	all := [looks]*excelize.Style{
		plain:      {Font: font(9, false), Alignment: left, Border: rule},
		number:     {Font: font(9, false), Alignment: right, Border: rule, CustomNumFmt: &mass},
		whole:      {Font: font(9, false), Alignment: right, Border: rule, CustomNumFmt: &wholeFmt},
		when:       {Font: font(9, false), Alignment: &excelize.Alignment{Vertical: "top", Horizontal: "left"}, Border: rule, CustomNumFmt: &whenFmt},
		day:        {Font: font(9, false), Alignment: &excelize.Alignment{Vertical: "top", Horizontal: "left"}, Border: rule, CustomNumFmt: &dayFmt},
		share:      {Font: font(9, false), Alignment: right, Border: rule, CustomNumFmt: &shareFmt},
		head:       {Font: font(9, true), Alignment: &excelize.Alignment{Vertical: "bottom", WrapText: true}, Border: strong},
		headNumber: {Font: font(9, true), Alignment: &excelize.Alignment{Vertical: "bottom", Horizontal: "right", Indent: 1, WrapText: true}, Border: strong},
		title:      {Font: font(14, true)},
		figure:     {Font: font(9, false), Alignment: &excelize.Alignment{Vertical: "top", Horizontal: "left"}, Border: rule, CustomNumFmt: &mass},
		label:      {Font: font(9, true), Alignment: left, Border: rule},
	}
	for i := range all {
		if b.look[i], err = b.f.NewStyle(all[i]); err != nil {
			return err
		}
	}
	return nil
}

// write writes a sheet.
func (b *book) write(t table) error {
	name, cols, rows := t.name, t.cols, t.rows
	if len(rows) >= maxRows {
		return &records.Error{Kind: records.Invalid, What: fmt.Sprintf("the sheet %q would have %d rows; a workbook holds %d", name, len(rows), maxRows-1),
			Do: "Trace less, or ask for JSON."}
	}
	if _, err := b.f.NewSheet(name); err != nil {
		return err
	}
	// All that is said of the sheet as a whole has to be said before its rows: the stream writes it first.
	last, err := excelize.CoordinatesToCellName(len(cols), max(len(rows), 1)+1)
	if err != nil {
		return err
	}
	if err := b.f.AutoFilter(name, "A1:"+last, nil); err != nil { // before the page: it forgets that the sheet is to fit it
		return err
	}
	if err := b.page(name, cols); err != nil {
		return err
	}
	sw, err := b.f.NewStreamWriter(name)
	if err != nil {
		return err
	}
	for i, c := range cols {
		if err := sw.SetColWidth(i+1, i+1, c.width); err != nil {
			return err
		}
	}
	if err := sw.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}); err != nil {
		return err
	}
	heads := make([]any, len(cols))
	for i, c := range cols {
		l := head
		if c.look == number || c.look == whole || c.look == share {
			l = headNumber
		}
		heads[i] = excelize.Cell{StyleID: b.look[l], Value: c.head}
	}
	if err := sw.SetRow("A1", heads, excelize.RowOpts{Height: 26}); err != nil {
		return err
	}
	for n, row := range rows {
		cells := make([]any, len(cols))
		for i := range cols {
			cells[i] = excelize.Cell{StyleID: b.look[cols[i].look], Value: cellValue(row[i])}
		}
		if err := sw.SetRow(fmt.Sprintf("A%d", n+2), cells, excelize.RowOpts{Height: height(cols, row)}); err != nil {
			return err
		}
	}
	return sw.Flush()
}

// page sets how a sheet prints: across, on as few pages side by side as can still be read, with the headings and the first column
// on each.
func (b *book) page(name string, cols []column) error {
	const perPage = 190 // characters that can still be read across a page
	width := 0.0
	for _, c := range cols {
		width += c.width
	}
	landscape, overThen, letter, across, down, fit := "landscape", "overThenDown", 1, 1+int(width)/perPage, 0, true
	if err := b.f.SetPageLayout(name, &excelize.PageLayoutOptions{Orientation: &landscape, Size: &letter, FitToWidth: &across, FitToHeight: &down, PageOrder: &overThen}); err != nil {
		return err
	}
	side, top, edge := 0.4, 0.6, 0.3
	if err := b.f.SetPageMargins(name, &excelize.PageLayoutMarginsOptions{Left: &side, Right: &side, Top: &top, Bottom: &top, Header: &edge, Footer: &edge}); err != nil {
		return err
	}
	if err := b.f.SetSheetProps(name, &excelize.SheetPropsOptions{FitToPage: &fit}); err != nil {
		return err
	}
	if err := b.f.SetHeaderFooter(name, &excelize.HeaderFooterOptions{OddFooter: "&L&A&R&P / &N"}); err != nil {
		return err
	}
	return b.f.SetDefinedName(&excelize.DefinedName{Name: "_xlnm.Print_Titles", RefersTo: "'" + name + "'!$A:$A,'" + name + "'!$1:$1", Scope: name})
}

// height is how high a row has to be for its longest text.
func height(cols []column, row []any) float64 {
	lines := 1
	for i, v := range row {
		if s, ok := v.(string); ok {
			fit := max(1, int(cols[i].width*1.15))
			n := 0
			for _, l := range strings.Split(s, "\n") {
				n += 1 + max(0, len([]rune(l))-1)/fit
			}
			lines = max(lines, n)
		}
	}
	return min(float64(12*lines+2), excelize.MaxRowHeight)
}

// cellValue is a value as a cell holds it. Text stays text whatever it begins with; what a workbook can not hold is shown as a picture
// of it.
func cellValue(v any) any {
	switch v := v.(type) {
	case string:
		if v == "" {
			return nil
		}
		return cellText(v)
	}
	return v
}

// maxChars is how many UTF-16 units a cell holds; what is beyond it is cut, and said so.
const maxChars = 32_767

func cellText(s string) string {
	s = strings.Map(func(r rune) rune {
		switch {
		case r == '\n':
			return r
		case r < 0x20:
			return 0x2400 + r
		case r == 0x7f:
			return 0x2421
		case r == 0xfffe || r == 0xffff || r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069:
			return '�'
		}
		return r
	}, s)
	if runes := []rune(s); len(runes) > maxChars/2 {
		return string(runes[:maxChars/2-1]) + "…"
	}
	return s
}

// epoch is 1970-01-01 as a spreadsheet counts days.
const epoch = 25569

// serial is an instant as a spreadsheet counts, on the plant's clock, rounded up at the tenth decimal (9 millionths of a second):
// a full minute that is a hair too low would be shown as the minute before.
func (f *Form) serial(at records.Instant) float64 {
	const dayMillis, digits = 86_400_000, 10_000_000_000
	_, offset := at.Time().In(f.zone).Zone()
	wall := int64(at) + int64(offset)*1000 + epoch*dayMillis
	return float64(wall/dayMillis) + float64((wall%dayMillis*digits+dayMillis-1)/dayMillis)/digits
}

func (b *book) serial(at records.Instant) float64 { return b.form.serial(at) }

// dayOf is a date as a spreadsheet counts; nil for none.
func dayOf(ds []calendar.Date) any {
	if len(ds) == 0 {
		return nil
	}
	return int64(ds[0]) + epoch
}

// pack writes the parts in a fixed order with the moment as their date: the library's own order differs from run to run.
func pack(w io.Writer, f *excelize.File, at time.Time) error {
	var buf bytes.Buffer
	if _, err := f.WriteTo(&buf); err != nil {
		return fmt.Errorf("packing the workbook: %w", err)
	}
	parts, err := zip.NewReader(bytes.NewReader(buf.Bytes()), int64(buf.Len()))
	if err != nil {
		return fmt.Errorf("packing the workbook: %w", err)
	}
	const contents = "[Content_Types].xml"
	slices.SortFunc(parts.File, func(a, b *zip.File) int {
		switch {
		case a.Name == b.Name:
			return 0
		case a.Name == contents:
			return -1
		case b.Name == contents:
			return 1
		}
		return strings.Compare(a.Name, b.Name)
	})
	out := zip.NewWriter(w)
	for _, p := range parts.File {
		raw, err := p.OpenRaw()
		if err != nil {
			return fmt.Errorf("packing %s: %w", p.Name, err)
		}
		part, err := out.CreateRaw(&zip.FileHeader{Name: p.Name, Method: p.Method, Modified: at, CRC32: p.CRC32, CompressedSize64: p.CompressedSize64, UncompressedSize64: p.UncompressedSize64})
		if err != nil {
			return fmt.Errorf("packing %s: %w", p.Name, err)
		}
		if _, err := io.Copy(part, raw); err != nil {
			return fmt.Errorf("packing %s: %w", p.Name, err)
		}
	}
	if err := out.Close(); err != nil {
		return fmt.Errorf("writing the workbook: %w", err)
	}
	return nil
}
