package binder

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"

	"grainward/audit/trace"
	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
)

// drawn is one lot drawn for a worked trace, and from which it was.
type drawn struct {
	item       records.ItemCode
	lot        records.LotCode
	of         []records.LotCode
	sum        [sha256.Size]byte
	handedOver bool // drawn from those that left in the period
}

// seedBytes is how many of the tree head's first bytes are the seed of the draw.
const seedBytes = 8

// draw picks one organic lot of each item of the period: the one for which SHA-256 over the seed in hexadecimal, a space and the lot's
// code is smallest. The seed is the beginning of the tree head, which nobody can choose without changing the journal; anybody can repeat
// the draw. Where lots of the item were sold or sent to storage in the period it is drawn from these.
func (b *builder) draw(g *goods) (seed string, out []drawn) {
	seed = hex.EncodeToString(b.in.Stamp.Root[:seedBytes])
	sold := map[int]bool{}
	for i := range g.Transfers {
		x := g.Transfers[i]
		if x.Handover == nil || !b.per.holds(x.Record.Happened) || x.Handover.Use != records.Sale && x.Handover.Use != records.Storage {
			continue
		}
		for _, p := range x.Portions {
			sold[p.Lot] = true
		}
	}
	all, left := map[records.ItemCode][]records.LotCode{}, map[records.ItemCode][]records.LotCode{}
	for i, l := range g.Lots {
		if !l.Status.IsOrganic() || l.Origin == nil || !b.touched(g, l) {
			continue
		}
		all[l.Item] = append(all[l.Item], l.Code)
		if sold[i] {
			left[l.Item] = append(left[l.Item], l.Code)
		}
	}
	for item, of := range all {
		d := drawn{item: item, of: of}
		if left[item] != nil {
			d.of, d.handedOver = left[item], true
		}
		slices.Sort(d.of)
		for i, code := range d.of {
			sum := sha256.Sum256([]byte(seed + " " + string(code)))
			if i == 0 || bytes.Compare(sum[:], d.sum[:]) < 0 {
				d.lot, d.sum = code, sum
			}
		}
		out = append(out, d)
	}
	slices.SortFunc(out, func(x, y drawn) int { return cmp.Compare(x.item, y.item) })
	return seed, out
}

// worked is the sheet of worked traces while one trace is written.
type worked struct {
	*table
	b      *builder
	g      *goods
	p      *plan.Plan
	t      *trace.Trace
	of     string // what is traced, as each row has it
	origin records.Position
}

// workedTraces follows one drawn lot of each organic item both ways, as an auditor's trace-back sample.
func (b *builder) workedTraces(ctx context.Context, g *goods) (*table, error) {
	seed, draws := b.draw(g)
	if len(draws) == 0 {
		return nil, nil
	}
	t, err := b.table(b.say("Worked traces"), b.say("Worked traces: one lot of each organic item of the period, drawn by the tree head, followed both ways"), []column{
		{b.say("Position"), 9, whole}, {b.say("Trace of"), 17, plain}, {b.say("Line"), 15, plain}, {b.say("Lot"), 15, plain}, {b.say("Item"), 16, plain}, {b.say("Status"), 11, plain}, {b.say("At"), 12, when},
		{b.say("From whom or where"), 18, plain}, {b.say("To whom or where"), 20, plain}, {g.in(b.say("Mass")), 12, mass}, {b.say("Share"), 8, share}, {b.say("Estimate"), 8, plain}, {b.say("What the records show"), 52, plain},
	})
	if err != nil {
		return nil, err
	}
	graph := trace.Build(g.Floor)
	for _, d := range draws {
		s, err := trace.ParseSubject("lot:"+string(d.lot), b.per.zone)
		if err != nil {
			return nil, fmt.Errorf("worked trace of lot %s: %w", d.lot, err)
		}
		tr, err := trace.Make(b.in.Report.State, g.Floor, graph, s, trace.Both)
		if err != nil {
			return nil, fmt.Errorf("worked trace of lot %s: %w", d.lot, err)
		}
		p := b.planAt(b.in.Report.At)
		w := &worked{t, b, g, p, tr, b.item(p, d.item) + "\n" + string(d.lot), g.Find(d.lot).Origin.Position}
		for _, part := range []func(context.Context) error{func(ctx context.Context) error { return w.draw(ctx, seed, &d) }, w.lots, w.steps, w.movements, w.papers, w.touches, w.account} {
			if err := part(ctx); err != nil {
				return nil, err
			}
		}
	}
	return t, t.close(ctx)
}

// row is one line of a trace; what is not given stays empty.
type row struct {
	line      string
	lot       records.LotCode
	at        records.Instant
	from, to  string
	mass      *records.Micrograms
	share     *float64
	estimated bool
	says      []string
}

func (w *worked) row(ctx context.Context, pos records.Position, r row) error {
	w.begin(pos, r)
	if r.mass != nil {
		w.table.mass(w.g, *r.mass)
	} else {
		w.blank()
	}
	if r.share != nil {
		w.number(*r.share)
	} else {
		w.blank()
	}
	return w.finish(ctx, r)
}

