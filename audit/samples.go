package audit

import (
	"fmt"
	"slices"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

func sampleRules() []Rule {
	return []Rule{
		{Code: "samples-few", Severity: Minor, Says: says(
			"Lot {lot} was shipped on {day} and {n} retained samples of it were set aside; the plan asks for {want}.",
			"El lote {lot} salió el {day} y se apartaron {n} muestras de retención; el plan pide {want}.")},
		{Code: "samples-many", Severity: Note, Says: says(
			"{n} retained samples of lot {lot} were set aside; the plan asks for {want}.",
			"Se apartaron {n} muestras de retención del lote {lot}; el plan pide {want}.")},
		{Code: "samples-early", Severity: Minor, Says: says(
			"Retained samples of lot {lot} were thrown out on {day}, which left {n}; its best-by is {due} and the plan asks for {want} until then.",
			"Se tiraron muestras de retención del lote {lot} el {day} y quedaron {n}; su consumo preferente es {due} y el plan pide {want} hasta entonces.")},
	}
}

// samplesBack is how many steps back samples of the same item count for a lot: kilned, cleaned, bagged. They are often set
// aside once, before a batch is bagged under codes of its own.
const samplesBack = 3

// samples holds what was retained against the plan's range, once a lot has shipped. What was set aside counts, thrown
// out later or not; throwing out is judged by itself, and is early before the best-by day is over (common practice, no
// source: samples are kept as long as a customer may still have the lot).
func (j *goodsJudge) samples(i int, s *shelf) {
	l := j.f.Lots[i]
	if slices.ContainsFunc(l.Events, func(r *state.Record) bool {
		fact, ok := r.Fact.(*records.Sample)
		return ok && fact.Act == "discarded" && fact.Lot == l.Code
	}) {
		j.thrownOut(l, s)
	}
	t := j.shipping(l)
	if t == nil {
		return
	}
	p := j.st.PlanAt(t.Record.Happened)
	band := retained(p, l)
	if band == nil {
		return
	}
	own, all := kept(l), j.keptBack(i, samplesBack)
	want := title("want", limitWords(*band, ""))
	switch {
	case band.Min != nil && records.NewDecimal(int64(all), 0).Cmp(*band.Min) < 0:
		j.find("samples-few", string(l.Code), t.Record.Happened, lotSubject(l),
			[]Value{word("lot", string(l.Code)), word("day", p.Day(t.Record.Happened).String()), count("n", all), want}, t.Record)
	case band.Max != nil && records.NewDecimal(int64(own), 0).Cmp(*band.Max) > 0:
		j.find("samples-many", string(l.Code), t.Record.Happened, lotSubject(l), []Value{word("lot", string(l.Code)), count("n", own), want}, t.Record)
	}
}

// shipping is the transfer by which a lot first left for sale or storage, or nil.
func (j *goodsJudge) shipping(l *lots.Lot) *lots.Transfer {
	for _, i := range l.Handed {
		if t := j.f.Transfers[i]; t.Handover != nil && forPeople(t.Handover.Use) {
			return t
		}
	}
	return nil
}

func retained(p *plan.Plan, l *lots.Lot) *plan.Range {
	if p == nil {
		return nil
	}
	if item := p.Item(l.Item); item != nil {
		return item.Retained
	}
	return nil
}

// kept is how many samples of a lot were ever set aside.
func kept(l *lots.Lot) (n int) {
	for _, r := range l.Events {
		if fact, ok := r.Fact.(*records.Sample); ok && fact.Act != "discarded" && fact.Lot == l.Code {
			n += fact.Number
		}
	}
	return n
}

// keptBack also counts those of the lots of the same item that a lot was made from.
func (j *goodsJudge) keptBack(lot, steps int) int {
	seen := map[int]bool{}
	var count func(lot, steps int) int
	count = func(lot, steps int) int {
		if seen[lot] {
			return 0
		}
		seen[lot] = true
		l := j.f.Lots[lot]
		n := kept(l)
		if steps == 0 {
			return n
		}
		for _, s := range l.Made {
			for _, in := range j.f.Steps[s].In {
				if j.f.Lots[in.Lot].Item == l.Item {
					n += count(in.Lot, steps-1)
				}
			}
		}
		return n
	}
	return count(lot, steps)
}

// thrownOut says of a lot's samples whether they were thrown out too early; once a lot.
func (j *goodsJudge) thrownOut(l *lots.Lot, s *shelf) {
	due, n := s.bestBy(), 0
	if due == nil {
		return
	}
	for _, r := range l.Events {
		fact, ok := r.Fact.(*records.Sample)
		if !ok || fact.Lot != l.Code {
			continue
		}
		if fact.Act != "discarded" {
			n += fact.Number
			continue
		}
		n -= fact.Number
		p := j.st.PlanAt(r.Happened)
		band := retained(p, l)
		if band == nil || band.Min == nil || records.NewDecimal(int64(n), 0).Cmp(*band.Min) >= 0 || p.Day(r.Happened) > *due {
			continue
		}
		j.find("samples-early", string(l.Code), r.Happened, lotSubject(l), []Value{word("lot", string(l.Code)), word("day", p.Day(r.Happened).String()),
			word("n", fmt.Sprint(n)), word("due", due.String()), title("want", limitWords(*band, ""))}, r)
		return
	}
}
