package binder

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf16"

	"github.com/xuri/excelize/v2"

	"grainward/records"
	"grainward/records/plan"
)

// epoch is the serial number of 1970-01-01 in the format's calendar of days since 1899-12-30 (ECMA-376 part 1, 18.17.4.1).
const epoch = 25_569

const dayMillis = 24 * 3600 * 1000

// builder is a workbook under construction.
type builder struct {
	in   Input
	per  period
	lang string
	f    *excelize.File

	looks [lookCount]int
	line  string // below the title of every sheet: whose records, of when
	limit int    // last row of a sheet
	most  int    // UTF-16 units a cell holds

	order    []string // sheets as they were made
	open     []*sheet
	archive  *packer
	cited    positions
	names    names
	progress func(done, all int)
	tap      func(sheet string, row int, cells []any) // sees every row of a table; for measuring
	done     int
	packed   int // bytes
	shown    int
	all      int
}

func newBuilder(in Input, per period, progress func(done, all int)) (*builder, error) {
	b := &builder{in: in, per: per, lang: in.Lang, limit: in.RowLimit, most: maxChars, progress: progress}
	if b.lang == "" {
		b.lang = "en"
	}
	if b.limit == 0 {
		b.limit = maxRows
	}
	b.f = excelize.NewFile(excelize.Options{TmpDir: in.TempDir})
	b.names = newNames(b)
	s := in.Stamp
	b.line = visible(fmt.Sprintf("%s · %s · %s %s – %s · %s %d", s.Plant, s.Address, b.say("period"), in.From, in.To, b.say("journal position"), s.Size))
	var err error
	if b.looks, err = styles(b.f); err != nil {
		return nil, err
	}
	made := s.At.Time().Truncate(time.Second).Format(time.RFC3339)
	err = b.f.SetDocProps(&excelize.DocProperties{Title: b.say("Audit binder"), Subject: clip(b.line, 200), Creator: visible(s.Program), LastModifiedBy: visible(s.Program), Created: made, Modified: made})
	if err != nil {
		return nil, err
	}
	yes := true
	if err := b.f.SetCalcProps(&excelize.CalcPropsOptions{FullCalcOnLoad: &yes}); err != nil {
		return nil, err
	}
	b.archive, err = newPacker(b)
	return b, err
}

// close clears up, whether the binder was finished or not.
func (b *builder) close() error {
	errs := []error{b.archive.close(), b.f.Close()}
	for _, s := range b.open {
		errs = append(errs, s.f.Close())
	}
	return errors.Join(errs...)
}

// sheet is one sheet being written. Each has a workbook of its own, which is let go when the sheet is done: the library
// keeps the buffer of every sheet, 16 MiB and more, until the whole workbook is closed. The sheet's part goes into the
// binder's archive, whose own workbook has an empty sheet of the same name in its place.
type sheet struct {
	*excelize.StreamWriter
	b    *builder
	f    *excelize.File
	name string
	part string // in the binder's archive
}

// sheet makes a sheet ready for writing: page, panes, widths. Page settings are lost once rows are written, so they
// come first.
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
	s := &sheet{b: b, f: excelize.NewFile(excelize.Options{TmpDir: b.in.TempDir}), name: name, part: fmt.Sprintf("xl/worksheets/sheet%d.xml", len(b.order))}
	b.open = append(b.open, s)
	if len(b.order) == 1 {
		if err := s.f.SetSheetName("Sheet1", name); err != nil { // the one that is selected when the binder is opened
			return fail(err)
		}
	} else if _, err := s.f.NewSheet(name); err != nil {
		return fail(err)
	}
	if _, err := styles(s.f); err != nil { // the same numbers as in the binder's workbook
		return fail(err)
	}
	wide := 0.0
	for _, c := range cols {
		wide += c.width
	}
	if err := s.page(wide); err != nil {
		return fail(err)
	}
	var err error
	if s.StreamWriter, err = s.f.NewStreamWriter(name); err != nil {
		return fail(err)
	}
	if frozen > 0 {
		panes := &excelize.Panes{Freeze: true, YSplit: frozen, TopLeftCell: "A" + itoa(frozen+1), ActivePane: "bottomLeft"}
		if err := s.SetPanes(panes); err != nil {
			return fail(err)
		}
	}
	for i, c := range cols {
		if err := s.SetColWidth(i+1, i+1, c.width); err != nil {
			return fail(err)
		}
	}
	return s, nil
}

// filter puts filters on a range; the sheet has the marks, the workbook a hidden name for the range.
func (s *sheet) filter(cells string) error {
	if err := s.f.AutoFilter(s.name, cells, nil); err != nil {
		return fmt.Errorf("sheet %q, filter: %w", s.name, err)
	}
	if err := s.b.f.AutoFilter(s.name, cells, nil); err != nil {
		return fmt.Errorf("sheet %q, filter: %w", s.name, err)
	}
	return nil
}