// begin fills the cells before the numbers, finish those after them.
func (w *worked) begin(pos records.Position, r row) {
	w.whole(int64(pos))
	w.b.cited.add(pos)
	w.text(w.of)
	w.text(r.line)
	w.text(string(r.lot))
	if l := w.t.Lot(r.lot); l != nil {
		w.text(w.b.item(w.p, l.Item))
		w.text(w.b.status(l.Status))
	} else {
		w.blank()
		w.blank()
	}
	w.when(r.at)
	w.text(r.from)
	w.text(r.to)
}

func (w *worked) finish(ctx context.Context, r row) error {
	if r.estimated {
		w.text(w.b.say("estimate"))
	} else {
		w.blank()
	}
	w.text(strings.Join(slices.DeleteFunc(r.says, func(s string) bool { return s == "" }), "\n"))
	return w.end(ctx)
}

func (w *worked) draw(ctx context.Context, seed string, d *drawn) error {
	b := w.b
	from := b.say("from all organic lots of the item in the period")
	if d.handedOver {
		from = b.say("from the organic lots of the item that were sold or sent to storage in the period")
	}
	return w.row(ctx, w.origin, row{line: b.say("draw"), lot: d.lot, says: []string{
		fmt.Sprintf("%s %d %s: %s", b.say("Drawn, one of"), len(d.of), from, joined(d.of)),
		fmt.Sprintf("%s: %s", b.say("Seed, the first 8 bytes of the tree head in hexadecimal"), seed),
		fmt.Sprintf("%s: %s…", b.say("SHA-256 over seed, a space and the lot is smallest for it"), hex.EncodeToString(d.sum[:8])),
	}})
}

func (w *worked) lots(ctx context.Context) error {
	b := w.b
	for i := range w.t.Lots {
		l := &w.t.Lots[i]
		r := row{lot: l.Code, at: l.Begins, mass: &l.Entered, share: &l.Share, estimated: l.Estimated}
		switch {
		case l.Subject():
			r.line = b.say("the lot")
		case l.Down < 0:
			r.line = fmt.Sprintf("%s %d", b.say("back"), l.Up)
		default:
			r.line = fmt.Sprintf("%s %d", b.say("forward"), l.Down)
		}
		for _, x := range l.Where {
			r.says = append(r.says, b.place(w.p, x.Place)+": "+w.g.about(x.Mass))
		}
		if l.TheirLots != nil {
			r.says = append(r.says, b.say("their lot")+": "+strings.Join(l.TheirLots, ", "))
		}
		if l.Held {
			r.says = append(r.says, b.say("held"))
		}
		if l.Samples > 0 {
			r.says = append(r.says, fmt.Sprintf("%s: %d", b.say("retained samples"), l.Samples))
		}
		pos := w.origin
		if x := w.g.Find(l.Code); x != nil && x.Origin != nil {
			pos = x.Origin.Position
		}
		if err := w.row(ctx, pos, r); err != nil {
			return err
		}
	}
	return nil
}

func (w *worked) steps(ctx context.Context) error {
	for i := range w.t.Paths {
		x := &w.t.Paths[i]
		says := []string{fmt.Sprintf("%s, %s", w.b.process(x.What), w.b.names.at(w.p, x.Station)), fmt.Sprintf("%s %s", w.b.say("came out:"), w.g.about(x.Out))}
		if err := w.row(ctx, x.Entry, row{line: w.b.say("step"), lot: x.To, at: x.When, from: string(x.From), to: string(x.To), mass: &x.In, estimated: x.Estimated, says: says}); err != nil {
			return err
		}
	}
	return nil
}

func (w *worked) movements(ctx context.Context) error {
	b := w.b
	for i := range w.t.Movements {
		x := &w.t.Movements[i]
		r := row{line: b.say("handed over"), lot: x.Lot, at: x.When, from: b.place(w.p, x.From), to: b.place(w.p, x.To), mass: &x.Mass, estimated: x.Estimated}
		switch {
		case x.Inward:
			r.line, r.from = b.say("received"), b.firm(w.p, x.From.Holder)
		default:
			r.to = b.firm(w.p, x.To.Holder)
			r.says = append(r.says, b.use(x.Use))
		}
		r.says = append(r.says, b.status(x.Status), strings.Join(x.Papers, ", "))
		if x.TheirLot != "" {
			r.says = append(r.says, b.say("their lot")+": "+x.TheirLot)
		}
		if x.Carrier != "" || x.Vehicle != "" {
			r.says = append(r.says, strings.Join(strings.Fields(b.say("vehicle")+" "+x.Vehicle+" "+b.partner(w.p, x.Carrier)), " "))
		}
		signed := b.say("signed by") + " " + b.names.person(w.p, x.Signed)
		for _, a := range x.Accepted {
			signed += ", " + a.By
			if a.Drawn {
				signed += " (" + b.say("signature drawn") + ")"
			}
		}
		if len(x.Accepted) == 0 {
			signed += "; " + b.say("NOT CONFIRMED")
		}
		r.says = append(r.says, signed)
		if err := w.row(ctx, x.Entry, r); err != nil {
			return err
		}
	}
	return nil
}

