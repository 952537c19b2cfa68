package main

import (
	"context"
	"fmt"
	"slices"

	"grainward/audit"
	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/sqlite"
	"grainward/records/state"
)

type stationCommand struct {
	plantFlag
	periodFlags
	Code records.StationCode `arg:"" help:"The station's code in the plan."`
	JSON bool                `name:"json" help:"Print one JSON object."`
}

// Help is the long help of the command, and the documentation of its JSON.
func (*stationCommand) Help() string {
	return `What is at a station at the end of the period, and its timeline: lots that were there or ran through, clean-outs, and for each arrival after unlike contents the evidence between them or the gap.

With --json, one object: "format": 1; "station"; "from", "to"; "contents": each "lot" and "mass" in decimal kilograms as text; "residents": lots since a mixed station was last proven empty; "events", in order: each with "what" (contact, clean-out), "from", "to" (left out while it lasts), "lot" or "grade" (a rank, 0 the weakest), "purge", "position"; "arrivals": each with "lot", "after", "at", "since", "need", "evidence" and "weak" (positions; left out when there is none). All times are UTC.`
}

type stationEvent struct {
	What     string           `json:"what"`
	From     records.Instant  `json:"from"`
	To       records.Instant  `json:"to,omitzero"`
	Lot      records.LotCode  `json:"lot,omitzero"`
	Grade    *int             `json:"grade,omitzero"`
	Purge    bool             `json:"purge,omitzero"`
	Position records.Position `json:"position"`
}

type arrivalJSON struct {
	Lot      records.LotCode   `json:"lot"`
	After    records.LotCode   `json:"after"`
	At       records.Instant   `json:"at"`
	Since    records.Instant   `json:"since"`
	Need     records.GradeCode `json:"need"`
	Evidence *records.Position `json:"evidence,omitzero"`
	Weak     *records.Position `json:"weak,omitzero"`
}

type stationJSON struct {
	Format    int                 `json:"format"`
	Station   records.StationCode `json:"station"`
	From      records.Instant     `json:"from"`
	To        records.Instant     `json:"to"`
	Contents  []contentJSON       `json:"contents"`
	Residents []records.LotCode   `json:"residents"`
	Events    []stationEvent      `json:"events"`
	Arrivals  []arrivalJSON       `json:"arrivals"`
}

type contentJSON struct {
	Lot  records.LotCode `json:"lot"`
	Mass string          `json:"mass"`
}

func (c *stationCommand) Run(ctx context.Context, w *world) error {
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
	if !knownStation(st, c.Code) {
		return &records.Error{Kind: records.NotFound, What: fmt.Sprintf("no plan of this plant has a station %q", c.Code), Do: "Its stations are listed in plan.yaml under `stations`."}
	}
	g := audit.JudgeGoods(st, to)
	out := c.gather(g, from, to)
	if c.JSON {
		return writeJSON(w, out)
	}
	c.print(w, p, g, out)
	return nil
}

func knownStation(st *state.State, code records.StationCode) bool {
	return slices.ContainsFunc(st.Plans(), func(in state.InForce) bool { return in.Plan.Station(code) != nil })
}

func (c *stationCommand) gather(g *audit.Goods, from, to records.Instant) stationJSON {
	out := stationJSON{Format: 1, Station: c.Code, From: from, To: to, Contents: []contentJSON{}, Residents: []records.LotCode{}, Events: []stationEvent{}, Arrivals: []arrivalJSON{}}
	here, _ := g.Contents(lots.Place{Station: c.Code})
	for _, l := range here {
		out.Contents = append(out.Contents, contentJSON{l.Code, kilograms(l.At[lots.Place{Station: c.Code}])})
	}
	if s := g.Stations[c.Code]; s != nil && s.Mixed {
		for _, i := range s.Residents {
			out.Residents = append(out.Residents, g.Lots[i].Code)
		}
	}
	for _, k := range g.Contacts[c.Code] {
		if k.To < from || k.From > to {
			continue
		}
		e := stationEvent{What: "contact", From: k.From, To: k.To, Lot: g.Lots[k.Lot].Code, Purge: k.Purge, Position: k.Began.Position}
		if k.To == lots.Forever {
			e.To = 0
		}
		out.Events = append(out.Events, e)
	}
	for _, k := range g.CleanOuts[c.Code] {
		if k.To >= from && k.From <= to {
			out.Events = append(out.Events, stationEvent{What: "clean-out", From: k.From, To: k.To, Grade: &k.Grade, Position: k.Record.Position})
		}
	}
	slices.SortStableFunc(out.Events, func(a, b stationEvent) int { return int(min(1, max(-1, a.From-b.From))) })
	for _, a := range g.Segregation.Arrivals {
		if a.Station == c.Code && from <= a.Contact.From && a.Contact.From <= to {
			out.Arrivals = append(out.Arrivals, arrivalJSON{g.Lots[a.Lot].Code, g.Lots[a.After].Code, a.Contact.From, a.Since, a.Need, positionOf(a.Evidence), positionOf(a.Weak)})
		}
	}
	return out
}

func positionOf(r *state.Record) *records.Position {
	if r == nil {
		return nil
	}
	return &r.Position
}

func (c *stationCommand) print(w *world, p *plan.Plan, g *audit.Goods, out stationJSON) {
	w.say("%s at %s", c.Code, shown(p, out.To))
	if len(out.Contents) == 0 {
		w.say("  nothing is there by the records")
	}
	for _, x := range out.Contents {
		w.say("  %14s  lot %s", massShown(p, g.Find(x.Lot).At[lots.Place{Station: c.Code}]), x.Lot)
	}
	if len(out.Residents) > 0 {
		w.say("  residents since it was last proven empty (masses are estimates): %v", out.Residents)
	}
	w.say("\nTimeline")
	for _, e := range out.Events {
		until := "still there"
		switch {
		case e.To == e.From:
			until = "passed"
		case e.To != 0:
			until = "to " + shown(p, e.To)
		}
		what := "lot " + string(e.Lot)
		switch {
		case e.What == "clean-out":
			what, until = "clean-out, grade "+gradeName(p, *e.Grade), "done "+shown(p, e.To)
		case e.Purge:
			what += ", a purge"
		}
		w.say("  %s  %-24s  %s (entry %d)", shown(p, e.From), until, what, e.Position)
	}
	if len(out.Events) == 0 {
		w.say("  nothing in this period")
	}
	if len(out.Arrivals) > 0 {
		w.say("\nArrivals after unlike contents")
	}
	for _, a := range out.Arrivals {
		verdict := "GAP: nothing between them is on record"
		switch {
		case a.Evidence != nil:
			verdict = fmt.Sprintf("cleaned or purged between (entry %d)", *a.Evidence)
		case a.Weak != nil:
			verdict = fmt.Sprintf("LESS than the plan asks for (entry %d)", *a.Weak)
		}
		w.say("  %s  %s after %s, gone since %s; needs %s: %s", shown(p, a.At), a.Lot, a.After, shown(p, a.Since), a.Need, verdict)
	}
}

func gradeName(p *plan.Plan, rank int) string {
	if p != nil && rank < len(p.Grades) {
		return string(p.Grades[rank].Code)
	}
	return fmt.Sprint(rank)
}
