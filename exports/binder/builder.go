package binder

import (
	"context"
	"fmt"
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
	cited    positions
	names    names
	progress func(done, all int)
	done     int
	packed   int // bytes
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
	return b, b.f.SetCalcProps(&excelize.CalcPropsOptions{FullCalcOnLoad: &yes})
}

// sheet makes a sheet ready for writing: page, panes, widths. Page settings are lost once rows are written, so they
// come first.
func (b *builder) sheet(name string, cols []column, frozen int) (*excelize.StreamWriter, error) {
	fail := func(err error) (*excelize.StreamWriter, error) { return nil, fmt.Errorf("sheet %q: %w", name, err) }
	if len(b.order) == 0 {
		if err := b.f.SetSheetName("Sheet1", name); err != nil {
			return fail(err)
		}
	} else if _, err := b.f.NewSheet(name); err != nil {
		return fail(err)
	}
	b.order = append(b.order, name)
	wide := 0.0
	for _, c := range cols {
		wide += c.width
	}
	if err := b.page(name, frozen, wide); err != nil {
		return fail(err)
	}
	sw, err := b.f.NewStreamWriter(name)
	if err != nil {
		return fail(err)
	}
	if frozen > 0 {
		panes := &excelize.Panes{Freeze: true, YSplit: frozen, TopLeftCell: "A" + itoa(frozen+1), ActivePane: "bottomLeft"}
		if err := sw.SetPanes(panes); err != nil {
			return fail(err)
		}
	}
	for i, c := range cols {
		if err := sw.SetColWidth(i+1, i+1, c.width); err != nil {
			return fail(err)
		}
	}
	return sw, nil
}

// Paper sizes of the format. A sheet too wide to be read on the smaller one, fitted to its width, gets the larger.
const (
	paperLetter = 1
	paperLegal  = 5
	wideSheet   = 185 // characters
)

func (b *builder) page(name string, frozen int, wide float64) error {
	paper, landscape, one, many, overThen := paperLetter, "landscape", 1, 0, "downThenOver"
	if wide > wideSheet {
		paper = paperLegal
	}
	fit, grid := true, false
	if err := b.f.SetSheetProps(name, &excelize.SheetPropsOptions{FitToPage: &fit}); err != nil {
		return err
	}
	if err := b.f.SetSheetView(name, 0, &excelize.ViewOptions{ShowGridLines: &grid}); err != nil {
		return err
	}
	layout := &excelize.PageLayoutOptions{Size: &paper, Orientation: &landscape, FitToWidth: &one, FitToHeight: &many, PageOrder: &overThen}
	if err := b.f.SetPageLayout(name, layout); err != nil {
		return err
	}
	side, top, edge := 0.4, 0.7, 0.3
	if err := b.f.SetPageMargins(name, &excelize.PageLayoutMarginsOptions{Left: &side, Right: &side, Top: &top, Bottom: &top, Header: &edge, Footer: &edge}); err != nil {
		return err
	}
	s := b.in.Stamp
	ht := &excelize.HeaderFooterOptions{
		OddHeader: "&L&8" + headerText(" "+s.Plant, 70) + "&C&8&A&R&8" + headerText(fmt.Sprintf(" %s – %s", b.in.From, b.in.To), 40),
		OddFooter: "&L&8" + headerText(fmt.Sprintf(" %s %d · %s", b.say("journal position"), s.Size, s.Root), 90) + "&R&8" + headerText(" "+b.say("page"), 20) + " &P / &N",
	}
	if err := b.f.SetHeaderFooter(name, ht); err != nil {
		return err
	}
	if frozen == 0 {
		return nil
	}
	return b.f.SetDefinedName(&excelize.DefinedName{Name: "_xlnm.Print_Titles", Scope: name, RefersTo: fmt.Sprintf("%s!$1:$%d", quote(name), frozen)})
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

// serial is an instant as the plant's clock showed it, in days of the format's calendar.
func (b *builder) serial(at records.Instant) float64 {
	_, offset := at.Time().In(b.per.zone).Zone()
	// One division, correctly rounded: with a second rounding, some programs show 13:00 as 12:59.
	return float64(int64(at)+int64(offset)*1000+epoch*dayMillis) / dayMillis
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
	b.report(b.done)
	return ctx.Err()
}

func (b *builder) report(done int) {
	if b.progress != nil {
		b.all = max(b.all, done)
		b.progress(done, b.all)
	}
}

func itoa(n int) string { return strconv.Itoa(n) }
