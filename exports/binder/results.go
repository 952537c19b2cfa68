package binder

import (
	"context"
	"strings"

	"grainward/audit"
	"grainward/records"
	"grainward/records/plan"
)

// resultRows has a row for each value of each laboratory or bench result, held against the plan's limits twice, with the typical value
// that stood in its place before.
func (b *builder) resultRows(ctx context.Context, g *goods, w *written) (*table, error) {
	all := b.inPeriod(records.KindResult)
	if len(all) == 0 {
		return nil, nil
	}
	heads := limitHeads{b.say("Measured"), b.say("Low limit"), b.say("High limit")}
	t, err := b.table(b.say("Results"), b.say("Results: what was measured in a lot, beside the typical value, against the plan's limits"), []column{
		{b.say("Position"), 11, whole}, {b.say("Lot"), 15, plain}, {b.say("Item"), 15, plain}, {b.say("Value"), 17, plain}, {heads.value, 9, number}, {b.say("Unit"), 8, plain}, {b.say("Typical"), 8, number},
		{heads.lo, 8, number}, {heads.hi, 8, number}, {b.say("In limits"), 8, center}, {b.say("The program says"), 10, plain}, {b.say("Laboratory"), 18, plain}, {b.say("Method"), 16, plain}, {b.say("Document"), 18, plain},
		{b.say("Note"), 18, plain}, {b.say("Person"), 14, plain}, {b.say("Done at"), 12, when}, {b.say("Written down at"), 12, when}, {b.say("Corrected by"), 9.5, plain},
	})
	if err != nil {
		return nil, err
	}
	for _, r := range all {
		f := r.Fact.(*records.Result)
		p, l := b.planAt(r.Happened), g.Find(f.Lot)
		var item *plan.Item
		name := ""
		if l != nil {
			item, name = p.Item(l.Item), b.item(p, l.Item)
		}
		for k, v := range f.Values {
			if k == 0 {
				b.entry(t, r)
			} else {
				t.same(r)
			}
			t.text(string(f.Lot))
			t.text(name)
			t.text(v.Name)
			t.number(v.Value.Value.Float())
			t.text(v.Value.Unit)
			if err := b.heldAgainst(t, typicalOf(item, v.Name), v.Value, heads); err != nil {
				return nil, err
			}
			if f.Laboratory == "" {
				t.text(b.say("our own bench"))
			} else {
				t.text(b.partner(p, f.Laboratory))
			}
			t.text(f.Method)
			t.text(b.document(p, f.Document))
			t.text(f.Note)
			if k == 0 {
				b.signed(t, r)
			}
			if err := t.end(ctx); err != nil {
				return nil, err
			}
		}
	}
	w.evidence = append(w.evidence, evidence{kind: records.KindResult, table: t, n: t.entries})
	return t, t.close(ctx)
}

type limitHeads struct{ value, lo, hi string }

// typicalOf is the plan's line for a value of an item, or nil. Two spellings of a name are one when only case and spaces differ.
func typicalOf(item *plan.Item, name string) *plan.Typical {
	if item == nil {
		return nil
	}
	key := func(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), " ")) }
	for i := range item.Certificate {
		if key(item.Certificate[i].Name) == key(name) {
			return &item.Certificate[i]
		}
	}
	return nil
}

// heldAgainst puts typical value and limits, the verdict as a formula over them, and that of exact arithmetic.
func (b *builder) heldAgainst(t *table, row *plan.Typical, v records.Quantity, heads limitHeads) error {
	switch {
	case row == nil:
		for range 4 {
			t.blank()
		}
		t.text(b.say("no limit"))
		return nil
	case row.Unit != v.Unit:
		t.limit(row.Typical)
		t.limit(row.Limits.Min)
		t.limit(row.Limits.Max)
		t.blank()
		t.text(b.say("other unit"))
		return nil
	}
	t.limit(row.Typical)
	t.limit(row.Limits.Min)
	t.limit(row.Limits.Max)
	return b.inLimits(t, row.Limits, v.Value, heads)
}

