package server

import (
	"math"

	"grainward/audit"
	"grainward/exports/lineage"
	"grainward/records"
	"grainward/records/calendar"
	"grainward/server/openapi"
)

// balanceJSON is the answer of /api/balance: masses of a period, to the gram and below.
type balanceJSON struct {
	From  calendar.Date `json:"from"`
	To    calendar.Date `json:"to"`
	Lines []lineJSON    `json:"lines"` // opening + received + made - used - sent - sampled + unexplained = closing
	Steps []stepJSON    `json:"steps"` // processes of the period
}

type lineJSON struct {
	Item        records.ItemCode `json:"item"`
	Status      records.Status   `json:"status"`
	Opening     lineage.Kg       `json:"opening"`
	Received    lineage.Kg       `json:"received"`
	Made        lineage.Kg       `json:"made"`
	Used        lineage.Kg       `json:"used"`
	Sent        lineage.Kg       `json:"sent"`
	Sampled     lineage.Kg       `json:"sampled"`
	Unexplained lineage.Kg       `json:"unexplained"`
	Closing     lineage.Kg       `json:"closing"`
}

// stepJSON is dry matter in against out.
type stepJSON struct {
	Entry   records.Position `json:"entry"`
	Process string           `json:"process"`
	In      lineage.Kg       `json:"in"`
	Out     lineage.Kg       `json:"out"`
	Loss    *float64         `json:"loss,omitempty"` // share of the dry matter; absent when a moisture is missing
	Verdict audit.Verdict    `json:"verdict"`        // within, below, above the plan's band, or unknown
}

var periodQuery = []openapi.Query{
	{Name: "from", Says: "the first day, like 2026-03-01; the first of this month unless said"},
	{Name: "to", Says: "the last day; today unless said"},
}

func (s *Server) apiBalance(r *request) (reply, error) {
	today := r.plan.Day(r.now)
	_, _, dom := today.Civil()
	from, err := r.askedDay("from", today.AddDays(1-dom))
	if err != nil {
		return reply{}, err
	}
	to, err := r.askedDay("to", today)
	if err != nil {
		return reply{}, err
	}
	if to < from {
		return reply{}, queryFault("to", to.String(), r.say("days-reversed"))
	}
	rep := s.report()
	opens := r.start(from)
	closes := max(opens-1, min(r.start(to.AddDays(1))-1, rep.At))
	out := balanceJSON{From: from, To: to}
	_, floors := s.judge.floors(opens-1, closes)
	for _, l := range audit.Reconcile(floors[0], floors[1]) {
		out.Lines = append(out.Lines, lineJSON{l.Item, l.Status, lineage.Kg(l.Opening), lineage.Kg(l.Received), lineage.Kg(l.Made), lineage.Kg(l.Used), lineage.Kg(l.Sent),
			lineage.Kg(l.Sampled), lineage.Kg(l.Unexplained), lineage.Kg(l.Closing)})
	}
	for _, b := range rep.Goods.Balance.Steps() {
		step := rep.Goods.Steps[b.Step]
		if step.Record.Happened < opens || step.Record.Happened > closes {
			continue
		}
		one := stepJSON{Entry: step.Record.Position, Process: step.What, In: lineage.Kg(b.In.Mass), Out: lineage.Kg(b.Out.Mass), Verdict: b.Verdict}
		if !math.IsNaN(b.Loss) {
			one.Loss = &b.Loss
		}
		out.Steps = append(out.Steps, one)
	}
	return reply{json: out}, nil
}
