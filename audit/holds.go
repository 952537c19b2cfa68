package audit

import (
	"cmp"
	"slices"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

func holdRules() []Rule {
	// C17: 21 CFR 117.110(b), seen
	blend := []records.Clause{"21 CFR 117.110(b)"}
	return []Rule{
		{Code: "stopped-moved", Severity: Minor, Says: says(
			"Lot {lot} was {stopped} on {since} and was moved from {from} to {to}.",
			"El lote {lot} fue {stopped} el {since} y se movió de {from} a {to}.")},
		{Code: "stopped-used", Severity: Minor, Clauses: blend, Says: says(
			"Lot {lot} was {stopped} on {since} and was used in {process}; nothing for people was made of it.",
			"El lote {lot} fue {stopped} el {since} y se usó en {process}; no se hizo nada para personas.")},
		{Code: "stopped-made", Severity: Critical, Clauses: blend, Says: says(
			"Lot {lot} was {stopped} on {since} and became part of lot {made} by {process}.",
			"El lote {lot} fue {stopped} el {since} y pasó a formar parte del lote {made} por {process}.")},
		{Code: "stopped-shipped", Severity: Critical, Clauses: []records.Clause{"21 CFR 117.80(a)"}, Says: says(
			"Lot {lot} was {stopped} on {since} and went to {partner} for {use}.",
			"El lote {lot} fue {stopped} el {since} y salió para {partner} como {use}.")},
		{Code: "rejected-parent", Severity: Major, Clauses: blend, Says: says(
			"Lot {lot} was rejected on {since}; lot {made}, which had been made from it, is neither held nor rejected.",
			"El lote {lot} fue rechazado el {since}; el lote {made}, hecho antes con él, no está retenido ni rechazado.")},
	}
}

// change is a moment from which a lot was held, rejected or free.
type change struct {
	by   *state.Record
	stop stopped
}

type stopped int

const (
	free stopped = iota
	onHold
	rejected
)

var stoppedWords = [...]plan.Text{onHold: says("held", "retenido"), rejected: says("rejected", "rechazado")}

// changes are a lot's holds and releases in order. A hold of a rejected lot does not make it better; a release frees
// it of all there is, unless it rejects.
func changes(l *lots.Lot) (out []change) {
	if !l.Stopped() {
		return nil
	}
	now := free
	for _, r := range l.Events {
		was := now
		switch fact := r.Fact.(type) {
		case *records.Hold:
			now = max(now, onHold)
		case *records.Release:
			now = free
			if fact.Rejected {
				now = rejected
			}
		}
		if now != was {
			out = append(out, change{r, now})
		}
	}
	return out
}

// before is how a lot stood when an entry happened; nil when it was free.
func before(cs []change, r *state.Record) (at *change) {
	for i := range cs {
		if c := cs[i].by; cmp.Or(cmp.Compare(c.Happened, r.Happened), cmp.Compare(c.Position, r.Position)) >= 0 {
			break
		}
		at = &cs[i]
	}
	if at == nil || at.stop == free {
		return nil
	}
	return at
}

// stoppedMoves are the moves of a lot while it was stopped.
func (j *goodsJudge) stoppedMoves(l *lots.Lot) {
	all := changes(l)
	if len(all) == 0 {
		return
	}
	for _, r := range l.Events {
		if move, ok := r.Fact.(*records.Move); ok {
			j.stoppedMoved(l, before(all, r), move, r)
		}
	}
}

// stoppedInputs are the stopped lots that went into a step.
func (j *goodsJudge) stoppedInputs(step *lots.Step) {
	if !slices.ContainsFunc(step.In, func(p lots.Portion) bool { return j.f.Lots[p.Lot].Stopped() }) {
		return
	}
	for _, lot := range wentIn(step) {
		j.stoppedUsed(lot, before(changes(j.f.Lots[lot]), step.Record), step)
	}
}

// stoppedOut are the stopped lots that were handed over.
func (j *goodsJudge) stoppedOut(t *lots.Transfer) {
	for _, portion := range t.Portions {
		if portion.Mass > 0 {
			j.stoppedShipped(portion.Lot, before(changes(j.f.Lots[portion.Lot]), t.Record), t)
		}
	}
}

// wentIn are the lots that went into a step, each once. A resident of a silo of which nothing is left by computation
// is no input here: it would hold up a silo for ever.
func wentIn(step *lots.Step) (out []int) {
	seen := map[int]bool{}
	for _, in := range step.In {
		if in.Mass > 0 && !seen[in.Lot] {
			seen[in.Lot] = true
			out = append(out, in.Lot)
		}
	}
	return out
}

func (j *goodsJudge) stopValues(l *lots.Lot, c *change, p *plan.Plan) []Value {
	return []Value{word("lot", string(l.Code)), title("stopped", stoppedWords[c.stop]), word("since", p.Day(c.by.Happened).String())}
}

func (j *goodsJudge) stoppedMoved(l *lots.Lot, c *change, move *records.Move, r *state.Record) {
	p := j.st.PlanAt(r.Happened)
	if c == nil || p == nil {
		return
	}
	j.find("stopped-moved", r.ID.String()+"/"+string(l.Code), r.Happened, Subject{Lot: l.Code, Item: l.Item, Station: move.From},
		append(j.stopValues(l, c, p), title("from", stationTitle(p, move.From)), title("to", stationTitle(p, move.To))), c.by, r)
}

// stoppedUsed: to become waste, or by-product that is watched by its own rules, is what a rejected lot is for.
func (j *goodsJudge) stoppedUsed(lot int, c *change, step *lots.Step) {
	r := step.Record
	p := j.st.PlanAt(r.Happened)
	if c == nil || p == nil {
		return
	}
	l := j.f.Lots[lot]
	values := append(j.stopValues(l, c, p), word("process", step.What))
	good := false
	for _, o := range step.Out {
		if made := j.f.Lots[o.Lot]; j.isGood(p, o) {
			good = true
			j.find("stopped-made", r.ID.String()+"/"+string(l.Code)+"/"+string(made.Code), r.Happened, lotSubject(l), append(values[:len(values):len(values)], word("made", string(made.Code))), c.by, r)
		}
	}
	if !good && c.stop == onHold {
		j.find("stopped-used", r.ID.String()+"/"+string(l.Code), r.Happened, lotSubject(l), values, c.by, r)
	}
}

// isGood says whether what came out is meant for people: no by-product and no waste.
func (j *goodsJudge) isGood(p *plan.Plan, o lots.Made) bool {
	return o.Output.Disposal == "" && stageOf(p, j.f.Lots[o.Lot]) != "by-product"
}

// stoppedShipped: a sample to the laboratory is how one learns whether to free a lot, and a rejected lot has to go
// somewhere; a held one that leaves for good before anybody decided is no longer held. To people is gravest; feed that
// was stopped as such, or goods held, to a farm are grave; what was rejected for people may become feed, if the authority agrees.
func (j *goodsJudge) stoppedShipped(lot int, c *change, t *lots.Transfer) {
	r, use := t.Record, t.Handover.Use
	p := j.st.PlanAt(r.Happened)
	if c == nil || p == nil || use == records.ForTest || c.stop == rejected && !forPeople(use) && use != records.Feed {
		return
	}
	l := j.f.Lots[lot]
	fd := j.find("stopped-shipped", r.ID.String()+"/"+string(l.Code), r.Happened, Subject{Lot: l.Code, Item: l.Item, Partner: t.To.Holder},
		append(j.stopValues(l, c, p), word("partner", partnerName(p, t.To.Holder)), title("use", useWords(use))), c.by, r)
	switch {
	case forPeople(use):
	case use == records.Feed && (c.stop == onHold || stageOf(p, l) == "by-product"):
		fd.Severity = Major
	default:
		fd.Severity = Minor
	}
}

// forPeople says whether goods went on their way to be eaten by people.
func forPeople(u records.Use) bool { return u == records.Sale || u == records.Storage }

// rejectedParents looks forward from lots that stand rejected: what was made of them earlier, and of that, and is
// itself neither held nor rejected at the moment. Steps are those that any of it went into, in order.
func (j *goodsJudge) rejectedParents(rejected []int) {
	from := map[int]int{} // lot: the rejected lot it goes back to
	for _, i := range rejected {
		from[i] = i
	}
	for _, i := range downstream(j.f, rejected) {
		step := j.f.Steps[i]
		p := j.st.PlanAt(step.Record.Happened)
		for _, in := range wentIn(step) {
			bad, is := from[in]
			if !is || p == nil {
				continue
			}
			said := in == bad && before(changes(j.f.Lots[in]), step.Record) != nil // stopped by then already: stopped-made says it
			for _, o := range step.Out {
				made := j.f.Lots[o.Lot]
				if _, known := from[o.Lot]; known || !j.isGood(p, o) {
					continue
				}
				from[o.Lot] = bad
				if said || made.HeldAt(j.f.At) {
					continue
				}
				l := j.f.Lots[bad]
				j.find("rejected-parent", string(l.Code)+"/"+string(made.Code), l.Rejected.Happened, lotSubject(made),
					[]Value{word("lot", string(l.Code)), word("since", p.Day(l.Rejected.Happened).String()), word("made", string(made.Code))}, l.Rejected, step.Record)
			}
		}
	}
}

// downstream are the steps that lots, or what was made of them, went into; in order.
func downstream(f *lots.Floor, from []int) []int {
	var lots, steps marks
	for _, lot := range from {
		lots.add(lot)
	}
	for k := 0; k < len(lots.list); k++ { // it grows on the way
		for _, s := range f.Lots[lots.list[k]].Spent {
			if steps.has(s) {
				continue
			}
			steps.add(s)
			for _, o := range f.Steps[s].Out {
				lots.add(o.Lot)
			}
		}
	}
	return steps.sorted()
}
