// Package lotstest writes a floor out as text, so that tests can compare two of them: one reached in the order of
// happening with one reached late and through corrections. It knows entries by their ids, never by their positions, since
// these are what must not matter. It is imported by tests only.
package lotstest

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"grainward/records/lots"
	"grainward/records/state"
)

// Dump is everything a floor says, a line a fact, lots by their codes. Two floors with the same dump answer every question
// alike.
func Dump(f *lots.Floor) string {
	d := &dumper{f: f}
	d.line("floor at %s", f.At)
	for _, l := range f.Lots {
		d.lot(l)
	}
	for i, s := range f.Steps {
		d.line("step %d %s %s in%s out%s", i, id(s.Record), s.What, d.portions(s.In), d.made(s.Out))
	}
	for _, t := range f.Transfers {
		d.line("transfer %s receipt %t handover %t from %s to %s%s confirmed by%s", id(t.Record), t.Receipt != nil, t.Handover != nil, t.From, t.To, d.portions(t.Portions), ids(t.Confirms))
	}
	for _, a := range f.Adjustments {
		d.line("adjusted %s %s at %s by %d: %s", id(a.Record), f.Lots[a.Lot].Code, a.Place, a.By, a.Why)
	}
	for _, a := range f.Assumed {
		d.line("assumed %s %s %q at %q %d", id(a.Record), a.Code, a.Lot, a.Place, a.Mass)
	}
	for _, code := range slices.Sorted(maps.Keys(f.Contacts)) {
		for c := range f.Contacts[code].All() {
			d.line("contact %s %s %d to %d by %s to %s purge %t", code, f.Lots[c.Lot].Code, c.From, c.To, id(c.Began), id(c.Ended), c.Purge)
		}
	}
	for _, code := range slices.Sorted(maps.Keys(f.CleanOuts)) {
		for _, c := range f.CleanOuts[code] {
			d.line("clean-out %s %d to %d grade %d %s", code, c.From, c.To, c.Grade, id(c.Record))
		}
	}
	for _, code := range slices.Sorted(maps.Keys(f.Stations)) {
		s := f.Stations[code]
		d.line("station %s mixed %t proven %d residents%s", code, s.Mixed, s.Proven, d.codes(s.Residents))
	}
	return d.b.String()
}

type dumper struct {
	f *lots.Floor
	b strings.Builder
}

func (d *dumper) line(format string, args ...any) { fmt.Fprintf(&d.b, format+"\n", args...) }

func (d *dumper) lot(l *lots.Lot) {
	d.line("lot %s %s %s begins %d origin %s", l.Code, l.Item, l.Status, l.Begins, id(l.Origin))
	d.line("  received %t outputs %d entered %d adjusted %d used %d dry %d known %t made %v spent %v samples %d", l.Receipt != nil, len(l.Outputs), l.Entered, l.Adjusted, l.Used,
		l.Dry, l.DryKnown, l.Made, l.Spent, l.Samples)
	places := slices.SortedFunc(l.At.Places(), func(a, b lots.Place) int {
		return cmp.Or(cmp.Compare(a.Station, b.Station), cmp.Compare(a.Holder, b.Holder))
	})
	for _, p := range places {
		d.line("  at %s %d", p, l.At.Of(p))
	}
	for _, s := range l.Holds {
		d.line("  held by %s until %s", id(s.Hold), id(s.Release))
	}
	d.line("  rejected by %s, held now %t", id(l.Rejected), l.HeldAt(d.f.At))
	d.line("  events%s", ids(l.Events))
}

func (d *dumper) portions(list []lots.Portion) string {
	var b strings.Builder
	for _, p := range list {
		moisture := ""
		if p.Moisture != nil {
			moisture = " " + p.Moisture.String() + "%"
		}
		fmt.Fprintf(&b, " [%s %d%s from %s estimated %t]", d.f.Lots[p.Lot].Code, p.Mass, moisture, p.From, p.Estimated)
	}
	return b.String()
}

func (d *dumper) made(list []lots.Made) string {
	var b strings.Builder
	for _, m := range list {
		fmt.Fprintf(&b, " [%s %d to %s]", d.f.Lots[m.Lot].Code, m.Mass, m.Output.To)
	}
	return b.String()
}

func (d *dumper) codes(list []int) string {
	var b strings.Builder
	for _, i := range list {
		b.WriteString(" " + string(d.f.Lots[i].Code))
	}
	return b.String()
}

func id(r *state.Record) string {
	if r == nil {
		return "-"
	}
	return r.ID.String()
}

func ids(rs []*state.Record) string {
	var b strings.Builder
	for _, r := range rs {
		b.WriteString(" " + id(r))
	}
	return b.String()
}
