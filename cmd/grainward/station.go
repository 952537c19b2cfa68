package main

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"grainward/audit"
	"grainward/audit/trace"
	"grainward/exports/columns"
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
	g := audit.JudgeGoods(st, to)
	if !knownStation(st, c.Code) { // the trace knows what is spelt nearly so
		if _, _, err := trace.Resolve(st, g.Floor, trace.Subject{Text: string(c.Code), Of: trace.OfStation, Code: string(c.Code), To: lots.Forever}); err != nil {
			return err
		}
	}
	out := c.gather(g, from, to)
	if c.JSON {
		return w.writeJSON(out)
	}
	return c.print(w, st, p, g, out)
}

func knownStation(st *state.State, code records.StationCode) bool {
	return slices.ContainsFunc(st.Plans(), func(in state.InForce) bool { return in.Plan.Station(code) != nil })
}

func (c *stationCommand) gather(g *audit.Goods, from, to records.Instant) stationJSON {
	out := stationJSON{Format: 1, Station: c.Code, From: from, To: to, Contents: []contentJSON{}, Residents: []records.LotCode{}, Events: []stationEvent{}, Arrivals: []arrivalJSON{}}
	here, _ := g.Contents(lots.Place{Station: c.Code})
	for _, l := range here {
		out.Contents = append(out.Contents, contentJSON{l.Code, kilograms(l.At.Of(lots.Place{Station: c.Code}))})
	}
	if s := g.Stations[c.Code]; s != nil && s.Mixed {
		for _, i := range s.Residents {
			out.Residents = append(out.Residents, g.Lots[i].Code)
		}
	}
	for k := range g.Contacts[c.Code].All() {
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
	for _, a := range g.Segregation.At(c.Code).Arrivals {
		if from <= a.Contact.From && a.Contact.From <= to {
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

func (c *stationCommand) print(w *world, st *state.State, p *plan.Plan, g *audit.Goods, out stationJSON) error {
	w.say("%s at %s", stationName(p, c.Code), shown(p, out.To))
	if len(out.Contents) == 0 {
		w.say("  nothing is there by the records")
	}
	for _, x := range out.Contents {
		l := g.Find(x.Lot)
		w.say("  %14s  lot %s, %s %s", p.Mass(l.At.Of(lots.Place{Station: c.Code})), x.Lot, l.Status, l.Item)
	}
	if len(out.Residents) > 0 {
		w.say("  lots since it was last proven empty (what is left of each is an estimate): %s", lotCodes(out.Residents))
	}
	w.say("\nTIMELINE")
	var rows [][]string
	for _, e := range out.Events {
		until := "still there"
		switch {
		case e.To == e.From:
			until = "passed"
		case e.To != 0:
			until = shown(p, e.To)
		}
		what := ""
		switch l := g.Find(e.Lot); {
		case e.What == "clean-out":
			what = "clean-out: " + gradeTitle(st.PlanAt(e.To), *e.Grade)
		case e.Purge:
			what = "lot " + string(e.Lot) + ", run through to clean"
		default:
			what = fmt.Sprintf("lot %s, %s %s", e.Lot, l.Status, l.Item)
		}
		rows = append(rows, []string{shown(p, e.From), until, what, fmt.Sprint(e.Position)})
	}
	if len(rows) == 0 {
		w.say("nothing in this period")
	} else if err := columns.Write(w.out, []string{"from", "until", "what", "entry"}, "lllr", rows); err != nil {
		return err
	}
	if len(out.Arrivals) == 0 {
		return nil
	}
	w.say("\nARRIVALS AFTER UNLIKE CONTENTS")
	rows = nil
	for _, a := range out.Arrivals {
		rows = append(rows, []string{shown(p, a.At), string(a.Lot), string(a.After), shown(p, a.Since), string(a.Need), evidenceWords(st, p, &a)})
	}
	return columns.Write(w.out, []string{"when", "lot", "after lot", "gone since", "needs", "between them"}, "llllll", rows)
}

// evidenceWords says what is on record between unlike contents.
func evidenceWords(st *state.State, p *plan.Plan, a *arrivalJSON) string {
	of := func(pos records.Position) string {
		r := st.First(pos)
		what := "clean-out"
		if r.Kind == records.KindPurge {
			what = "purge"
		}
		return fmt.Sprintf("%s %s, %s, entry %d", what, shown(p, r.Happened), r.Performer(), pos)
	}
	switch {
	case a.Evidence != nil:
		return of(*a.Evidence)
	case a.Weak != nil:
		return "GAP: less than the plan asks for, " + of(*a.Weak)
	}
	return "GAP: nothing"
}

func stationName(p *plan.Plan, code records.StationCode) string {
	if p != nil {
		if s := p.Station(code); s != nil {
			return fmt.Sprintf("%s (station %s)", s.Title.In(p.Plant.Languages[0]), code)
		}
	}
	return string(code)
}

func gradeTitle(p *plan.Plan, rank int) string {
	if p != nil && rank < len(p.Grades) {
		return p.Grades[rank].Title.In(p.Plant.Languages[0])
	}
	return fmt.Sprint("grade ", rank)
}

func lotCodes(codes []records.LotCode) string {
	texts := make([]string, len(codes))
	for i, c := range codes {
		texts[i] = string(c)
	}
	return strings.Join(texts, ", ")
}
