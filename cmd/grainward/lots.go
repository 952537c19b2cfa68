package main

import (
	"context"
	"slices"
	"strings"

	"grainward/audit"
	"grainward/exports/columns"
	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/lots"
	"grainward/records/sqlite"
)

type lotsCommand struct {
	plantFlag
	momentFlags
	All  bool `help:"Also lots of which nothing stands with us any more but retained samples."`
	JSON bool `name:"json" help:"Print one JSON object."`
}

// Help is the long help of the command, and the documentation of its JSON.
func (*lotsCommand) Help() string {
	return `The lots that stand at the plant: item, organic status, the chain-of-custody model their history reached in the terms of ISO 22095 (identity preserved, segregated, not segregated), where they are and how much, whether they are held, and the best-by dates printed on them. Of a lot at several places each has a line.

With --json, one object: "format": 1; "at"; "lots": each with "lot", "item", "status", "model", "begins", "held", "bestBy" (as printed, when it was), "kilnDates", "samples" (retained, how many), "entered", "standing" (masses in decimal kilograms as text), and "places": each with "place" (a station, or "retained samples"), "holder" (a partner, instead) and "mass". All times are UTC.`
}

type lotJSON struct {
	Lot      records.LotCode  `json:"lot"`
	Item     records.ItemCode `json:"item"`
	Status   records.Status   `json:"status"`
	Model    audit.Model      `json:"model"`
	Begins   records.Instant  `json:"begins"`
	Held     bool             `json:"held"`
	BestBy   []calendar.Date  `json:"bestBy"`
	Kilned   []calendar.Date  `json:"kilnDates"`
	Samples  int              `json:"samples"`
	Entered  string           `json:"entered"`
	Standing string           `json:"standing"`
	Places   []placeJSON      `json:"places"`
}

type placeJSON struct {
	Place  records.StationCode `json:"place,omitzero"`
	Holder records.PartnerCode `json:"holder,omitzero"`
	Mass   string              `json:"mass"`
}

func (c *lotsCommand) Run(ctx context.Context, w *world) error {
	b, err := c.openBook(ctx, w, sqlite.Read)
	if err != nil {
		return err
	}
	defer b.Close()
	st, at, p, err := c.of(b.View().State, w.instant())
	if err != nil {
		return err
	}
	g := audit.JudgeGoods(st, at)
	list := []lotJSON{}
	for i, l := range g.Lots {
		row := lotJSON{Lot: l.Code, Item: l.Item, Status: l.Status, Model: g.Segregation.Models[i], Begins: l.Begins, Held: l.HeldAt(at), BestBy: printedBestBy(l), Kilned: append([]calendar.Date{}, l.KilnDates()...), Samples: l.Samples,
			Entered: kilograms(l.Entered), Standing: kilograms(l.Standing()), Places: places(l)}
		here := slices.ContainsFunc(row.Places, func(x placeJSON) bool { return x.Holder == "" && x.Place != lots.Samples.Station })
		if here || c.All {
			list = append(list, row)
		}
	}
	slices.SortFunc(list, func(a, b lotJSON) int { return strings.Compare(string(a.Lot), string(b.Lot)) })
	if c.JSON {
		return w.writeJSON(struct {
			Format int             `json:"format"`
			At     records.Instant `json:"at"`
			Lots   []lotJSON       `json:"lots"`
		}{1, at, list})
	}
	if len(list) == 0 {
		w.say("No lots stand at the plant at %s.", shown(p, at))
		return nil
	}
	var rows [][]string
	for _, row := range list {
		held := ""
		if row.Held {
			held = "HELD"
		}
		rows = append(rows, []string{string(row.Lot), string(row.Item), string(row.Status), custody(row.Model), "", "", held, dates(row.BestBy)})
		for k, x := range row.Places {
			if k > 0 {
				rows = append(rows, make([]string, 8))
			}
			where := "at " + string(x.Place)
			if x.Holder != "" {
				where = "with " + string(x.Holder)
			}
			last := rows[len(rows)-1]
			last[4], last[5] = p.Mass(g.Find(row.Lot).At.Of(lots.Place{Station: x.Place, Holder: x.Holder})), where
		}
	}
	if err := columns.Write(w.out, []string{"lot", "item", "status", "custody", "mass", "where", "held", "best by"}, "llllrlll", rows); err != nil {
		return err
	}
	w.say("Custody, in the terms of ISO 22095: identity preserved, segregated, or neither.")
	return nil
}

// custody is a model in one word, so that a lot has a line.
func custody(m audit.Model) string {
	switch m {
	case audit.IdentityPreserved:
		return "preserved"
	case audit.Segregated:
		return "segregated"
	}
	return "neither"
}

func dates(ds []calendar.Date) string {
	var texts []string
	for _, d := range ds {
		texts = append(texts, d.String())
	}
	return strings.Join(texts, ", ")
}

func places(l *lots.Lot) (out []placeJSON) {
	out = []placeJSON{}
	for at, m := range l.At.All() {
		out = append(out, placeJSON{at.Station, at.Holder, kilograms(m)})
	}
	slices.SortFunc(out, func(a, b placeJSON) int {
		return strings.Compare(string(a.Holder)+" "+string(a.Place), string(b.Holder)+" "+string(b.Place))
	})
	return out
}

func printedBestBy(l *lots.Lot) []calendar.Date {
	out := []calendar.Date{}
	for _, o := range l.Outputs {
		if o.BestBy != nil && !slices.Contains(out, *o.BestBy) {
			out = append(out, *o.BestBy)
		}
	}
	slices.Sort(out)
	return out
}

// kilograms is a mass in decimal kilograms, exactly.
func kilograms(m records.Micrograms) string {
	return records.NewDecimal(int64(m), 9).String()
}
