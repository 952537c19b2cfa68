package audit

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/state"
)

// Line is one item and status of the plant's inventory over a period:
//
//	Opening + Received + Made - Used - Sent - Sampled + Unexplained = Closing
//
// holds exactly. Unexplained is what was taken and was not there, left over when the last was taken, or found otherwise by
// a count: the residual of the balance, shown and never hidden (7 CFR 205.403(d)(4)).
type Line struct {
	Item                                                  records.ItemCode
	Status                                                records.Status
	Opening, Received, Made, Used, Sent, Sampled, Closing records.Micrograms
	Unexplained                                           records.Micrograms
	Counted                                               records.Micrograms // of Unexplained, what counts found
}

// Reconcile balances everything at our own stations from one moment to a later one of the same journal. Onward
// handovers of goods that already stood with a partner do not take part.
func Reconcile(open, closing *lots.Floor) []Line {
	type key struct {
		item   records.ItemCode
		status records.Status
	}
	lines := map[key]*Line{}
	line := func(l *lots.Lot) *Line {
		k := key{l.Item, l.Status}
		if lines[k] == nil {
			lines[k] = &Line{Item: l.Item, Status: l.Status}
		}
		return lines[k]
	}
	standing := func(f *lots.Floor, put func(x *Line, at lots.Place, m records.Micrograms)) {
		for i, l := range f.Lots {
			for p, m := range l.At.All() {
				// The lot as the closing floor knows it, so that one first mentioned and later made keeps its line. What happened until the
				// opening comes first in both, so it is in the same place.
				put(line(closing.Lots[i]), p, m)
			}
		}
	}
	standing(open, func(x *Line, at lots.Place, m records.Micrograms) {
		switch {
		case ours(at):
			x.Opening += m
		case at == lots.Samples:
			x.Sampled -= m
		}
	})
	standing(closing, func(x *Line, at lots.Place, m records.Micrograms) {
		switch {
		case ours(at):
			x.Closing += m
		case at == lots.Samples:
			x.Sampled += m
		}
	})
	since := func(r *state.Record) bool { return r.Happened > open.At }
	for i := range closing.Transfers {
		t := closing.Transfers[i]
		if !since(t.Record) {
			continue
		}
		for _, p := range t.Portions {
			x := line(closing.Lots[p.Lot])
			switch {
			case t.Receipt != nil:
				x.Received += p.Mass
			case ours(t.From):
				x.Sent += p.Mass
			}
		}
	}
	for i := range closing.Steps {
		step := closing.Steps[i]
		if !since(step.Record) {
			continue
		}
		for _, p := range step.In {
			line(closing.Lots[p.Lot]).Used += p.Mass
		}
		for _, o := range step.Out {
			line(closing.Lots[o.Lot]).Made += o.Mass
		}
	}
	for _, a := range closing.Adjustments {
		if !since(a.Record) || !ours(a.Place) {
			continue
		}
		x := line(closing.Lots[a.Lot])
		x.Unexplained += a.By
		if a.Why == lots.Counted {
			x.Counted += a.By
		}
	}
	out := make([]Line, 0, len(lines))
	for _, x := range lines {
		out = append(out, *x)
	}
	slices.SortFunc(out, func(a, b Line) int {
		return cmp.Or(strings.Compare(string(a.Item), string(b.Item)), strings.Compare(string(a.Status), string(b.Status)))
	})
	return out
}

// ours says whether a place is a station of the plant; retained samples are put aside and stand on their own.
func ours(p lots.Place) bool { return p.Holder == "" && p != lots.Samples }

// OrganicBalance is dry matter of organic goods, in against out, up to a moment.
type OrganicBalance struct {
	In       Dry // received as organic
	Out      Dry // handed over as organic
	Standing Dry // standing as organic, with us or on the way to be sold
	Unknown  int // weights left out because no moisture was written down
}

// handed adds changes of hands. What was handed over as organic and what still stands as organic can not be more than what was
// received as organic (losses only make it less).
func (b *OrganicBalance) handed(st *state.State, f *lots.Floor, transfers []*lots.Transfer) {
	add := func(d *Dry, r *state.Record, w records.Weight) {
		p := st.PlanAt(r.Happened)
		if p == nil || w.Moisture == nil {
			b.Unknown++
			return
		}
		d.add(p, w)
	}
	for _, t := range transfers {
		switch {
		case t.Receipt != nil && t.Receipt.Status.IsOrganic():
			add(&b.In, t.Record, t.Receipt.Weight)
		case t.Handover != nil && ours(t.From) && t.Handover.Status.IsOrganic():
			w := t.Handover.Weight
			if w.Moisture == nil && len(t.Portions) > 0 {
				w.Moisture = lastMoisture(f.Lots[t.Portions[0].Lot])
			}
			add(&b.Out, t.Record, w)
		}
	}
}

// stands adds what of a lot stands at our stations.
func (b *OrganicBalance) stands(l *lots.Lot) {
	if !l.Status.IsOrganic() || l.Origin == nil {
		return
	}
	moisture := lastMoisture(l)
	for place, m := range l.At.All() {
		if !ours(place) || m <= 0 {
			continue
		}
		dry, ok := lots.DryMatter(m, moisture)
		if !ok {
			b.Unknown++
			continue
		}
		b.Standing.Mass += m
		b.Standing.Dry += dry
		b.Standing.U2 += math.Pow(defaultMassU*float64(dry), 2)
	}
}

// Organic adds up organic dry matter.
func Organic(st *state.State, f *lots.Floor) (b OrganicBalance) {
	b.In.Known, b.Out.Known, b.Standing.Known = true, true, true
	b.handed(st, f, f.Transfers)
	for _, l := range f.Lots {
		b.stands(l)
	}
	return b
}

// lastMoisture is the moisture last written down for a lot, as received or made.
func lastMoisture(l *lots.Lot) *records.Decimal {
	for i := len(l.Outputs) - 1; i >= 0; i-- {
		if m := l.Outputs[i].Weight.Moisture; m != nil {
			return m
		}
	}
	if l.Receipt != nil {
		return l.Receipt.Weight.Moisture
	}
	return nil
}

// lastOrganic is when an excess of organic goods counts as found: when the last were handed over or, while none were, when the
// last goods were made or counted. It is one finding while it lasts.
func lastOrganic(f *lots.Floor) (last records.Instant) {
	for i := len(f.Transfers) - 1; i >= 0; i-- {
		if h := f.Transfers[i].Handover; h != nil && h.Status.IsOrganic() {
			return f.Transfers[i].Record.Happened
		}
	}
	if n := len(f.Steps); n > 0 {
		last = f.Steps[n-1].Record.Happened
	}
	if n := len(f.Adjustments); n > 0 {
		last = max(last, f.Adjustments[n-1].Record.Happened)
	}
	return last
}

// excess is what there is too much of.
func (b *OrganicBalance) excess(st *state.State, f *lots.Floor) []*Finding {
	p := st.PlanAt(f.At)
	if p == nil {
		return nil
	}
	have := b.Out.Dry + b.Standing.Dry
	if excess := float64(have - b.In.Dry); excess <= 0 || excess <= coverage*math.Sqrt(b.In.U2+b.Out.U2+b.Standing.U2) {
		return nil
	}
	last := lastOrganic(f)
	return []*Finding{find("organic-excess", "plant", last, Subject{}, nil, []Value{
		word("day", p.Day(last).String()), word("out", p.Mass(have)), word("in", p.Mass(b.In.Dry))})}
}
