package binder

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"grainward/audit"
	"grainward/records"
	"grainward/records/lots"
	"grainward/records/state"
)

// inventory balances each item and status over the period. What it should come to, and the residual, are formulas; beside the residual
// stands what the records themselves leave unexplained, and the two have to be the same.
func (b *builder) inventory(ctx context.Context, g *goods) (*table, error) {
	all := audit.Reconcile(g.open, g.end)
	if len(all) == 0 {
		return nil, nil
	}
	opening, received, made, used, sent, sampled := g.in(b.say("Opening")), g.in(b.say("Received")), g.in(b.say("Made")), g.in(b.say("Used")), g.in(b.say("Sent")), g.in(b.say("Sampled"))
	should, closing, residual, unexplained := g.in(b.say("Should be")), g.in(b.say("Closing")), g.in(b.say("Residual")), g.in(b.say("Unexplained by the records"))
	t, err := b.table(b.say("Inventory"), b.say("Inventory: opening and what came, less what went, against closing, at our own stations"), []column{
		{b.say("Entries"), 24, plain}, {b.say("Item"), 20, plain}, {b.say("Status"), 14, plain}, {opening, 13, mass}, {received, 13, mass}, {made, 13, mass}, {used, 13, mass},
		{sent, 13, mass}, {sampled, 11, mass}, {should, 13, mass}, {closing, 13, mass}, {residual, 12, mass}, {unexplained, 12, mass},
		{g.in(b.say("Of it found by counts")), 12, mass}, {b.say("Formula and program agree"), 10, center},
	})
	if err != nil {
		return nil, err
	}
	t.counted = closing
	p, moved := b.planAt(min(b.per.to, b.in.Report.At)), b.moved(g)
	for _, l := range all {
		t.text(b.citeSome(moved[lineKey{l.Item, l.Status}]))
		t.text(b.item(p, l.Item))
		t.text(b.status(l.Status))
		for _, m := range []records.Micrograms{l.Opening, l.Received, l.Made, l.Used, l.Sent, l.Sampled} {
			t.mass(g, m)
		}
		sum := l.Opening + l.Received + l.Made - l.Used - l.Sent - l.Sampled
		f := fmt.Sprintf("%s+%s+%s-%s-%s-%s", t.ref(opening), t.ref(received), t.ref(made), t.ref(used), t.ref(sent), t.ref(sampled))
		if err := t.formula(f, g.number(sum)); err != nil {
			return nil, err
		}
		t.mass(g, l.Closing)
		if err := t.formula("ROUND("+t.ref(closing)+"-"+t.ref(should)+",6)", rounded(g.number(l.Closing-sum))); err != nil {
			return nil, err
		}
		t.mass(g, l.Unexplained)
		t.mass(g, l.Counted)
		if err := t.formula(`IF(ABS(`+t.ref(residual)+"-"+t.ref(unexplained)+`)<0.00001,"`+b.say("yes")+`","`+b.say("no")+`")`, b.yesNo(l.Closing-sum == l.Unexplained)); err != nil {
			return nil, err
		}
		if err := t.end(ctx); err != nil {
			return nil, err
		}
	}
	return t, t.close(ctx)
}

// rounded is a difference of masses to a millionth of the unit: what is left below is of the reader's arithmetic.
func rounded(x float64) float64 { return math.Round(x*1e6)/1e6 + 0 }

type lineKey struct {
	item   records.ItemCode
	status records.Status
}

// moved are the entries of the period that changed what there is of an item and status.
func (b *builder) moved(g *goods) map[lineKey][]records.Position {
	out := map[lineKey][]records.Position{}
	add := func(lot int, r *state.Record) {
		if b.per.holds(r.Happened) {
			l := g.end.Lots[lot]
			out[lineKey{l.Item, l.Status}] = append(out[lineKey{l.Item, l.Status}], r.Position)
		}
	}
	for i := range g.end.Transfers {
		for _, p := range g.end.Transfers[i].Portions {
			add(p.Lot, g.end.Transfers[i].Record)
		}
	}
	for i := range g.end.Steps {
		for _, p := range g.end.Steps[i].In {
			add(p.Lot, g.end.Steps[i].Record)
		}
		for _, o := range g.end.Steps[i].Out {
			add(o.Lot, g.end.Steps[i].Record)
		}
	}
	for i, l := range g.end.Lots {
		for _, r := range l.Events {
			if r.Kind == records.KindSample {
				add(i, r)
			}
		}
	}
	for _, a := range g.end.Adjustments {
		add(a.Lot, a.Record)
	}
	for k := range out {
		slices.Sort(out[k])
		out[k] = slices.Compact(out[k])
	}
	return out
}

// citeSome names entries, or when they are many only says how many: each has a row of its own on the sheet of its kind.
func (b *builder) citeSome(all []records.Position) string {
	const many = 40
	if len(all) <= many {
		return b.cite(all...)
	}
	return fmt.Sprintf("%d %s: %s, %s, %s, %s, %s", len(all), b.say("entries"), b.say("Receipts"), b.say("Processes"), b.say("Handovers"), b.say("Counts"), b.say("Samples"))
}

