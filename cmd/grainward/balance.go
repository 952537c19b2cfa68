package main

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"grainward/audit"
	"grainward/exports/columns"
	"grainward/records"
	"grainward/records/plan"
	"grainward/records/sqlite"
	"grainward/records/state"
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

// balanced is what there is to show: the outer object of --json, whose members are documented in Help and stay.
type balanced struct {
	Format    int             `json:"format"`
	From      records.Instant `json:"from"`
	To        records.Instant `json:"to"`
	Processes []processJSON   `json:"processes"`
	Whole     []wholeJSON     `json:"whole"`
	Bags      []bagsJSON      `json:"bags"`
	Inventory []inventoryJSON `json:"inventory"`
	Organic   organicJSON     `json:"organic"`

	lines   []audit.Line
	organic audit.OrganicBalance
}

type bandJSON struct {
	Min *records.Decimal `json:"min,omitzero"`
	Max *records.Decimal `json:"max,omitzero"`
}

// String is the band in words.
func (b bandJSON) String() string {
	switch {
	case b.Min != nil && b.Max != nil:
		return fmt.Sprintf("%s to %s %%", b.Min, b.Max)
	case b.Min != nil:
		return fmt.Sprintf("at least %s %%", b.Min)
	case b.Max != nil:
		return fmt.Sprintf("at most %s %%", b.Max)
	}
	return ""
}

type processJSON struct {
	What             string              `json:"what"`
	When             records.Instant     `json:"when"`
	Station          records.StationCode `json:"station,omitzero"`
	Lots             []records.LotCode   `json:"lots"`
	Position         records.Position    `json:"position"`
	DryIn            string              `json:"dryIn,omitzero"`
	DryOut           string              `json:"dryOut,omitzero"`
	Loss             *float64            `json:"loss,omitzero"`
	Band             bandJSON            `json:"band"`
	Verdict          audit.Verdict       `json:"verdict"`
	ByProduct        string              `json:"byProduct"`
	ByProductVerdict audit.Verdict       `json:"byProductVerdict"`

	in, out audit.Dry
}

type wholeJSON struct {
	Lot      records.LotCode `json:"lot"`
	GrainDry string          `json:"grainDry"`
	Dry      string          `json:"dry"`
	Loss     float64         `json:"loss"`
	Band     bandJSON        `json:"band"`
	Verdict  audit.Verdict   `json:"verdict"`
}

