package main

import (
	"context"
	"fmt"
	"math"

	"grainward/audit"
	"grainward/records"
	"grainward/records/plan"
	"grainward/records/sqlite"
)

type balanceCommand struct {
	plantFlag
	periodFlags
	JSON bool `name:"json" help:"Print one JSON object."`
}

// Help is the long help of the command, and the documentation of its JSON.
func (*balanceCommand) Help() string {
	return `What the masses come to in a period: each process on dry matter against the plan's band, the inventory by item and status (opening + received + made - used - sent - samples + unexplained = closing), and organic dry matter in against out up to the end.

A verdict other than within is given only when the difference is larger than twice what scales and meters can explain.

With --json, one object: "format": 1; "from", "to"; "processes": each with "what", "when", "position", "dryIn", "dryOut" (decimal kilograms as text), "loss" (a fraction; left out when a moisture is missing), "verdict" (within, above, below, unknown); "inventory": each with "item", "status", "opening", "received", "made", "used", "sent", "sampled", "unexplained", "counted", "closing"; "organic": "in", "out", "standing" on dry matter, and "unknown", how many weights had no moisture. Masses are decimal kilograms as text; times are UTC.`
}

type processJSON struct {
	What     string           `json:"what"`
	When     records.Instant  `json:"when"`
	Position records.Position `json:"position"`
	DryIn    string           `json:"dryIn"`
	DryOut   string           `json:"dryOut"`
	Loss     *float64         `json:"loss,omitzero"`
	Verdict  audit.Verdict    `json:"verdict"`
}

type inventoryJSON struct {
	Item        records.ItemCode `json:"item"`
	Status      records.Status   `json:"status"`
	Opening     string           `json:"opening"`
	Received    string           `json:"received"`
	Made        string           `json:"made"`
	Used        string           `json:"used"`
	Sent        string           `json:"sent"`
	Sampled     string           `json:"sampled"`
	Unexplained string           `json:"unexplained"`
	Counted     string           `json:"counted"`
	Closing     string           `json:"closing"`
}

func (c *balanceCommand) Run(ctx context.Context, w *world) error {
	b, err := c.Dir.openBook(ctx, w, sqlite.Read)
	if err != nil {
		return err
	}
	defer b.Close()
	st := b.View().State
	p := st.PlanAt(w.instant())
	from, to, err := c.of(p, w.instant())
	if err != nil {
		return err
	}
	g := audit.JudgeGoods(st, to)
	processes := []processJSON{}
	for _, s := range g.Balance.Steps {
		r := g.Steps[s.Step].Record
		if r.Happened < from {
			continue
		}
		row := processJSON{g.Steps[s.Step].What, r.Happened, r.Position, kilograms(s.In.Dry), kilograms(s.Out.Dry), nil, s.Verdict}
		if !math.IsNaN(s.Loss) {
			row.Loss = &s.Loss
		}
		processes = append(processes, row)
	}
	lines := audit.Reconcile(audit.Floor(st, from-1), g.Floor)
	organic := audit.Organic(st, g.Floor)
	if !c.JSON {
		c.print(w, p, from, to, g, lines, organic)
		return nil
	}
	inventory := []inventoryJSON{}
	for _, x := range lines {
		inventory = append(inventory, inventoryJSON{x.Item, x.Status, kilograms(x.Opening), kilograms(x.Received), kilograms(x.Made), kilograms(x.Used), kilograms(x.Sent),
			kilograms(x.Sampled), kilograms(x.Unexplained), kilograms(x.Counted), kilograms(x.Closing)})
	}
	return writeJSON(w, struct {
		Format    int             `json:"format"`
		From      records.Instant `json:"from"`
		To        records.Instant `json:"to"`
		Processes []processJSON   `json:"processes"`
		Inventory []inventoryJSON `json:"inventory"`
		Organic   map[string]any  `json:"organic"`
	}{1, from, to, processes, inventory, map[string]any{"in": kilograms(organic.In.Dry), "out": kilograms(organic.Out.Dry), "standing": kilograms(organic.Standing.Dry), "unknown": organic.Unknown}})
}

func (c *balanceCommand) print(w *world, p *plan.Plan, from, to records.Instant, g *audit.Goods, lines []audit.Line, organic audit.OrganicBalance) {
	since := shown(p, from)
	if from == 0 {
		since = "the first entry"
	}
	w.say("From %s to %s", since, shown(p, to))
	w.say("\nProcesses, dry matter: %d", len(g.Balance.Steps))
	say := map[audit.Verdict]int{}
	for _, s := range g.Balance.Steps {
		step := g.Steps[s.Step]
		if step.Record.Happened < from {
			continue
		}
		say[s.Verdict]++
		if s.Verdict == audit.Above || s.Verdict == audit.Below {
			w.say("  %s  %-12s in %s, out %s, loss %.1f %%: %s the band (entry %d)", shown(p, step.Record.Happened), step.What, massShown(p, s.In.Dry), massShown(p, s.Out.Dry), 100*s.Loss, s.Verdict, step.Record.Position)
		}
	}
	w.say("  within %d, above %d, below %d, no band or no moisture %d", say[audit.Within], say[audit.Above], say[audit.Below], say[audit.Unknown])
	w.say("\nInventory  (opening + received + made - used - sent - samples + unexplained = closing)")
	w.say("  %-16s %-12s %12s %12s %12s %12s %12s %10s %11s %12s", "item", "status", "opening", "received", "made", "used", "sent", "samples", "unexplained", "closing")
	for _, x := range lines {
		m := func(v records.Micrograms) string { return massShown(p, v) }
		w.say("  %-16s %-12s %12s %12s %12s %12s %12s %10s %11s %12s", x.Item, x.Status, m(x.Opening), m(x.Received), m(x.Made), m(x.Used), m(x.Sent), m(x.Sampled), m(x.Unexplained), m(x.Closing))
	}
	if len(lines) == 0 {
		w.say("  no goods in this period")
	}
	w.say("\nOrganic dry matter up to the end: in %s, out %s, standing %s%s", massShown(p, organic.In.Dry), massShown(p, organic.Out.Dry), massShown(p, organic.Standing.Dry), unknownNote(organic.Unknown))
}

func unknownNote(n int) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprintf(" (%s without a moisture left out)", plural(n, "weight"))
}