// end packs the sheet and lets its workbook go.
func (s *sheet) end(ctx context.Context) error {
	if err := s.Flush(); err != nil {
		return fmt.Errorf("sheet %q: %w", s.name, err)
	}
	from := "xl/worksheets/sheet1.xml"
	if len(s.f.GetSheetList()) > 1 {
		from = "xl/worksheets/sheet2.xml"
	}
	if err := s.b.archive.take(ctx, s.f, func(name string) string {
		if name == from {
			return s.part
		}
		return ""
	}); err != nil {
		return fmt.Errorf("sheet %q: %w", s.name, err)
	}
	s.b.open = slices.DeleteFunc(s.b.open, func(o *sheet) bool { return o == s })
	if err := s.f.Close(); err != nil {
		return fmt.Errorf("sheet %q: %w", s.name, err)
	}
	return nil
}

// Paper sizes of the format. A sheet too wide to be read on the smaller one, fitted to its width, gets the larger.
const (
	paperLetter = 1
	paperLegal  = 5
	wideSheet   = 185 // characters
)

func (s *sheet) page(wide float64) error {
	paper, landscape, one, many, overThen := paperLetter, "landscape", 1, 0, "downThenOver"
	if wide > wideSheet {
		paper = paperLegal
	}
	fit, grid := true, false
	if err := s.f.SetSheetProps(s.name, &excelize.SheetPropsOptions{FitToPage: &fit}); err != nil {
		return err
	}
	if err := s.f.SetSheetView(s.name, 0, &excelize.ViewOptions{ShowGridLines: &grid}); err != nil {
		return err
	}
	layout := &excelize.PageLayoutOptions{Size: &paper, Orientation: &landscape, FitToWidth: &one, FitToHeight: &many, PageOrder: &overThen}
	if err := s.f.SetPageLayout(s.name, layout); err != nil {
		return err
	}
	side, top, edge := 0.4, 0.7, 0.3
	if err := s.f.SetPageMargins(s.name, &excelize.PageLayoutMarginsOptions{Left: &side, Right: &side, Top: &top, Bottom: &top, Header: &edge, Footer: &edge}); err != nil {
		return err
	}
	b, st := s.b, s.b.in.Stamp
	ht := &excelize.HeaderFooterOptions{
		OddHeader: "&L&8" + headerText(" "+st.Plant, 70) + "&C&8&A&R&8" + headerText(fmt.Sprintf(" %s – %s", b.in.From, b.in.To), 40),
		OddFooter: "&L&8" + headerText(fmt.Sprintf(" %s %d · %s", b.say("journal position"), st.Size, st.Root), 90) + "&R&8" + headerText(" "+b.say("page"), 20) + " &P / &N",
	}
	return s.f.SetHeaderFooter(s.name, ht)
}

// headerText is a text for a page's edge, where & gives commands and 255 units are all there is.
func headerText(s string, most int) string {
	s = strings.ReplaceAll(visible(strings.ReplaceAll(s, "\n", " ")), "&", "&&")
	for len(utf16.Encode([]rune(s))) > most {
		r := []rune(s)
		s = strings.TrimRight(string(r[:len(r)-1]), "&")
	}
	return s
}

// serial is an instant as the plant's clock showed it, in days of the format's calendar: rounded up at the tenth
// decimal, which is 9 millionths of a second. The library writes 15 digits, and cut off below the full minute 13:00 shows as 12:59.
func (b *builder) serial(at records.Instant) float64 {
	_, offset := at.Time().In(b.per.zone).Zone()
	wall := int64(at) + int64(offset)*1000 + epoch*dayMillis
	const digits = 10_000_000_000
	return float64(wall/dayMillis) + float64((wall%dayMillis*digits+dayMillis-1)/dayMillis)/digits
}

// clock is an instant as text, for sentences and lists.
func (b *builder) clock(at records.Instant) string {
	return at.Time().In(b.per.zone).Format("2006-01-02 15:04")
}

// planAt is the plan in force at an instant, or else the first.
func (b *builder) planAt(at records.Instant) *plan.Plan {
	if p := b.in.Report.State.PlanAt(at); p != nil {
		return p
	}
	return b.in.Report.State.Plans()[0].Plan
}

// every is how many rows are written between looks at the context and reports of progress.
const every = 1024

func (b *builder) step(ctx context.Context) error {
	b.done++
	if b.done%every != 0 {
		return nil
	}
	b.report()
	return ctx.Err()
}

// report says how much is done: rows written, and as many again for packing them. How many there will be is known only
// roughly before, so the end is kept for when it has come.
func (b *builder) report() {
	if b.progress == nil {
		return
	}
	done := min(b.done+b.packed/bytesPerRow, b.all-1)
	b.shown = max(b.shown, done)
	b.progress(b.shown, b.all)
}

func itoa(n int) string { return strconv.Itoa(n) }