type bagsJSON struct {
	Lot      records.LotCode  `json:"lot"`
	When     records.Instant  `json:"when"`
	Bags     int              `json:"bags"`
	Counted  string           `json:"counted"`
	Differs  string           `json:"differs"`
	Verdict  audit.Verdict    `json:"verdict"`
	Position records.Position `json:"position"`

	differs records.Micrograms
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

type organicJSON struct {
	In       string `json:"in"`
	Out      string `json:"out"`
	Standing string `json:"standing"`
	Unknown  int    `json:"unknown"`
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
	out := gatherBalance(st, from, to)
	if c.JSON {
		return w.writeJSON(out)
	}
	return c.print(w, p, out)
}

func gatherBalance(st *state.State, from, to records.Instant) *balanced {
	g := audit.JudgeGoods(st, to)
	out := &balanced{Format: 1, From: from, To: to, Processes: []processJSON{}, Whole: []wholeJSON{}, Bags: []bagsJSON{}, Inventory: []inventoryJSON{}}
	for _, s := range g.Balance.Steps {
		step := &g.Steps[s.Step]
		r := step.Record
		if r.Happened < from {
			continue
		}
		row := processJSON{What: step.What, When: r.Happened, Lots: []records.LotCode{}, Position: r.Position, DryIn: dryKnown(s.In, kilograms), DryOut: dryKnown(s.Out, kilograms),
			Band: bandJSON(s.Band), Verdict: s.Verdict, ByProduct: kilograms(s.ByProduct), ByProductVerdict: s.ByProductSays, in: s.In, out: s.Out}
		if fact, ok := r.Fact.(*records.Process); ok {
			row.Station = fact.Station
		}
		for _, o := range step.Out {
			row.Lots = append(row.Lots, g.Lots[o.Lot].Code)
		}
		if !math.IsNaN(s.Loss) {
			row.Loss = &s.Loss
		}
		out.Processes = append(out.Processes, row)
	}
	for _, x := range g.Balance.Whole {
		if l := g.Lots[x.Lot]; l.Begins >= from {
			out.Whole = append(out.Whole, wholeJSON{l.Code, kilograms(records.Micrograms(math.Round(x.Raw))), kilograms(x.Dry), x.Loss, bandJSON(x.Band), x.Verdict})
		}
	}
	for _, x := range g.Balance.Bags {
		if r := g.Steps[x.Step].Record; r.Happened >= from {
			out.Bags = append(out.Bags, bagsJSON{x.Output.Lot, r.Happened, x.Output.Bags, kilograms(x.Counted), kilograms(x.Differs), x.Verdict, r.Position, x.Differs})
		}
	}
	out.lines = audit.Reconcile(audit.Floor(st, from-1), g.Floor)
	for _, x := range out.lines {
		out.Inventory = append(out.Inventory, inventoryJSON{x.Item, x.Status, kilograms(x.Opening), kilograms(x.Received), kilograms(x.Made), kilograms(x.Used), kilograms(x.Sent),
			kilograms(x.Sampled), kilograms(x.Unexplained), kilograms(x.Counted), kilograms(x.Closing)})
	}
	out.organic = audit.Organic(st, g.Floor)
	out.Organic = organicJSON{kilograms(out.organic.In.Dry), kilograms(out.organic.Out.Dry), kilograms(out.organic.Standing.Dry), out.organic.Unknown}
	return out
}

// dryKnown is a dry mass in words, and nothing when a moisture is missing: what is not known is not 0.
func dryKnown(d audit.Dry, say func(records.Micrograms) string) string {
	if !d.Known {
		return ""
	}
	return say(d.Dry)
}

func (c *balanceCommand) print(w *world, p *plan.Plan, out *balanced) error {
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
	if err := printInventory(w, p, out.lines); err != nil {
		return err
	}
	o := &out.organic
	w.say("\nOrganic dry matter up to the end: %s received, %s handed over, %s standing%s.", p.Mass(o.In.Dry), p.Mass(o.Out.Dry), p.Mass(o.Standing.Dry), unknownNote(o.Unknown))
	return nil
}

func (c *balanceCommand) printProcesses(w *world, p *plan.Plan, out *balanced) error {
	w.say("\nPROCESSES, on dry matter")
	n := map[audit.Verdict]int{}
	show := func(m records.Micrograms) string { return p.Mass(m) }
	var rows [][]string
	for _, x := range out.Processes {
		n[x.Verdict]++
		outside := x.Verdict == audit.Above || x.Verdict == audit.Below || x.ByProductVerdict == audit.Above || x.ByProductVerdict == audit.Below
		if !outside && !c.All {
			continue
		}
		loss, says := "", string(x.Verdict)
		if x.Loss != nil {
			loss = fmt.Sprintf("%.1f %%", 100**x.Loss)
		}
		if x.ByProductVerdict == audit.Above || x.ByProductVerdict == audit.Below {
			says += ", by-product " + string(x.ByProductVerdict)
		}
		made := ""
		if len(x.Lots) > 0 {
			made = string(x.Lots[0])
		}
		rows = append(rows, []string{shown(p, x.When), x.What, made, dryKnown(x.in, show), dryKnown(x.out, show), loss, x.Band.String(), says})
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
func printWholes(w *world, p *plan.Plan, out *balanced) error {
	var rows [][]string
	for _, x := range out.Whole {
		if x.Verdict == audit.Above || x.Verdict == audit.Below {
			rows = append(rows, []string{string(x.Lot), fmt.Sprintf("%.1f %% less dry matter than its grain; the plan expects %s", 100*x.Loss, x.Band), string(x.Verdict)})
		}
	}
	for _, x := range out.Bags {
		if x.Verdict == audit.Above || x.Verdict == audit.Below {
			than, by := "less", x.differs
			if by < 0 {
				than, by = "more", -by
			}
			rows = append(rows, []string{string(x.Lot), fmt.Sprintf("%s are labelled with %s %s than came out", plural(x.Bags, "bag"), p.Mass(by), than), string(x.Verdict)})
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
