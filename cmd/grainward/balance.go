package main

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"grainward/audit"
	"grainward/exports/balance"
	"grainward/exports/columns"
	"grainward/records"
	"grainward/records/plan"
	"grainward/records/sqlite"
)

type balanceCommand struct {
	plantFlag
	periodFlags
	All  bool `help:"List every process, not only those outside the plan's band."`
	JSON bool `name:"json" help:"Print one JSON object."`
}

// Help is the long help of the command, and the documentation of its JSON.
func (*balanceCommand) Help() string {
	return `What the masses come to in a period: each process on dry matter against the plan's band, finished lots against the grain they go back to, bags counted against mass, the inventory by item and status (opening + received + made - used - sent - samples + differs = closing), and organic dry matter in against out up to the end of the period.

A verdict other than within is given only when the difference is larger than twice what scales and meters can explain.

With --json, one object: "format": 1; "from", "to"; "processes": each with "what", "when", "station", "lots" (made), "position", "dryIn", "dryOut" and "loss" (a fraction; these three are left out when a moisture is missing), "band" ("min" and "max", in percent, as the plan has them), "verdict" (within, above, below, unknown: no band or no moisture), "byProduct" (as is), "byProductVerdict"; "whole": each finished lot with "lot", "grainDry", "dry", "loss", "band", "verdict"; "bags": each with "lot", "when", "bags", "counted", "differs" (mass that came out less what the bags are labelled with), "verdict", "position"; "inventory": each with "item", "status", "opening", "received", "made", "used", "sent", "sampled", "unexplained", "counted", "closing"; "organic": "in", "out", "standing" on dry matter, and "unknown", how many weights had no moisture. Masses are decimal kilograms as text; times are UTC.`
}

func (c *balanceCommand) Run(ctx context.Context, w *world) error {
	b, err := c.openBook(ctx, w, sqlite.Read)
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
	out := balance.Gather(st, from, to)
	if c.JSON {
		return w.writeJSON(out)
	}
	return c.print(w, p, out)
}

func (c *balanceCommand) print(w *world, p *plan.Plan, out *balance.Sheet) error {
	since := "the first entry"
	if out.From != 0 {
		since = shown(p, out.From)
	}
	w.say("From %s to %s.", since, shown(p, out.To))
	if err := c.printProcesses(w, p, out); err != nil {
		return err
	}
	if err := printWholes(w, p, out); err != nil {
		return err
	}
	if err := printInventory(w, p, out.Lines); err != nil {
		return err
	}
	o := &out.Sums
	w.say("\nOrganic dry matter up to the end: %s received, %s handed over, %s standing%s.", p.Mass(o.In.Dry), p.Mass(o.Out.Dry), p.Mass(o.Standing.Dry), unknownNote(o.Unknown))
	return nil
}

func (c *balanceCommand) printProcesses(w *world, p *plan.Plan, out *balance.Sheet) error {
	w.say("\nPROCESSES, on dry matter")
	n := map[audit.Verdict]int{}
	show := func(m records.Micrograms) string { return p.Mass(m) }
	var rows [][]string
	for _, x := range out.Processes {
		n[x.Verdict]++
		outside := balance.Called(x.Verdict) || balance.Called(x.ByProductVerdict)
		if !outside && !c.All {
			continue
		}
		loss, says := "", string(x.Verdict)
		if x.Loss != nil {
			loss = fmt.Sprintf("%.1f %%", 100**x.Loss)
		}
		if balance.Called(x.ByProductVerdict) {
			says += ", by-product " + string(x.ByProductVerdict)
		}
		made := ""
		if len(x.Lots) > 0 {
			made = string(x.Lots[0])
		}
		rows = append(rows, []string{shown(p, x.When), x.What, made, balance.Known(x.In, show), balance.Known(x.Out, show), loss, x.Band.In("en"), says})
	}
	if len(rows) > 0 {
		if err := columns.Write(w.out, []string{"when", "process", "made", "in", "out", "loss", "plan expects", "verdict"}, "lllrrrll", rows); err != nil {
			return err
		}
	}
	w.say("%s: %d within, %d above, %d below, %d without a band or a moisture.", plural(len(out.Processes), "process"), n[audit.Within], n[audit.Above], n[audit.Below], n[audit.Unknown])
	return nil
}

// printWholes shows finished lots, and bags, that are not as expected.
func printWholes(w *world, p *plan.Plan, out *balance.Sheet) error {
	var rows [][]string
	for _, x := range out.Whole {
		if balance.Called(x.Verdict) {
			rows = append(rows, []string{string(x.Lot), x.LossWords("en"), string(x.Verdict)})
		}
	}
	for _, x := range out.Bags {
		if balance.Called(x.Verdict) {
			rows = append(rows, []string{string(x.Lot), x.DifferWords("en", p.Mass), string(x.Verdict)})
		}
	}
	w.say("\nFINISHED LOTS against their grain: %d; bags against mass: %d; not as expected: %d", len(out.Whole), len(out.Bags), len(rows))
	return columns.Write(w.out, nil, "lll", rows)
}

func printInventory(w *world, p *plan.Plan, lines []audit.Line) error {
	unit := p.MassUnit()
	w.say("\nINVENTORY, in %s: opening + received + made - used - sent - samples + differs = closing", unit)
	if len(lines) == 0 {
		w.say("no goods in this period")
		return nil
	}
	amount := func(m records.Micrograms) string {
		if m == 0 {
			return "-"
		}
		return fmt.Sprintf("%.1f", m.In(unit))
	}
	by := slices.Clone(lines)
	slices.SortStableFunc(by, func(a, b audit.Line) int { return strings.Compare(string(b.Status), string(a.Status)) })
	var rows [][]string
	var status records.Status = "none yet"
	for _, x := range by {
		if x.Status != status {
			status = x.Status
			head := make([]string, 9)
			if head[0] = string(status) + ":"; status == "" {
				head[0] = "status unknown:"
			}
			rows = append(rows, head)
		}
		rows = append(rows, []string{string(x.Item), amount(x.Opening), amount(x.Received), amount(x.Made), amount(x.Used), amount(x.Sent), amount(x.Sampled), amount(x.Unexplained), amount(x.Closing)})
	}
	return columns.Write(w.out, []string{"item", "opening", "received", "made", "used", "sent", "samples", "differs", "closing"}, "lrrrrrrrr", rows)
}

func unknownNote(n int) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprintf(" (%s without a moisture left out)", plural(n, "weight"))
}