func (w *worked) papers(ctx context.Context) error {
	b := w.b
	for i := range w.t.Papers {
		x := &w.t.Papers[i]
		r := row{line: b.say("result"), lot: x.Lot, at: x.When}
		if x.For == "certificate" {
			r.line = b.say("certificate")
			held := b.say("NOT VALID THAT DAY")
			switch {
			case !x.OnFile:
				held = b.say("NOT ON FILE")
			case x.Holds:
				held = b.say("held that day")
			}
			r.says = append(r.says, held)
		}
		title := cmp.Or(x.Title, string(x.Code))
		r.says = append([]string{strings.TrimSpace(title + " " + x.Number)}, r.says...)
		for _, v := range x.Results {
			r.says = append(r.says, v.Name+": "+v.Value.String())
		}
		if err := w.row(ctx, x.Entry, r); err != nil {
			return err
		}
	}
	return nil
}

func (w *worked) touches(ctx context.Context) error {
	b := w.b
	for i := range w.t.Touches {
		x := &w.t.Touches[i]
		r := row{line: b.say("station"), lot: x.Lot, at: x.From, to: b.names.at(w.p, x.Station)}
		switch {
		case x.To == lots.Forever:
			r.says = append(r.says, b.say("is there"))
		case x.To == x.From:
			r.says = append(r.says, b.say("ran through"))
		default:
			r.says = append(r.says, b.say("until")+" "+b.clock(x.To))
		}
		for _, c := range []struct {
			word string
			of   *trace.Clean
		}{{b.say("clean-out before"), x.Before}, {b.say("clean-out after"), x.After}} {
			if c.of != nil {
				r.says = append(r.says, fmt.Sprintf("%s: %s, %s, %s %s", c.word, c.of.Title.In(b.lang), b.clock(c.of.To), b.say("position"), b.cite(c.of.Entry)))
			}
		}
		var agents []string
		for _, a := range x.Agents {
			if s := a.Title.In(b.lang); !slices.Contains(agents, s) {
				agents = append(agents, s)
			}
		}
		r.says = append(r.says, strings.Join(agents, ", "))
		if err := w.row(ctx, x.Began, r); err != nil {
			return err
		}
	}
	return nil
}

// account is the mass accounted for, whose sum and share are formulas over the lines above them.
func (w *worked) account(ctx context.Context) error {
	b := w.b
	sums, dry := w.t.Account.Best()
	basis := b.say("as is: a moisture is missing")
	if dry {
		basis = b.say("on dry matter")
	}
	massHead := w.g.in(b.say("Mass"))
	var in, out, other []spot
	for _, x := range []struct {
		says string
		m    records.Micrograms
		into *[]spot
	}{
		{b.say("came in, as the lot or into it"), sums.Received, &in}, {b.say("joined by other lots in later processes"), sums.Joined, &in},
		{b.say("stands at our stations"), sums.OnHand, &out}, {b.say("handed over"), sums.HandedOver, &out}, {b.say("by-product"), sums.ByProduct, &out},
		{b.say("samples"), sums.Samples, &out}, {b.say("compost or landfill"), sums.Destroyed, &out}, {b.say("lost in processes, within the plan's bands"), sums.Loss, &out},
		{b.say("lost in processes for which the plan has no band"), sums.Unbanded, &other}, {b.say("lost beyond the bands, or gained"), sums.Excess, &other},
	} {
		*x.into = append(*x.into, w.here())
		if err := w.row(ctx, w.origin, row{line: b.say("account"), mass: &x.m, says: []string{x.says, basis}}); err != nil {
			return err
		}
	}
	all := w.sumAt(massHead, in)
	for _, x := range []struct {
		says, mass, share string
		m                 records.Micrograms
		of                float64
	}{
		{b.say("accounted for"), w.sumAt(massHead, out), w.sumAt(massHead, out) + "/" + all, sums.Accounted(), float64(sums.Accounted()) / float64(sums.Basis())},
		{b.say("not explained"), all + "-" + w.sumAt(massHead, out) + "-" + w.sumAt(massHead, other), "", sums.Unexplained, 0},
	} {
		r := row{line: b.say("account"), says: []string{x.says, basis}}
		w.begin(w.origin, r)
		if err := w.formula(x.mass, w.g.number(x.m)); err != nil {
			return err
		}
		if x.share != "" && sums.Basis() > 0 {
			if err := w.formula(x.share, x.of); err != nil {
				return err
			}
		} else {
			w.blank()
		}
		if err := w.finish(ctx, r); err != nil {
			return err
		}
	}
	return nil
}
