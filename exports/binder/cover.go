package binder

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"grainward/audit"
	"grainward/records/plan"
)

// The cover's columns: a label, then one for each result.
var coverColumns = func() []column {
	cols := []column{{"", 22, plain}}
	for range 13 {
		cols = append(cols, column{"", 8.5, plain})
	}
	return cols
}()

// page is a sheet written line by line rather than as a table.
type page struct {
	b    *builder
	name string
	sw   *sheet
	row  int
	wide int // columns
}

// line writes one row of cells.
func (p *page) line(height float64, cells ...cell) error {
	p.row++
	return p.sw.row(p.row, height, cells)
}

func (p *page) cell(l look, s string) cell { return textCell(visible(s)).in(p.b.looks[l]) }

func (p *page) formula(l look, f string, v int) (cell, error) {
	if len(f) > maxFormula {
		return cell{}, fmt.Errorf("sheet %q: a formula of %d characters; the format holds %d: choose a shorter period", p.name, len(f), maxFormula)
	}
	return cell{style: p.b.looks[l], is: aWhole, n: int64(v), formula: f}, nil
}

// span writes a value over the columns from one to the last.
func (p *page) span(from int, height float64, cells ...cell) error {
	l := cells[len(cells)-1].style
	for len(cells) < p.wide {
		cells = append(cells, cell{style: l, is: empty})
	}
	if err := p.line(height, cells...); err != nil {
		return err
	}
	p.sw.merged = append(p.sw.merged, [2]string{columnName(from) + itoa(p.row), columnName(p.wide) + itoa(p.row)})
	return nil
}

// paragraph writes a sentence over the whole width; perLine is how many characters fit a line of it.
func (p *page) paragraph(text string, perLine int) error {
	return p.span(1, float64(lineHeight*(1+len([]rune(text))/perLine)+3), p.cell(prose, text))
}

func (p *page) section(text string) error {
	return p.line(26, p.cell(section, text))
}

