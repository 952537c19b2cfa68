package binder

import (
	"context"
	"fmt"
	"math"
	"strings"

	"grainward/audit"
	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

// stepLines is where the lines of one process stand, so that its balance can add them up.
type stepLines struct {
	in, out, main, byProduct []spot
}

// processes writes what went into each process and came out, a row for each line, and the balance of each, a row for each process.
// A purge is one of them: clean grain in, diverted grain out.
func (b *builder) processes(ctx context.Context, g *goods, w *written) ([]*table, error) {
	var steps []int
	for i := range g.Steps {
		if b.per.holds(g.Steps[i].Record.Happened) {
			steps = append(steps, i)
		}
	}
	if steps == nil {
		return nil, nil
	}
	lines, at, err := b.processLines(ctx, g, steps)
	if err != nil {
		return nil, err
	}
	balances, err := b.processBalances(ctx, g, steps, lines, at, w)
	if err != nil {
		return nil, err
	}
	whole, err := one(b.wholeYields(ctx, g))
	return append([]*table{lines, balances}, whole...), err
}

// wholeYields is the dry matter of each finished lot that began in the period against the grain behind it.
func (b *builder) wholeYields(ctx context.Context, g *goods) (*table, error) {
	var all []*audit.WholeBalance
	for _, x := range g.Balance.Whole() {
		if b.per.holds(g.Lots[x.Lot].Begins) {
			all = append(all, &x)
		}
	}
	if all == nil {
		return nil, nil
	}
	grain, dry, entered := g.in(b.say("Dry grain behind it")), g.in(b.say("Dry matter")), g.in(b.say("Mass"))
	t, err := b.table(b.say("Whole yield"), b.say("Whole yield: dry matter of each finished lot against the share of grain behind it; by-products carry their own share"), []column{
		{b.say("Position"), 9, whole}, {b.say("Lot"), 20, plain}, {b.say("Item"), 26, plain}, {entered, 14, mass}, {grain, 14, mass}, {dry, 14, mass}, {b.say("Dry loss"), 10, share},
		{b.say("Loss expected"), 16, plain}, {g.in(b.say("Uncertainty of the difference")), 14, mass}, {b.say("The program says"), 14, plain},
	})
	if err != nil {
		return nil, err
	}
	for _, x := range all {
		l := g.Lots[x.Lot]
		b.entry(t, l.Origin) // a lot that was only mentioned has no balance
		t.text(string(l.Code))
		t.text(b.item(b.planAt(l.Begins), l.Item))
		t.mass(g, l.Entered)
		t.number(x.Raw / g.per)
		t.mass(g, x.Dry)
		if err := t.formula("1-"+t.ref(dry)+"/"+t.ref(grain), 1-g.number(x.Dry)/(x.Raw/g.per)); err != nil {
			return nil, err
		}
		t.text(b.rangeText(x.Band, "%"))
		t.number(x.U / g.per)
		t.text(b.verdict(x.Verdict))
		if err := t.end(ctx); err != nil {
			return nil, err
		}
	}
	return t, t.close(ctx)
}

// line is one input or output.
type line struct {
	weight records.Weight
	lot    string
	item   records.ItemCode
	status records.Status
	where  records.StationCode
	output *records.Output // nil for an input
}

func stepLinesOf(g *goods, step *lots.Step) (out []line) {
	input := func(named records.LotCode, from records.StationCode, w records.Weight) {
		l := line{weight: w, lot: g.lotText(named, step.In, from), where: from}
		for _, p := range step.In {
			if x := g.Lots[p.Lot]; p.From.Station == from && (x.Code == named || named == "" || l.item == "") {
				l.item, l.status = x.Item, x.Status
			}
		}
		if x := g.Find(named); x != nil {
			l.item, l.status = x.Item, x.Status
		}
		out = append(out, l)
	}
	output := func(o *records.Output) {
		out = append(out, line{weight: o.Weight, lot: string(o.Lot), item: o.Item, status: o.Status, where: o.To, output: o})
	}
	switch f := step.Record.Fact.(type) {
	case *records.Process:
		for _, in := range f.Inputs {
			input(in.Lot, in.From, in.Weight)
		}
		for i := range f.Outputs {
			output(&f.Outputs[i])
		}
	case *records.Purge:
		input(f.Lot, f.From, f.Weight)
		output(&f.Became)
	}
	return out
}

func (b *builder) processLines(ctx context.Context, g *goods, steps []int) (*table, map[int]*stepLines, error) {
	massHead, moisture, net, counted := g.in(b.say("Mass")), b.say("Moisture %"), g.in(b.say("Net each")), g.in(b.say("Bags × net"))
	t, err := b.table(b.say("Processes"), b.say("Processes: what went in and what came out, line by line"), []column{
		{b.say("Position"), 9, whole}, {b.say("Done at"), 12, when}, {b.say("Process"), 13, plain}, {b.say("Line"), 9, plain}, {b.say("Lot"), 20, plain},
		{b.say("Item"), 14, plain}, {b.say("Status"), 10, plain}, {b.say("Left / put into"), 14, plain},
		{massHead, 11, mass}, {b.say("As written"), 12, plain}, {moisture, 8.5, number}, {g.in(b.say("Dry matter")), 11, mass}, {b.say("Scale and meter"), 14, plain},
		{b.say("Bags"), 7, whole}, {net, 9, mass}, {counted, 11, mass}, {b.say("Difference"), 9, mass}, {b.say("The program says"), 8.5, plain},
		{b.say("Kiln date"), 9.5, day}, {b.say("Best by"), 9.5, day}, {b.say("Container or disposal"), 15, plain},
	})
	if err != nil {
		return nil, nil, err
	}
	bags := map[*records.Output]*audit.BagBalance{}
	for _, x := range g.Balance.Bags() {
		bags[x.Output] = &x
	}
	at := map[int]*stepLines{}
	for _, i := range steps {
		step := g.Steps[i]
		p := b.planAt(step.Record.Happened)
		where := &stepLines{}
		at[i] = where
		for _, l := range stepLinesOf(g, step) {
			word := b.say("in")
			if l.output != nil {
				word = b.say("out")
				if item := p.Item(l.item); item != nil && item.Stage == "by-product" {
					word = b.say("by-product")
					where.byProduct = append(where.byProduct, t.here())
				} else {
					where.main = append(where.main, t.here())
				}
				where.out = append(where.out, t.here())
			} else {
				where.in = append(where.in, t.here())
			}
			b.entry(t, step.Record)
			t.when(step.Record.Happened)
			t.text(b.process(step.What))
			t.text(word)
			t.text(l.lot)
			t.text(b.item(p, l.item))
			t.text(b.status(l.status))
			t.text(b.names.at(p, l.where))
			if err := t.weight(g, l.weight, massHead, moisture); err != nil {
				return nil, nil, err
			}
			t.text(b.instruments(p, l.weight))
			if err := b.bagged(t, g, l.output, bags[l.output], massHead, net, counted); err != nil {
				return nil, nil, err
			}
			if err := t.end(ctx); err != nil {
				return nil, nil, err
			}
		}
	}
	return t, at, t.close(ctx)
}

// bagged fills in what only outputs have: bags against the mass, dates and the container.
func (b *builder) bagged(t *table, g *goods, o *records.Output, bal *audit.BagBalance, massHead, net, counted string) error {
	if o == nil {
		return nil
	}
	if o.Bags > 0 {
		t.whole(int64(o.Bags))
	} else {
		t.blank()
	}
	each, ok := records.Micrograms(0), false
	if o.BagNet != nil {
		each, ok = g.exact(*o.BagNet)
	}
	if ok {
		t.mass(g, each)
	} else {
		t.blank()
	}
	if bal != nil && ok {
		sum := g.number(bal.Counted)
		if err := t.formula(t.ref(b.say("Bags"))+"*"+t.ref(net), sum); err != nil {
			return err
		}
		if err := t.formula(t.ref(massHead)+"-"+t.ref(counted), g.number(bal.Differs)); err != nil {
			return err
		}
		t.text(b.verdict(bal.Verdict))
	} else {
		t.blank()
		t.blank()
		t.blank()
	}
	t.day(o.KilnDate)
	t.day(o.BestBy)
	switch {
	case o.Disposal != "":
		t.text(strings.TrimSpace(o.Container + "\n" + b.say("waste") + ": " + o.Disposal))
	default:
		t.text(o.Container)
	}
	return nil
}

func (b *builder) process(name string) string {
	if name == "purge" {
		return b.say("purge")
	}
	return name
}

func (b *builder) instruments(p *plan.Plan, w records.Weight) string {
	var out []string
	for _, code := range []records.InstrumentCode{w.Scale, w.Meter} {
		if in := p.Instrument(code); in != nil {
			out = append(out, in.Title.In(b.lang))
		} else if code != "" {
			out = append(out, string(code))
		}
	}
	return strings.Join(out, "\n")
}

func (b *builder) verdict(v audit.Verdict) string {
	return b.say(map[audit.Verdict]string{audit.Within: "within", audit.Below: "below", audit.Above: "above", audit.Unknown: "not known"}[v])
}

func (b *builder) processBalances(ctx context.Context, g *goods, steps []int, lines *table, at map[int]*stepLines, w *written) (*table, error) {
	dryHead, massHead := g.in(b.say("Dry matter")), g.in(b.say("Mass"))
	c := balanceHeads{in: g.in(b.say("Dry in")), out: g.in(b.say("Dry out")), lo: b.say("Loss at least %"), hi: b.say("Loss at most %"),
		uIn: g.in(b.say("Uncertainty in")), uOut: g.in(b.say("Uncertainty out")), by: g.in(b.say("By-product")), main: g.in(b.say("Product"))}
	t, err := b.table(b.say("Process balance"), b.say("Process balance: dry matter in against dry matter out; a difference counts when it is more than twice its uncertainty"), []column{
		{b.say("Position"), 9, whole}, {b.say("Kind"), 9, plain}, {b.say("Process"), 13, plain}, {b.say("Station"), 13, plain}, {b.say("Began at"), 12, when},
		{g.in(b.say("Mass in")), 11, mass}, {g.in(b.say("Mass out")), 11, mass}, {c.in, 11, mass}, {c.out, 11, mass}, {b.say("Dry loss"), 7.5, share},
		{c.lo, 7.5, number}, {c.hi, 7.5, number}, {c.uIn, 9, mass}, {c.uOut, 9, mass}, {b.say("In band"), 8.5, center}, {b.say("The program says"), 9.5, plain},
		{c.main, 11, mass}, {c.by, 11, mass}, {b.say("By-product of product"), 8.5, share}, {b.say("By-product expected"), 9, plain}, {b.say("By-product: the program says"), 9.5, plain},
		{b.say("Note"), 15, plain}, {b.say("Person"), 12, plain}, {b.say("Done at"), 12, when}, {b.say("Written down at"), 12, when}, {b.say("Corrected by"), 9.5, plain},
	})
	if err != nil {
		return nil, err
	}
	balances := map[int]*audit.StepBalance{}
	for _, x := range g.Balance.Steps() {
		balances[x.Step] = &x
	}
	counts := map[records.Kind]int{}
	for _, i := range steps {
		r, bal, where := g.Steps[i].Record, balances[i], at[i]
		p := b.planAt(r.Happened)
		counts[r.Kind]++
		b.entry(t, r)
		t.text(audit.KindWord(r.Kind, b.lang))
		t.text(b.process(g.Steps[i].What))
		note := b.stepPlace(t, p, r)
		if bal == nil { // no plan was in force: nothing to hold it against
			for t.n < len(t.cols)-5 {
				t.blank()
			}
		} else if err := b.balanceRow(t, g, lines, where, bal, c, massHead, dryHead); err != nil {
			return nil, err
		}
		t.text(note)
		b.signed(t, r)
		if err := t.end(ctx); err != nil {
			return nil, err
		}
	}
	for _, k := range []records.Kind{records.KindProcess, records.KindPurge} {
		w.evidence = append(w.evidence, evidence{kind: k, table: t, n: counts[k], only: []string{b.say("Kind"), criterion(audit.KindWord(k, b.lang))}})
	}
	return t, t.close(ctx)
}

// stepPlace puts station and beginning, and gives the note.
func (b *builder) stepPlace(t *table, p *plan.Plan, r *state.Record) string {
	switch f := r.Fact.(type) {
	case *records.Process:
		t.text(b.into(p, f.Station, f.Via))
		t.when(f.Started)
		return f.Note
	case *records.Purge:
		t.text(b.stationList(p, f.Stations))
		t.blank()
		return f.Note
	}
	t.blank()
	t.blank()
	return ""
}

// balanceHeads are the headings that formulas of the balance look under.
type balanceHeads struct{ in, out, lo, hi, uIn, uOut, by, main string }

func (b *builder) balanceRow(t *table, g *goods, lines *table, at *stepLines, bal *audit.StepBalance, c balanceHeads, massHead, dryHead string) error {
	sum := func(head string, at []spot, v records.Micrograms) error {
		return t.formula(lines.sumAt(head, at), g.number(v))
	}
	for _, s := range []struct {
		head string
		at   []spot
		v    records.Micrograms
	}{{massHead, at.in, bal.In.Mass}, {massHead, at.out, bal.Out.Mass}, {dryHead, at.in, bal.In.Dry}, {dryHead, at.out, bal.Out.Dry}} {
		if err := sum(s.head, s.at, s.v); err != nil {
			return err
		}
	}
	known := !math.IsNaN(bal.Loss)
	if known {
		if err := t.formula("1-"+t.ref(c.out)+"/"+t.ref(c.in), bal.Loss); err != nil {
			return err
		}
	} else {
		t.text(b.say("not known"))
	}
	t.limit(bal.Band.Min)
	t.limit(bal.Band.Max)
	t.number(math.Sqrt(bal.In.U2) / g.per)
	t.number(math.Sqrt(bal.Out.U2) / g.per)
	if known && (bal.Band.Min != nil || bal.Band.Max != nil) {
		f, v := b.bandFormula(t, g, bal, c)
		if err := t.formula(f, v); err != nil {
			return err
		}
	} else {
		t.blank()
	}
	t.text(b.verdict(bal.Verdict))
	if err := sum(massHead, at.main, bal.Main); err != nil {
		return err
	}
	if err := sum(massHead, at.byProduct, bal.ByProduct); err != nil {
		return err
	}
	if bal.Main > 0 && bal.ByProduct > 0 {
		if err := t.formula(t.ref(c.by)+"/"+t.ref(c.main), float64(bal.ByProduct)/float64(bal.Main)); err != nil {
			return err
		}
	} else {
		t.blank()
	}
	t.text(b.rangeText(bal.ByProductBand, "%"))
	if bal.ByProductBand.Min == nil && bal.ByProductBand.Max == nil {
		t.blank()
	} else {
		t.text(b.verdict(bal.ByProductSays))
	}
	return nil
}

// bandFormula works the verdict out again from the cells of the row: at an edge of the band the difference between (1 - edge) times
// what went in and what came out has to be more than twice its standard uncertainty.
func (b *builder) bandFormula(t *table, g *goods, bal *audit.StepBalance, c balanceHeads) (string, string) {
	in, out := g.number(bal.In.Dry), g.number(bal.Out.Dry)
	uIn, uOut := math.Sqrt(bal.In.U2)/g.per, math.Sqrt(bal.Out.U2)/g.per
	f, word := `"`+b.say("within")+`"`, b.say("within")
	edge := func(d *records.Decimal, head string, sign float64, says string) {
		if d == nil {
			return
		}
		k := "(1-" + t.ref(head) + "/100)"
		diff := k + "*" + t.ref(c.in) + "-" + t.ref(c.out)
		if sign < 0 {
			diff = "-(" + diff + ")"
		}
		f = fmt.Sprintf(`IF(%s>2*SQRT((%s*%s)^2+%s^2),"%s",%s)`, diff, k, t.ref(c.uIn), t.ref(c.uOut), says, f)
		x := 1 - d.Float()/100
		if sign*(x*in-out) > 2*math.Sqrt(x*uIn*x*uIn+uOut*uOut) {
			word = says
		}
	}
	edge(bal.Band.Min, c.lo, -1, b.say("below"))
	edge(bal.Band.Max, c.hi, 1, b.say("above"))
	return f, word
}

func (t *table) limit(d *records.Decimal) {
	if d == nil {
		t.blank()
		return
	}
	t.number(d.Float())
}

// rangeText is a band in words.
func (b *builder) rangeText(r plan.Range, unit string) string {
	s := ""
	switch {
	case r.Min != nil && r.Max != nil:
		s = r.Min.String() + " – " + r.Max.String()
	case r.Min != nil:
		s = b.say("at least") + " " + r.Min.String()
	case r.Max != nil:
		s = b.say("at most") + " " + r.Max.String()
	default:
		return ""
	}
	return strings.TrimSpace(s + " " + unit)
}
