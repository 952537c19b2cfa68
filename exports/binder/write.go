package binder

import (
	"context"
	"fmt"
	"io"
	"slices"

	"grainward/audit"
	"grainward/records"
	"grainward/records/plan"
)

// written is the sheets that the cover and the index count.
type written struct {
	families []*familySheet
	readings *readingsSheet
	findings *findingsSheet
	evidence []evidence
	goods    []*table                // the sheets about lots
	absent   []string                // those of them that have no rows
	others   []*table                // in the order of the workbook, for the cover's list
	touches  map[string]map[int]bool // by family, the lines of the index it has rows for
	leaves   *table
}

// Write makes a binder. progress, which may be nil, is told now and then how many steps of how many are done.
//
// A period without records and without due work, and dates the wrong way round, are *records.Error of kind Invalid.
func Write(ctx context.Context, w io.Writer, in Input, progress func(done, all int)) error {
	_, err := write(ctx, w, in, progress)
	return err
}

// write is Write, and gives the positions the binder speaks of.
func write(ctx context.Context, w io.Writer, in Input, progress func(done, all int)) (positions, error) {
	return writeAs(ctx, w, in, progress, nil)
}

// writeAs also lets a test change the builder before it begins.
func writeAs(ctx context.Context, w io.Writer, in Input, progress func(done, all int), change func(*builder)) (cited positions, err error) {
	per, err := in.check()
	if err != nil {
		return nil, err
	}
	sel, err := choose(&in, &per)
	if err != nil {
		return nil, err
	}
	b, err := newBuilder(in, per, progress)
	if err != nil {
		return nil, err
	}
	if change != nil {
		change(b)
	}
	defer func() {
		if e := b.close(); err == nil && e != nil {
			err = fmt.Errorf("clearing up after the binder: %w", e)
		}
	}()
	b.names.clauses = newClauseIndex(per.plan.Profile.Clauses, citations(sel))
	b.cited = slices.Clone(sel.happened)
	for _, refs := range sel.families {
		b.all += 2 * len(refs)
	}
	b.all += sel.happened.len()
	b.all++ // putting it together
	if err := b.sheets(ctx, sel); err != nil {
		return nil, err
	}
	return b.cited, b.pack(ctx, w)
}

// citations are all clauses that rows may name.
func citations(sel *selection) (out []records.Clause) {
	for _, in := range sel.plans {
		for i := range in.Plan.Tasks {
			out = append(out, in.Plan.Tasks[i].Clauses...)
		}
	}
	for _, f := range sel.findings {
		out = append(out, f.Clauses...)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// sheets writes the workbook. The cover and the index come first in it and are written last.
func (b *builder) sheets(ctx context.Context, sel *selection) error {
	w := &written{touches: map[string]map[int]bool{}}
	floors := make(chan *goods, 1)
	go func() { floors <- b.newGoods() }() // beside the sheets about tasks: it folds five years
	cover, err := b.sheet(b.say("Cover"), coverColumns, 0)
	if err != nil {
		return err
	}
	index, err := b.table(b.say("Clauses"), b.say("Index by clause: which records are evidence for it, and what is missing"), b.clauseColumns())
	if err != nil {
		return err
	}
	for _, family := range append(plan.Families(), "") {
		if !sel.hasFamily(family) {
			continue
		}
		b.names.clauses.seen = map[int]bool{}
		s, err := b.family(ctx, family, sel.families[family])
		if err != nil {
			return err
		}
		w.families = append(w.families, s)
		w.touches[family] = b.names.clauses.seen
	}
	if w.readings, err = b.readings(ctx, sel); err != nil {
		return err
	}
	if err := b.goodsSheets(ctx, <-floors, w); err != nil {
		return err
	}
	if w.findings, err = b.findings(ctx, sel); err != nil {
		return err
	}
	for _, next := range []struct {
		kind  records.Kind
		write func() (*table, error)
	}{
		{records.KindAnswer, func() (*table, error) { return b.answers(ctx, sel) }},
		{records.KindDeviation, func() (*table, error) { return b.deviations(ctx) }},
		{records.KindCorrect, func() (*table, error) { return b.corrections(ctx, sel) }},
		{"", func() (*table, error) { return b.reviewDays(ctx) }},
		{records.KindReview, func() (*table, error) { return b.reviews(ctx) }},
		{records.KindExcuse, func() (*table, error) { return b.excuses(ctx) }},
		{records.KindDocument, func() (*table, error) { return b.documents(ctx) }},
		{"", func() (*table, error) { return b.people(ctx, sel, w.families) }},
		{records.KindPlan, func() (*table, error) { return b.plans(ctx, sel) }},
		{"", func() (*table, error) { return b.planText(ctx, sel) }},
	} {
		t, err := next.write()
		if err != nil {
			return err
		}
		w.others = append(w.others, t)
		if next.kind != "" {
			w.evidence = append(w.evidence, evidence{kind: next.kind, table: t, n: t.entries})
		}
	}
	if err := b.proof(ctx); err != nil {
		return err
	}
	if w.leaves, err = b.leaves(ctx); err != nil {
		return err
	}
	if err := b.clauseTable(ctx, index, w); err != nil {
		return err
	}
	return b.cover(ctx, cover, sel, w)
}

// familyName is the name of a family's sheet.
func (b *builder) familyName(family string) string {
	if family == "" {
		return b.say("Other work")
	}
	return b.say(map[string]string{
		plan.Sanitation: "Sanitation", plan.Footwear: "Footwear", plan.Floor: "Floor cleaning", plan.CleanOut: "Clean-out", plan.Turning: "Turning",
		plan.Monitoring: "Monitoring", plan.Pest: "Pests", plan.Water: "Water", plan.Calibration: "Calibration", plan.TrainingLog: "Training", plan.WalkRound: "Walk-round",
	}[family])
}

// results are the words for what became of a window, in the cover's order.
func results() []string {
	return []string{string(audit.Done), string(audit.Late), string(audit.PutRight), string(audit.Failed), string(audit.Missed), string(audit.Overdue), string(audit.Open),
		string(audit.Excused), "earlier try", "as needed", "unplanned"}
}
