package binder

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"grainward/audit"
	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

// byProducts has every lot of by-product that was here or left in the period: from what, in which container, to whom, for what use.
func (b *builder) byProducts(ctx context.Context, g *goods) (*table, error) {
	var all []int
	for i, l := range g.Lots {
		if item := b.planAt(l.Begins).Item(l.Item); item != nil && item.Stage == "by-product" && b.touched(g, l) {
			all = append(all, i)
		}
	}
	if all == nil {
		return nil, nil
	}
	made, adjusted, used, taken := g.in(b.say("Made")), g.in(b.say("Adjusted")), g.in(b.say("Used")), g.in(b.say("Taken"))
	t, err := b.table(b.say("By-products"), b.say("By-products: made where, kept in what, taken by whom and for what (21 CFR 117.95), and what is left"), []column{
		{b.say("Position"), 9, whole}, {b.say("Lot"), 15, plain}, {b.say("Item"), 14, plain}, {b.say("Status"), 11, plain}, {b.say("Since"), 12, when}, {b.say("Made by"), 17, plain},
		{b.say("Container or disposal"), 18, plain}, {made, 11, mass}, {b.say("As written"), 13, plain}, {adjusted, 10, mass}, {used, 10, mass}, {taken, 11, mass}, {g.in(b.say("Left on site")), 11, mass},
		{b.say("Taken by, for what, when"), 40, plain}, {b.say("Handover entries"), 10, plain}, {b.say("Days on site"), 8, whole}, {b.say("Last here"), 12, when},
	})
	if err != nil {
		return nil, err
	}
	here, takings := b.lastHere(g), g.takenOver()
	for _, i := range all {
		l := g.Lots[i]
		p := b.planAt(l.Begins)
		b.lot(t, p, l)
		t.text(b.makers(g, p, l))
		t.text(b.containers(l))
		t.mass(g, l.Entered)
		var written []string
		for _, o := range l.Outputs {
			written = append(written, o.Weight.Mass.String())
		}
		t.text(strings.Join(written, "\n"))
		t.mass(g, l.Adjusted)
		t.mass(g, l.Used)
		var with, left records.Micrograms
		for at, m := range l.At.All() {
			if at.Holder != "" {
				with += m
			} else {
				left += m
			}
		}
		t.mass(g, with)
		if err := t.formula(fmt.Sprintf("%s+%s-%s-%s", t.ref(made), t.ref(adjusted), t.ref(used), t.ref(taken)), g.number(left)); err != nil {
			return nil, err
		}
		b.takers(t, g, takings[i])
		last := max(l.Begins, here[i])
		t.whole(int64(last-l.Begins) / dayMillis)
		t.when(last)
		if err := t.end(ctx); err != nil {
			return nil, err
		}
	}
	return t, t.close(ctx)
}

func (b *builder) makers(g *goods, p *plan.Plan, l *lots.Lot) string {
	var out []string
	for _, s := range l.Made {
		step := g.Steps[s]
		line := b.process(step.What)
		if f, ok := step.Record.Fact.(*records.Process); ok {
			line += ", " + b.names.at(p, f.Station)
		}
		if !slices.Contains(out, line) {
			out = append(out, line)
		}
	}
	return strings.Join(out, "\n")
}

func (b *builder) containers(l *lots.Lot) string {
	var out []string
	for _, o := range l.Outputs {
		for _, s := range []string{o.Container, o.Disposal} {
			if s != "" && !slices.Contains(out, s) {
				out = append(out, s)
			}
		}
	}
	if out == nil {
		return b.say("NONE NAMED")
	}
	return strings.Join(out, "\n")
}

// taking is one handover that a lot was part of.
type taking struct {
	by   *lots.Transfer
	mass records.Micrograms
}

// takenOver are the handovers of each lot, in the floor's order.
func (g *goods) takenOver() map[int][]taking {
	out := map[int][]taking{}
	for _, x := range g.Transfers {
		if x.Handover == nil {
			continue
		}
		for _, p := range x.Portions {
			out[p.Lot] = append(out[p.Lot], taking{x, p.Mass})
		}
	}
	return out
}

// takers puts who took a lot, and the entries that say so.
func (b *builder) takers(t *table, g *goods, all []taking) {
	var lines []string
	var by []*state.Record
	for _, k := range all {
		x := k.by
		signed := b.receivers(acceptances(x.Handover, x))
		lines = append(lines, fmt.Sprintf("%s, %s, %s, %s: %s", b.partner(b.planAt(x.Record.Happened), x.To.Holder), b.use(x.Handover.Use), g.about(k.mass), b.clock(x.Record.Happened), signed))
		by = append(by, x.Record)
	}
	t.text(strings.Join(lines, "\n"))
	t.cite(by...)
}