// The lines of the organic balance.
const (
	organicOpening = iota
	organicIn
	organicOut
	organicClosing
	organicLines
)

func (b *builder) organicWord(line int) string {
	return [organicLines]string{b.say("stood here before the period"), b.say("received"), b.say("handed over"), b.say("stands here at the end of the period")}[line]
}

// organicRow is one mass of organic goods of the balance.
type organicRow struct {
	line     int
	r        *state.Record
	lot      string
	item     records.ItemCode
	status   records.Status
	where    lots.Place
	m        records.Micrograms
	written  string
	moisture *records.Decimal
}

// organic writes the in-out balance of organic goods that is required at an inspection (7 CFR 205.403(d)(4)): the balance, whose sums
// are formulas over the second sheet, and there every mass that is part of it.
func (b *builder) organic(ctx context.Context, g *goods) ([]*table, error) {
	rows := b.organicRows(g)
	if len(rows) == 0 {
		return nil, nil
	}
	slices.SortStableFunc(rows, func(x, y organicRow) int { return cmp.Compare(x.line, y.line) })
	massHead, moisture, dryHead, lineHead := g.in(b.say("Mass")), b.say("Moisture %"), g.in(b.say("Dry matter")), b.say("Line")
	t, err := b.table(b.say("Organic in and out"), b.say("Organic in and out: every mass of the organic balance"), []column{
		{b.say("Position"), 9, whole}, {lineHead, 21, plain}, {b.say("Done at"), 13, when}, {b.say("Lot"), 20, plain}, {b.say("Item"), 20, plain}, {b.say("Status"), 14, plain},
		{b.say("Partner or station"), 24, plain}, {massHead, 13, mass}, {b.say("As written"), 14, plain}, {moisture, 9, number}, {dryHead, 13, mass}, {b.say("Note"), 24, plain},
	})
	if err != nil {
		return nil, err
	}
	var sums [organicLines]records.Micrograms
	for _, x := range rows {
		p := b.planAt(x.r.Happened)
		b.entry(t, x.r)
		t.text(b.organicWord(x.line))
		t.when(x.r.Happened)
		t.text(x.lot)
		t.text(b.item(p, x.item))
		t.text(b.status(x.status))
		t.text(b.place(p, x.where))
		t.mass(g, x.m)
		t.text(x.written)
		dry, ok := lots.DryMatter(x.m, x.moisture)
		if ok {
			t.number(x.moisture.Float())
			if err := t.formula(fmt.Sprintf("%s*(100-%s)/100", t.ref(massHead), t.ref(moisture)), g.number(dry)); err != nil {
				return nil, err
			}
			sums[x.line] += dry
		} else {
			t.blank()
			t.blank()
			t.text(b.say("left out: no moisture was written down"))
		}
		if err := t.end(ctx); err != nil {
			return nil, err
		}
	}
	if err := t.close(ctx); err != nil {
		return nil, err
	}
	s, err := b.organicSums(ctx, g, t, sums, lineHead, dryHead)
	return []*table{t, s}, err
}

func (b *builder) organicRows(g *goods) (out []organicRow) {
	standing := func(line int, f *lots.Floor) {
		for _, l := range f.Lots {
			if !l.Status.IsOrganic() || l.Origin == nil {
				continue
			}
			for _, at := range sortedPlaces(l) {
				if m := l.At.Of(at); at.Holder == "" && at != lots.Samples && m > 0 {
					out = append(out, organicRow{line: line, r: l.Origin, lot: string(l.Code), item: l.Item, status: l.Status, where: at, m: m, moisture: lastMoisture(l)})
				}
			}
		}
	}
	standing(organicOpening, g.open)
	standing(organicClosing, g.end)
	for i := range g.end.Transfers {
		t := g.end.Transfers[i]
		if !b.per.holds(t.Record.Happened) {
			continue
		}
		x := organicRow{r: t.Record}
		var w records.Weight
		switch {
		case t.Receipt != nil && t.Receipt.Status.IsOrganic():
			f := t.Receipt
			x.line, x.lot, x.item, x.status, x.where, w = organicIn, string(f.Lot), f.Item, f.Status, t.From, f.Weight
		case t.Handover != nil && t.From.Holder == "" && t.Handover.Status.IsOrganic():
			f := t.Handover
			x.line, x.lot, x.status, x.where, w = organicOut, g.lotText(f.Lot, t.Portions, ""), f.Status, t.To, f.Weight
			if len(t.Portions) > 0 {
				l := g.end.Lots[t.Portions[0].Lot]
				x.item = l.Item
				if w.Moisture == nil {
					w.Moisture = lastMoisture(l)
				}
			}
		default:
			continue
		}
		x.m, _ = g.exact(w.Mass)
		x.written, x.moisture = w.Mass.String(), w.Moisture
		out = append(out, x)
	}
	return out
}