// inLimits puts the verdict of a value twice: as a formula over the row's cells, and in words by exact arithmetic.
func (b *builder) inLimits(t *table, limits plan.Range, v records.Decimal, heads limitHeads) error {
	if limits.Min == nil && limits.Max == nil {
		t.blank()
		t.text(b.say("no limit"))
		return nil
	}
	var terms []string
	in := true
	if limits.Min != nil {
		terms = append(terms, t.ref(heads.value)+">="+t.ref(heads.lo))
		in = in && v.Float() >= limits.Min.Float()
	}
	if limits.Max != nil {
		terms = append(terms, t.ref(heads.value)+"<="+t.ref(heads.hi))
		in = in && v.Float() <= limits.Max.Float()
	}
	if err := t.formula(`IF(AND(`+strings.Join(terms, ",")+`),"`+b.say("yes")+`","`+b.say("no")+`")`, b.yesNo(in)); err != nil {
		return err
	}
	word := b.say("outside")
	if limits.Holds(v) {
		word = b.say("within")
	}
	t.text(word)
	return nil
}

func (b *builder) document(p *plan.Plan, code records.DocumentCode) string {
	if d := p.Document(code); d != nil {
		return d.Title
	}
	return string(code)
}

// certificates is what the certificate of each lot made or handed over in the period says at the moment of the binder: typical values
// until the lot's own were measured.
func (b *builder) certificates(ctx context.Context, g *goods) (*table, error) {
	type lotLines struct {
		lot   int
		lines []audit.CertLine
	}
	out := map[int]bool{}
	for i := range g.Transfers {
		if x := g.Transfers[i]; x.Handover != nil && b.per.holds(x.Record.Happened) {
			for _, portion := range x.Portions {
				out[portion.Lot] = true
			}
		}
	}
	var all []lotLines
	for i, l := range g.Lots {
		item := b.planAt(l.Begins).Item(l.Item)
		if item == nil || item.Stage != "finished" || l.Origin == nil || !out[i] && (!b.per.holds(l.Begins) || l.Standing() == 0) { // a stage on the way to another lot has none
			continue
		}
		if lines := audit.Certificate(nil, g.Floor, b.in.Report.State, l.Code); len(lines) > 0 {
			all = append(all, lotLines{i, lines})
		}
	}
	if all == nil {
		return nil, nil
	}
	heads := limitHeads{b.say("On the certificate"), b.say("Low limit"), b.say("High limit")}
	t, err := b.table(b.say("Certificates"), b.say("Certificates: what each lot's says now; typical values stand until the lot's own are measured"), []column{
		{b.say("Position"), 9, whole}, {b.say("Lot"), 18, plain}, {b.say("Item"), 24, plain}, {b.say("Value"), 24, plain}, {heads.value, 12, number}, {b.say("Unit"), 9, plain},
		{b.say("Typical or measured"), 14, plain}, {heads.lo, 9, number}, {heads.hi, 9, number}, {b.say("In limits"), 9, center}, {b.say("The program says"), 12, plain}, {b.say("Measured in entry"), 12, plain},
	})
	if err != nil {
		return nil, err
	}
	for _, x := range all {
		l := g.Lots[x.lot]
		for _, c := range x.lines {
			b.entry(t, l.Origin)
			t.text(string(l.Code))
			t.text(b.item(b.planAt(l.Begins), l.Item))
			t.text(c.Name)
			t.limit(c.Value)
			t.text(c.Unit)
			t.text(b.say(map[audit.CertKind]string{audit.TypicalValue: "typical", audit.MeasuredValue: "measured", audit.NoValue: "none yet"}[c.Kind]))
			t.limit(c.Limits.Min)
			t.limit(c.Limits.Max)
			if c.Kind == audit.MeasuredValue && c.Value != nil {
				if err := b.inLimits(t, c.Limits, *c.Value, heads); err != nil {
					return nil, err
				}
			} else {
				t.blank()
				t.blank()
			}
			t.cite(c.Source)
			if err := t.end(ctx); err != nil {
				return nil, err
			}
		}
	}
	return t, t.close(ctx)
}