// lastHere is, by lot, until when it was at a station of ours.
func (b *builder) lastHere(g *goods) map[int]records.Instant {
	last := map[int]records.Instant{}
	for _, contacts := range g.Contacts {
		for c := range contacts.All() {
			last[c.Lot] = max(last[c.Lot], min(c.To, b.in.Report.At))
		}
	}
	return last
}

// counts has a row for each lot that a count found, and for a count that found nothing.
func (b *builder) counts(ctx context.Context, g *goods, w *written) (*table, error) {
	all := b.inPeriod(records.KindCount)
	if len(all) == 0 {
		return nil, nil
	}
	massHead, moisture := g.in(b.say("Mass")), b.say("Moisture %")
	t, err := b.table(b.say("Counts"), b.say("Counts: what was found at a station, and by how much it differed from what the records came to"), []column{
		{b.say("Position"), 11, whole}, {b.say("Station"), 20, plain}, {b.say("Lot"), 16, plain}, {massHead, 12, mass}, {b.say("As written"), 14, plain}, {moisture, 9, number}, {g.in(b.say("Dry matter")), 12, mass},
		{b.say("Differed from the records"), 30, plain}, {b.say("Note"), 24, plain},
		{b.say("Person"), 15, plain}, {b.say("Done at"), 12, when}, {b.say("Written down at"), 12, when}, {b.say("Corrected by"), 9.5, plain},
	})
	if err != nil {
		return nil, err
	}
	for _, r := range all {
		f := r.Fact.(*records.Count)
		p := b.planAt(r.Happened)
		found := f.Found
		if found == nil {
			found = []records.Found{{}}
		}
		for k, x := range found {
			if k == 0 {
				b.entry(t, r)
			} else {
				t.same(r)
			}
			t.text(b.names.at(p, f.Station))
			if len(f.Found) == 0 {
				t.text(b.say("nothing"))
				t.mass(g, 0)
				t.blank()
				t.blank()
				t.blank()
			} else {
				t.text(string(x.Lot))
				if err := t.weight(g, x.Weight, massHead, moisture); err != nil {
					return nil, err
				}
			}
			if k > 0 {
				if err := t.end(ctx); err != nil {
					return nil, err
				}
				continue
			}
			t.text(g.differed(r))
			t.text(f.Note)
			b.signed(t, r)
			if err := t.end(ctx); err != nil {
				return nil, err
			}
		}
	}
	w.evidence = append(w.evidence, evidence{kind: records.KindCount, table: t, n: t.entries})
	return t, t.close(ctx)
}

// differed is what the fold had to add or take away to agree with an entry.
func (g *goods) differed(r *state.Record) string {
	var out []string
	for _, a := range g.Adjustments {
		if a.Record == r {
			out = append(out, fmt.Sprintf("%s: %+.1f %s", g.Lots[a.Lot].Code, g.number(a.By), g.unit))
		}
	}
	return strings.Join(out, "\n")
}

// holds has a row for each hold and each release.
func (b *builder) holds(ctx context.Context, g *goods, w *written) (*table, error) {
	var all []*state.Record
	for _, k := range []records.Kind{records.KindHold, records.KindRelease} {
		all = append(all, b.inPeriod(k)...)
	}
	if len(all) == 0 {
		return nil, nil
	}
	slices.SortStableFunc(all, func(x, y *state.Record) int {
		return cmp.Or(cmp.Compare(x.Happened, y.Happened), cmp.Compare(x.Position, y.Position))
	})
	t, err := b.table(b.say("Holds"), b.say("Holds and releases: lots stopped, freed or rejected, and why"), []column{
		{b.say("Position"), 9, whole}, {b.say("Kind"), 10, plain}, {b.say("Lots"), 22, plain}, {b.say("Reason"), 44, plain}, {b.say("What became of it"), 30, plain}, {b.say("Ended by entry"), 10, plain},
		{b.say("Person"), 17, plain}, {b.say("Done at"), 13, when}, {b.say("Written down at"), 13, when}, {b.say("Corrected by"), 9.5, plain},
	})
	if err != nil {
		return nil, err
	}
	n := map[records.Kind]int{}
	for _, r := range all {
		n[r.Kind]++
		b.entry(t, r)
		t.text(audit.KindWord(r.Kind, b.lang))
		switch f := r.Fact.(type) {
		case *records.Hold:
			t.text(strings.Join(lotStrings(f.Lots), "\n"))
			t.text(f.Why)
			words, ended := b.holdEnds(g, r, f)
			t.text(words)
			t.cite(ended...)
		case *records.Release:
			t.text(strings.Join(lotStrings(f.Lots), "\n"))
			t.text(f.Why)
			word := b.say("freed")
			if f.Rejected {
				word = b.say("rejected")
			}
			t.text(word)
			t.blank()
		}
		b.signed(t, r)
		if err := t.end(ctx); err != nil {
			return nil, err
		}
	}
	for _, k := range []records.Kind{records.KindHold, records.KindRelease} {
		w.evidence = append(w.evidence, evidence{kind: k, table: t, n: n[k], only: []string{b.say("Kind"), criterion(audit.KindWord(k, b.lang))}})
	}
	return t, t.close(ctx)
}

