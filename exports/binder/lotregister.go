package binder

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"grainward/audit"
	"grainward/records/calendar"
	"grainward/records/lots"
	"grainward/records/plan"
)

// lotRegister has every lot that had to do with the period, as it stands at the moment of the binder.
func (b *builder) lotRegister(ctx context.Context, g *goods) (*table, error) {
	var all []int
	for i, l := range g.Lots {
		if b.touched(g, l) {
			all = append(all, i)
		}
	}
	if all == nil {
		return nil, nil
	}
	entered, adjusted, used, standing := g.in(b.say("Received or made")), g.in(b.say("Adjusted")), g.in(b.say("Used")), g.in(b.say("Standing"))
	t, err := b.table(b.say("Lots"), b.say("Lots: item, status, chain of custody, and where they are at the moment of this binder"), []column{
		{b.say("Position"), 9, whole}, {b.say("Lot"), 15, plain}, {b.say("Item"), 15, plain}, {b.say("Status"), 11, plain}, {b.say("Since"), 12, when}, {b.say("Made from"), 17, plain},
		{entered, 12, mass}, {adjusted, 11, mass}, {used, 12, mass}, {standing, 12, mass}, {b.say("Where it is"), 28, plain},
		{b.say("Chain-of-custody model"), 14, plain}, {b.say("Why not"), 20, plain}, {b.say("Kiln date"), 10, plain}, {b.say("Best by"), 10, plain}, {b.say("Stopped"), 9, plain}, {b.say("Samples kept"), 9, whole},
	})
	if err != nil {
		return nil, err
	}
	for _, i := range all {
		l := g.Lots[i]
		p := b.planAt(l.Begins)
		b.lot(t, p, l)
		t.text(g.madeFrom(l))
		t.mass(g, l.Entered)
		t.mass(g, l.Adjusted)
		t.mass(g, l.Used)
		if err := t.formula(fmt.Sprintf("%s+%s-%s", t.ref(entered), t.ref(adjusted), t.ref(used)), g.number(l.Standing())); err != nil {
			return nil, err
		}
		t.text(b.whereabouts(g, p, l))
		t.text(b.model(g, i))
		t.text(b.broken(g, p, i))
		t.text(days(l.KilnDates()))
		t.text(days(bestBys(l)))
		t.text(b.stopped(l))
		t.whole(int64(l.Samples))
		if err := t.end(ctx); err != nil {
			return nil, err
		}
	}
	return t, t.close(ctx)
}

func (g *goods) madeFrom(l *lots.Lot) string {
	var out []string
	for _, s := range l.Made {
		for _, in := range g.Steps[s].In {
			if code := string(g.Lots[in.Lot].Code); !slices.Contains(out, code) {
				out = append(out, code)
			}
		}
	}
	return strings.Join(out, "\n")
}

// lot fills the first cells of a lot's row: where it began, its code, item and status, and since when it is.
func (b *builder) lot(t *table, p *plan.Plan, l *lots.Lot) {
	if l.Origin != nil {
		b.entry(t, l.Origin)
	} else {
		t.blank()
	}
	t.text(string(l.Code))
	t.text(b.item(p, l.Item))
	t.text(b.status(l.Status))
	t.when(l.Begins)
}

func (b *builder) whereabouts(g *goods, p *plan.Plan, l *lots.Lot) string {
	var out []string
	for _, at := range sortedPlaces(l) {
		out = append(out, b.place(p, at)+": "+g.about(l.At.Of(at)))
	}
	return strings.Join(out, "\n")
}

// model is the chain-of-custody model a lot's history reached, in the terms of ISO 22095:2020. Only goods with an organic claim have one.
func (b *builder) model(g *goods, i int) string {
	if !g.Lots[i].Status.IsOrganic() || i >= len(g.Segregation.Models) {
		return ""
	}
	return b.say(map[audit.Model]string{audit.IdentityPreserved: "identity preserved", audit.Segregated: "segregated", audit.NotSegregated: "not segregated"}[g.Segregation.Models[i]])
}

func (b *builder) broken(g *goods, p *plan.Plan, i int) string {
	x := g.Segregation.Broken[i]
	switch {
	case x == nil || !g.Lots[i].Status.IsOrganic():
		return ""
	case x.Own && x.Station != "":
		return fmt.Sprintf("%s, %s, %s", b.names.at(p, x.Station), g.Lots[x.Other].Code, b.clock(x.When))
	}
	return fmt.Sprintf("%s %s, %s", b.say("made from"), g.Lots[x.Other].Code, b.clock(x.When))
}

func bestBys(l *lots.Lot) (out []calendar.Date) {
	for _, o := range l.Outputs {
		if o.BestBy != nil {
			out = append(out, *o.BestBy)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

func days(all []calendar.Date) string {
	var out []string
	for _, d := range all {
		out = append(out, d.String())
	}
	return strings.Join(out, "\n")
}

func (b *builder) stopped(l *lots.Lot) string {
	switch {
	case l.Rejected != nil:
		return b.say("rejected")
	case l.HeldAt(b.in.Report.At):
		return b.say("held")
	}
	return ""
}
