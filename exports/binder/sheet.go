package binder

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"

	"github.com/xuri/excelize/v2"
)

// sheet is one sheet being written. The library writes what stands around its rows; the rows go to the packer as they come, so that
// no sheet is ever whole in memory.
type sheet struct {
	b      *builder
	name   string
	first  bool   // of the binder: the one that is selected when it is opened
	part   string // in the binder's archive
	cols   []column
	frozen int

	rows   []byte      // not handed to the packer yet; the library's beginning first
	merged [][2]string // cells that are one, from and to
	filter string      // the range that has filters
	last   int         // row
}

// partName is the archive's name for the sheet of a number.
func partName(n int) string { return fmt.Sprintf("xl/worksheets/sheet%d.xml", n) }

// around is where the library's writer leaves room for the rows.
const around = "<sheetData>"

// sheet makes a sheet ready for writing.
func (b *builder) sheet(name string, cols []column, frozen int) (*sheet, error) {
	fail := func(err error) (*sheet, error) { return nil, fmt.Errorf("sheet %q: %w", name, err) }
	if len(b.order) == 0 {
		if err := b.f.SetSheetName("Sheet1", name); err != nil {
			return fail(err)
		}
	} else if _, err := b.f.NewSheet(name); err != nil {
		return fail(err)
	}
	b.order = append(b.order, name)
	if frozen > 0 {
		if err := b.f.SetDefinedName(&excelize.DefinedName{Name: "_xlnm.Print_Titles", Scope: name, RefersTo: fmt.Sprintf("%s!$1:$%d", quote(name), frozen)}); err != nil {
			return fail(err)
		}
	}
	s := &sheet{b: b, name: name, first: len(b.order) == 1, part: partName(len(b.order)), cols: cols, frozen: frozen}
	begin, _, err := s.frame()
	if err != nil {
		return fail(err)
	}
	s.rows = append(s.rows, begin...)
	return s, nil
}

// row writes the next row. A height of 0 is the reader's own.
func (s *sheet) row(n int, height float64, cells []cell) (err error) {
	switch {
	case n <= s.last:
		return fmt.Errorf("sheet %q, row %d: it comes after row %d", s.name, n, s.last)
	case height > excelize.MaxRowHeight:
		return fmt.Errorf("sheet %q, row %d: a height of %g; the format holds %d", s.name, n, height, excelize.MaxRowHeight)
	}
	s.last = n
	if s.rows, err = appendRow(s.rows, n, height, cells); err != nil {
		return fmt.Errorf("sheet %q, row %d: %w", s.name, n, err)
	}
	if len(s.rows) >= stretch {
		err = s.b.archive.more(s)
	}
	return err
}

// end packs what is left of the sheet.
func (s *sheet) end(ctx context.Context) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if s.filter != "" { // the sheet has the marks, the workbook a hidden name for the range
		if err := s.b.f.AutoFilter(s.name, s.filter, nil); err != nil {
			return fmt.Errorf("sheet %q, filter: %w", s.name, err)
		}
	}
	_, end, err := s.frame()
	if err != nil {
		return fmt.Errorf("sheet %q: %w", s.name, err)
	}
	s.rows = append(s.rows, end...)
	if err := s.b.archive.end(s); err != nil {
		return fmt.Errorf("sheet %q: %w", s.name, err)
	}
	return nil
}

// frame has the library write the sheet without rows, in a workbook of its own, and gives what stands before them and after.
func (s *sheet) frame() (begin, end []byte, err error) {
	f := excelize.NewFile(excelize.Options{TmpDir: s.b.in.TempDir})
	defer func() { err = errors.Join(err, f.Close()) }()
	from := "xl/worksheets/sheet1.xml"
	if s.first {
		err = f.SetSheetName("Sheet1", s.name)
	} else {
		from = "xl/worksheets/sheet2.xml"
		_, err = f.NewSheet(s.name)
	}
	if err != nil {
		return nil, nil, err
	}
	if err := s.page(f); err != nil { // lost once there are rows, so it comes first
		return nil, nil, err
	}
	sw, err := f.NewStreamWriter(s.name)
	if err != nil {
		return nil, nil, err
	}
	if s.frozen > 0 {
		panes := &excelize.Panes{Freeze: true, YSplit: s.frozen, TopLeftCell: "A" + itoa(s.frozen+1), ActivePane: "bottomLeft"}
		if err := sw.SetPanes(panes); err != nil {
			return nil, nil, err
		}
	}
	for i, c := range s.cols {
		if err := sw.SetColWidth(i+1, i+1, c.width); err != nil {
			return nil, nil, err
		}
	}
	for _, m := range s.merged {
		if err := sw.MergeCell(m[0], m[1]); err != nil {
			return nil, nil, err
		}
	}
	if s.filter != "" {
		if err := f.AutoFilter(s.name, s.filter, nil); err != nil {
			return nil, nil, err
		}
	}
	if err := sw.Flush(); err != nil {
		return nil, nil, err
	}
	var part bytes.Buffer
	if err := partsOf(f, func(name string) (io.Writer, error) {
		if name == from {
			return &part, nil
		}
		return io.Discard, nil
	}); err != nil {
		return nil, nil, err
	}
	begin, end, found := bytes.Cut(part.Bytes(), []byte(around))
	if !found {
		return nil, nil, errors.New("the library writes sheets in another way than this program knows")
	}
	return append(begin, around...), end, nil
}

// Paper sizes of the format. A sheet too wide to be read on the smaller one, fitted to its width, gets the larger.
const (
	paperLetter = 1
	paperLegal  = 5
	wideSheet   = 185 // characters
)

// page says how the sheet is printed.
func (s *sheet) page(f *excelize.File) error {
	wide := 0.0
	for _, c := range s.cols {
		wide += c.width
	}
	paper, landscape, one, many, overThen := paperLetter, "landscape", 1, 0, "downThenOver"
	if wide > wideSheet {
		paper = paperLegal
	}
	fit, grid := true, false
	if err := f.SetSheetProps(s.name, &excelize.SheetPropsOptions{FitToPage: &fit}); err != nil {
		return err
	}
	if err := f.SetSheetView(s.name, 0, &excelize.ViewOptions{ShowGridLines: &grid}); err != nil {
		return err
	}
	layout := &excelize.PageLayoutOptions{Size: &paper, Orientation: &landscape, FitToWidth: &one, FitToHeight: &many, PageOrder: &overThen}
	if err := f.SetPageLayout(s.name, layout); err != nil {
		return err
	}
	side, top, edge := 0.4, 0.7, 0.3
	if err := f.SetPageMargins(s.name, &excelize.PageLayoutMarginsOptions{Left: &side, Right: &side, Top: &top, Bottom: &top, Header: &edge, Footer: &edge}); err != nil {
		return err
	}
	b, st := s.b, s.b.in.Stamp
	ht := &excelize.HeaderFooterOptions{
		OddHeader: "&L&8" + headerText(" "+st.Plant, 70) + "&C&8&A&R&8" + headerText(fmt.Sprintf(" %s – %s", b.in.From, b.in.To), 40),
		OddFooter: "&L&8" + headerText(fmt.Sprintf(" %s %d · %s", b.say("journal position"), st.Size, st.Root), 90) + "&R&8" + headerText(" "+b.say("page"), 20) + " &P / &N",
	}
	return f.SetHeaderFooter(s.name, ht)
}
