package binder

import (
	"context"
	"errors"
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
	archive  *packer
	cited    positions
	names    names
	progress func(done, all int)
	tap      func(sheet string, row int, cells []cell) // sees every row of a table; for measuring
	done     int                                       // rows
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
	return errors.Join(b.archive.close(), b.f.Close())
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

// report says how much is done. How many rows there will be is known only roughly before, so the end is kept for when it has come.
func (b *builder) report() {
	if b.progress != nil {
		b.progress(min(b.done, b.all-1), b.all)
	}
}

func itoa(n int) string { return strconv.Itoa(n) }