func (b *builder) cover(ctx context.Context, sw *sheet, sel *selection, w *written) error {
	p := &page{b: b, name: b.say("Cover"), sw: sw, wide: len(coverColumns)}
	steps := []func() error{
		func() error { return p.line(24, p.cell(title, b.say("Audit binder"))) },
		func() error { return b.coverStamp(p) },
		func() error { return b.coverWords(p, sel) },
		func() error { return b.coverFamilies(p, w) },
		func() error { return b.coverFindings(p, sel, w) },
		func() error { return b.coverSheets(p, w) },
		func() error { return b.coverAbsent(p, sel, w) },
	}
	for _, s := range steps {
		if err := s(); err != nil {
			return err
		}
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	return sw.end(ctx)
}

func (b *builder) coverStamp(p *page) error {
	s, plant := b.in.Stamp, b.per.plan.Plant
	certifier := plant.Certifier
	if certifier == "" {
		certifier = b.say("none named in the plan")
	}
	for _, l := range [][2]string{
		{b.say("Plant"), s.Plant},
		{b.say("Address"), s.Address},
		{b.say("Certifier"), certifier},
		{b.say("Period"), fmt.Sprintf("%s – %s (%s)", b.in.From, b.in.To, b.say("both days included"))},
		{b.say("As it stood at"), fmt.Sprintf("%s (%s)", b.clock(s.At), plant.Zone)},
		{b.say("Made by"), s.MadeBy},
		{b.say("Made with"), s.Program},
		{b.say("Journal"), s.Origin},
		{b.say("Journal position"), fmt.Sprintf("%d (%s 0 – %d)", s.Size, b.say("entries"), s.Size-1)},
		{b.say("Tree head"), s.Root.String()},
		{b.say("Times"), fmt.Sprintf("%s %s", b.say("as the plant's clock showed them, zone"), plant.Zone)},
	} {
		if err := p.span(2, 14, p.cell(label, l[0]), p.cell(plain, l[1])); err != nil {
			return err
		}
	}
	return nil
}

func (b *builder) coverWords(p *page, sel *selection) error {
	if err := p.section(b.say("How to read this")); err != nil {
		return err
	}
	words := []string{
		b.say("This binder says what the records show. Whether that meets a rule, the certifier and the authority having jurisdiction decide."),
		b.say("A finding is a place where the records differ from what the plan, or the rule named beside it, asks for: work missed or late, a value outside its limits, a record incomplete or not reviewed in time. It is a question to be answered, not a verdict."),
		b.say("A window is one stretch in which one task at one station was to be done. It is in this binder when it was due in the period, or worked on in it; windows not open yet are left out. Owed: its time has come and it was not excused."),
		b.say("Results: done (passed in time), late (passed after it was due), put right (failed first, then passed), failed, missed (nobody signed), overdue (can still be signed), open (not due yet), excused; as needed and unplanned work answers no window."),
		b.say("Every row names the position of its entry in the journal; a missed window has none. The counts are formulas over the sheets: recount them. The sheet Proof says how to check each entry against the signed tree head."),
	}
	if !b.in.Stamp.Signed() {
		words = append(words, b.say("This binder is not signed: it was made without the plant's key."))
	}
	for _, text := range words {
		if err := p.paragraph(text, 150); err != nil {
			return err
		}
	}
	return nil
}

func (b *builder) coverFamilies(p *page, w *written) error {
	if err := p.section(b.say("Work, by family")); err != nil {
		return err
	}
	heads := []cell{p.cell(head, b.say("Sheet")), p.cell(headNumber, b.say("Records")), p.cell(headNumber, b.say("Windows owed"))}
	for _, r := range results() {
		heads = append(heads, p.cell(headNumber, b.say(r)))
	}
	if err := p.line(27, heads...); err != nil {
		return err
	}
	first := p.row + 1
	sums := make([]int, len(results())+2)
	for _, s := range w.families {
		cells := []cell{p.cell(label, s.name)}
		add := func(i int, f string, v int) error {
			c, err := p.formula(whole, f, v)
			cells = append(cells, c)
			sums[i] += v
			return err
		}
		if err := add(0, s.countNumbers(b.say("Position")), s.signed); err != nil {
			return err
		}
		if err := add(1, s.total(b.say("Owed")), s.owed); err != nil {
			return err
		}
		for i, r := range results() {
			if err := add(i+2, s.countIfs(b.say("Result"), criterion(b.say(r))), s.counts[b.say(r)]); err != nil {
				return err
			}
		}
		if err := p.line(14, cells...); err != nil {
			return err
		}
	}
	cells := []cell{p.cell(label, b.say("All"))}
	for i, v := range sums {
		col := columnName(i + 2)
		f := fmt.Sprintf("SUM(%s%d:%s%d)", col, first, col, p.row)
		if len(w.families) == 0 {
			f = "0"
		}
		c, err := p.formula(total, f, v)
		if err != nil {
			return err
		}
		cells = append(cells, c)
	}
	return p.line(14, cells...)
}

func (b *builder) coverFindings(p *page, sel *selection, w *written) error {
	if err := p.section(b.say("Findings, by severity")); err != nil {
		return err
	}
	if err := p.line(14, p.cell(head, b.say("Severity")), p.cell(headNumber, b.say("still open")), p.cell(headNumber, b.say("closed"))); err != nil {
		return err
	}
	for sev := audit.Critical; sev >= audit.Note; sev-- {
		word := b.say(sev.String())
		cells := []cell{p.cell(label, word)}
		for _, standing := range []string{b.say("still open"), b.say("closed")} {
			c, err := p.formula(whole, w.findings.countIfs(b.say("Severity"), criterion(word), b.say("Standing"), criterion(standing)), w.findings.counts[[2]string{word, standing}])
			if err != nil {
				return err
			}
			cells = append(cells, c)
		}
		if err := p.line(14, cells...); err != nil {
			return err
		}
	}
	return p.span(1, 14, p.cell(prose, fmt.Sprintf("%s %d", b.say("Older findings about single pieces of work that are still open, in the binders of their own periods:"), sel.olderOpen)))
}

func (b *builder) coverSheets(p *page, w *written) error {
	if err := p.section(b.say("Other sheets")); err != nil {
		return err
	}
	if err := p.line(14, p.cell(head, b.say("Sheet")), p.cell(headNumber, b.say("Rows"))); err != nil {
		return err
	}
	row := func(name, f string, v int) error {
		c, err := p.formula(whole, f, v)
		if err != nil {
			return err
		}
		return p.line(14, p.cell(label, name), c)
	}
	r := w.readings
	if err := row(r.name, r.countNumbers(b.say("Reading")), r.entries); err != nil {
		return err
	}
	if err := row("  "+b.say("outside their limits"), r.countIfs(b.say("The program says"), criterion(b.say("outside"))), r.outside); err != nil {
		return err
	}
	differ := r.countIfs(b.say("In limits"), criterion(b.say("yes")), b.say("The program says"), criterion(b.say("outside"))) + "+" +
		r.countIfs(b.say("In limits"), criterion(b.say("no")), b.say("The program says"), criterion(b.say("within")))
	if err := row("  "+b.say("where formula and program differ"), differ, r.disagree); err != nil {
		return err
	}
	for _, t := range slices.Concat(w.goods, w.others, []*table{w.leaves}) {
		f, v := t.countNumbers(t.cols[0].head), t.entries
		switch {
		case t.counted != "":
			f, v = t.countNumbers(t.counted), t.rows
		case t.cols[0].look != whole:
			f, v = t.countNumbers(b.say("Records")), t.rows
		}
		if err := row(t.name, f, v); err != nil {
			return err
		}
	}
	return nil
}

// coverAbsent names the families the plan has no work in, and the sheets about lots that have no rows, so that a sheet that
// is not there is not taken for one that was lost.
func (b *builder) coverAbsent(p *page, sel *selection, w *written) error {
	var none []string
	for _, f := range plan.Families() {
		if !sel.hasFamily(f) {
			none = append(none, b.familyName(f))
		}
	}
	if none != nil {
		if err := p.span(1, 28, p.cell(prose, b.say("No records, because the plan has no such work:")+" "+strings.Join(none, ", "))); err != nil {
			return err
		}
	}
	if w.absent == nil {
		return nil
	}
	return p.span(1, 28, p.cell(prose, b.say("No records about goods in this period for:")+" "+strings.Join(w.absent, ", ")))
}