func lotStrings(all []records.LotCode) []string {
	out := make([]string, len(all))
	for i, c := range all {
		out[i] = string(c)
	}
	return out
}

// holdEnds says of each lot of a hold when it was freed or rejected, or that the hold stands.
func (b *builder) holdEnds(g *goods, r *state.Record, f *records.Hold) (string, []*state.Record) {
	var words []string
	var by []*state.Record
	for _, code := range f.Lots {
		l := g.Find(code)
		if l == nil {
			continue
		}
		word := b.say("stands")
		for _, s := range l.Holds {
			if s.Hold == r && s.Release != nil {
				word = b.say("freed") + " " + b.clock(s.Release.Happened)
				by = append(by, s.Release)
			} else if s.Hold == r && l.Rejected != nil {
				word = b.say("rejected") + " " + b.clock(l.Rejected.Happened)
				by = append(by, l.Rejected)
			}
		}
		words = append(words, string(code)+": "+word)
	}
	return strings.Join(words, "\n"), by
}

// samples has a row for each time retained samples were set aside or thrown out.
func (b *builder) samples(ctx context.Context, g *goods, w *written) (*table, error) {
	all := b.inPeriod(records.KindSample)
	if len(all) == 0 {
		return nil, nil
	}
	t, err := b.table(b.say("Samples"), b.say("Retained samples: set aside and thrown out, against the number the plan asks for"), []column{
		{b.say("Position"), 9, whole}, {b.say("Lot"), 16, plain}, {b.say("Item"), 18, plain}, {b.say("What"), 13, plain}, {b.say("Number"), 8, whole}, {b.say("Kept after it"), 8, whole}, {b.say("Asked for by the plan"), 12, plain},
		{b.say("Where"), 18, plain}, {b.say("Taken from"), 16, plain}, {g.in(b.say("Mass")), 11, mass}, {b.say("As written"), 12, plain}, {b.say("Note"), 22, plain},
		{b.say("Person"), 15, plain}, {b.say("Done at"), 12, when}, {b.say("Written down at"), 12, when}, {b.say("Corrected by"), 9.5, plain},
	})
	if err != nil {
		return nil, err
	}
	for _, r := range all {
		f := r.Fact.(*records.Sample)
		p, l := b.planAt(r.Happened), g.Find(f.Lot)
		b.entry(t, r)
		t.text(string(f.Lot))
		var item *plan.Item
		kept := 0
		if l != nil {
			item = p.Item(l.Item)
			t.text(b.item(p, l.Item))
			kept = keptAfter(l, r)
		} else {
			t.blank()
		}
		word := b.say("set aside")
		if f.Act == "discarded" {
			word = b.say("thrown out")
		}
		t.text(word)
		t.whole(int64(f.Number))
		t.whole(int64(kept))
		if item != nil && item.Retained != nil {
			t.text(b.rangeText(*item.Retained, ""))
		} else {
			t.blank()
		}
		t.text(f.Where)
		t.text(b.names.at(p, f.From))
		if f.Mass != nil {
			m, _ := g.exact(*f.Mass)
			t.mass(g, m)
			t.text(f.Mass.String())
		} else {
			t.blank()
			t.blank()
		}
		t.text(f.Note)
		b.signed(t, r)
		if err := t.end(ctx); err != nil {
			return nil, err
		}
	}
	w.evidence = append(w.evidence, evidence{kind: records.KindSample, table: t, n: t.entries})
	return t, t.close(ctx)
}

// keptAfter is how many samples of a lot were there after an entry.
func keptAfter(l *lots.Lot, by *state.Record) (n int) {
	seen := map[*state.Record]bool{}
	for _, r := range l.Events {
		f, ok := r.Fact.(*records.Sample)
		if !ok || f.Lot != l.Code || seen[r] {
			continue
		}
		seen[r] = true
		if f.Act == "discarded" {
			n -= f.Number
		} else {
			n += f.Number
		}
		if r == by {
			break
		}
	}
	return n
}