func sortedPlaces(l *lots.Lot) []lots.Place {
	out := make([]lots.Place, 0, len(l.At))
	for at := range l.At.All() {
		out = append(out, at)
	}
	slices.SortFunc(out, func(x, y lots.Place) int {
		return cmp.Or(strings.Compare(string(x.Holder), string(y.Holder)), strings.Compare(string(x.Station), string(y.Station)))
	})
	return out
}

// lastMoisture is the moisture last written down for a lot, as received or made: the one the audit's balance takes.
func lastMoisture(l *lots.Lot) *records.Decimal {
	for _, o := range slices.Backward(l.Outputs) {
		if o.Weight.Moisture != nil {
			return o.Weight.Moisture
		}
	}
	if l.Receipt != nil {
		return l.Receipt.Weight.Moisture
	}
	return nil
}

func (b *builder) organicSums(ctx context.Context, g *goods, rows *table, sums [organicLines]records.Micrograms, lineHead, dryHead string) (*table, error) {
	dry := g.in(b.say("Dry matter"))
	t, err := b.table(b.say("Organic balance"), b.say("Organic balance of the period, on dry matter (7 CFR 205.403(d)(4)): organic goods in against organic goods out"), []column{
		{b.say("What"), 60, plain}, {dry, 16, mass}, {g.in(b.say("The program says")), 16, mass}, {g.in(b.say("Difference")), 12, mass}, {b.say("What it shows"), 44, plain},
	})
	if err != nil {
		return nil, err
	}
	t.counted = dry
	st := b.in.Report.State
	before, after := audit.Organic(st, g.open), audit.Organic(st, g.end)
	says := [organicLines]records.Micrograms{before.Standing.Dry, after.In.Dry - before.In.Dry, after.Out.Dry - before.Out.Dry, after.Standing.Dry}
	u2 := [organicLines]float64{before.Standing.U2, after.In.U2 - before.In.U2, after.Out.U2 - before.Out.U2, after.Standing.U2}
	var at [organicLines + 2]string
	cell := func(i int) string { h := t.here(); at[i] = quote(h.sheet) + "!$B$" + itoa(h.row); return at[i] }
	compared := func(program float64, value float64) error {
		t.number(program)
		return t.formula("ROUND("+t.ref(dry)+"-"+t.ref(g.in(b.say("The program says")))+",6)", rounded(value-program))
	}
	for i := range organicLines {
		cell(i)
		t.text(b.organicWord(i))
		f := rows.sum(func(part int) string {
			return fmt.Sprintf("SUMIFS(%s,%s,%s)", rows.ranges(dryHead)[part], rows.ranges(lineHead)[part], criterion(b.organicWord(i)))
		})
		if err := t.formula(f, g.number(sums[i])); err != nil {
			return nil, err
		}
		if err := compared(g.number(says[i]), g.number(sums[i])); err != nil {
			return nil, err
		}
		if err := t.end(ctx); err != nil {
			return nil, err
		}
	}
	left := sums[organicOpening] + sums[organicIn] - sums[organicOut] - sums[organicClosing]
	leftSays := says[organicOpening] + says[organicIn] - says[organicOut] - says[organicClosing]
	rest := cell(organicLines)
	t.text(b.say("Left over: losses in processing, samples, and what went without an organic claim"))
	if err := t.formula(fmt.Sprintf("%s+%s-%s-%s", at[organicOpening], at[organicIn], at[organicOut], at[organicClosing]), g.number(left)); err != nil {
		return nil, err
	}
	if err := compared(g.number(leftSays), g.number(left)); err != nil {
		return nil, err
	}
	if err := t.end(ctx); err != nil {
		return nil, err
	}
	twice := 2 * math.Sqrt(math.Max(0, u2[organicOpening]+u2[organicIn]+u2[organicOut]+u2[organicClosing])) / g.per
	u := cell(organicLines + 1)
	t.text(b.say("Twice the uncertainty of scales and meters in all of these"))
	t.number(twice)
	t.blank()
	t.blank()
	good, bad := b.say("what came in can have made what went out"), b.say("MORE WENT OUT OR STANDS HERE THAN CAME IN")
	word := bad
	if g.number(left) >= -twice {
		word = good
	}
	if err := t.formula(fmt.Sprintf(`IF(%s>=-%s,"%s","%s")`, rest, u, good, bad), word); err != nil {
		return nil, err
	}
	if err := t.end(ctx); err != nil {
		return nil, err
	}
	if n := after.Unknown; n > 0 {
		t.text(fmt.Sprintf("%s %d", b.say("Weights since the first record that are left out for want of a moisture:"), n))
		if err := t.end(ctx); err != nil {
			return nil, err
		}
	}
	return t, t.close(ctx)
}
