package audit

import (
	"cmp"
	"slices"
	"strings"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

func assumptionRules() []Rule {
	trail := []records.Clause{"7 CFR 205.103"}
	return []Rule{
		{Code: "unknown-lot", Severity: Major, Clauses: trail, Says: says(
			"A {kind} names lot {lot}, which by then had been neither received nor made.",
			"Un registro ({kind}) nombra el lote {lot}, que hasta entonces no se había recibido ni hecho.")},
		{Code: "two-kinds", Severity: Major, Clauses: trail, Says: says(
			"Lot {lot} is {item}, {status}; more was added to it as something else.",
			"El lote {lot} es {item}, {status}; se le añadió más como otra cosa.")},
		{Code: "short", Severity: Minor, Clauses: trail, Says: says(
			"{mass} more of lot {lot} was taken from {place} than the records have there.",
			"Se sacó de {place} {mass} más del lote {lot} de lo que los registros tienen allí.")},
		{Code: "two-places", Severity: Major, Clauses: trail, Says: says(
			"Lot {lot} was taken from {place}, and by the records it was not there but at {elsewhere}.",
			"El lote {lot} se sacó de {place}, y según los registros no estaba allí sino en {elsewhere}.")},
		{Code: "not-holder", Severity: Major, Clauses: trail, Says: says(
			"{place} handed on {mass} more of lot {lot} than by the records it held.",
			"{place} entregó {mass} más del lote {lot} de lo que según los registros tenía.")},
		{Code: "nothing-there", Severity: Major, Clauses: trail, Says: says(
			"{mass} was taken from or counted at {place}, where the records have nothing.",
			"Se sacó de {place} o se contó allí {mass}, y los registros no tienen nada allí.")},
		{Code: "which-lot", Severity: Major, Clauses: trail, Says: says(
			"{mass} was taken from or counted at {place} and no lot was named; it can not be told which.",
			"Se sacó de {place} o se contó allí {mass} sin nombrar el lote; no se puede saber cuál.")},
		{Code: "cycle", Severity: Minor, Clauses: trail, Says: says(
			"Lot {lot} was made from itself, or from what was made from it; give what comes out a code of its own.",
			"El lote {lot} se hizo de sí mismo, o de lo que se hizo con él; dé un código propio a lo que sale.")},
		{Code: "unknown-confirmation", Severity: Minor, Clauses: trail, Says: says(
			"{partner} confirmed a handover that is not in the journal.",
			"{partner} confirmó una entrega que no está en el diario.")},
	}
}

// assumptions says what the fold had to assume as what a person would notice. A shortage within what two weighings can
// explain (twice 0.5 %, the default where the plan has no better, of the lot or of what was taken, whichever is more)
// is no finding.
func (j *goodsJudge) assumption(a *lots.Assumption) {
	r := a.Record
	p := j.st.PlanAt(r.Happened)
	if p == nil {
		return
	}
	l := j.f.Find(a.Lot)
	subject := Subject{Lot: a.Lot, Station: a.Place.Station, Partner: a.Place.Holder}
	if l != nil {
		subject.Item = l.Item
	}
	id := r.ID.String()
	if a.Lot != "" {
		id += "/" + string(a.Lot)
	}
	mass, place := word("mass", p.Mass(a.Mass)), title("place", placeWords(p, a.Place))
	lot := word("lot", orUnnamed(a.Lot))
	switch a.Code {
	case "unknown-lot":
		j.find("unknown-lot", id, r.Happened, subject, []Value{lot, word("kind", string(r.Kind))}, r)
	case "two-kinds":
		if l != nil {
			j.find("two-kinds", id, r.Happened, subject, []Value{lot, title("item", itemTitle(p, l.Item)), word("status", string(l.Status))}, l.Origin, r)
		}
	case "short":
		if a.Mass <= j.tolerated(a, l) {
			return
		}
		if a.Place.Holder != "" {
			j.find("not-holder", id, r.Happened, subject, []Value{lot, mass, place}, r)
			return
		}
		if l != nil {
			if elsewhere := j.elsewhere(p, a, stays(j.f, j.f.Index(a.Lot), r.Happened)); elsewhere != nil {
				j.find("two-places", id, r.Happened, subject, []Value{lot, place, title("elsewhere", elsewhere)}, r)
				return
			}
		}
		j.find("short", id, r.Happened, subject, []Value{lot, mass, place}, r)
	case "nothing-there", "which-lot":
		j.find(a.Code, id, r.Happened, subject, []Value{mass, place}, r)
	case "cycle":
		j.find("cycle", id, r.Happened, subject, []Value{lot}, r)
	case "unknown-confirmation":
		to := r.Fact.(*records.Handover).To
		subject.Partner = to
		j.find("unknown-confirmation", id, r.Happened, subject, []Value{word("partner", partnerName(p, to))}, r)
	}
}

func (j *goodsJudge) tolerated(a *lots.Assumption, l *lots.Lot) records.Micrograms {
	most := drawn(a.Record, a.Place)
	if l != nil {
		most = max(most, l.Entered)
	}
	return records.Micrograms(coverage * defaultMassU * float64(most))
}

// drawn is what an entry says was taken from a place.
func drawn(r *state.Record, at lots.Place) (sum records.Micrograms) {
	add := func(from records.StationCode, holder records.PartnerCode, m records.Mass) {
		if from == at.Station && holder == at.Holder {
			if ug, err := m.Micrograms(); err == nil {
				sum += ug
			}
		}
	}
	switch fact := r.Fact.(type) {
	case *records.Move:
		add(fact.From, "", fact.Weight.Mass)
	case *records.Process:
		for _, in := range fact.Inputs {
			add(in.From, "", in.Weight.Mass)
		}
	case *records.Purge:
		add(fact.From, "", fact.Weight.Mass)
	case *records.Handover:
		add(fact.From, fact.FromHolder, fact.Weight.Mass)
	case *records.Sample:
		if fact.Mass != nil {
			add(fact.From, "", *fact.Mass)
		}
	}
	return sum
}

// elsewhere names where a lot stood when it was taken from a place where nothing of it was; nil when some was there,
// or when it stood nowhere.
func (j *goodsJudge) elsewhere(p *plan.Plan, a *lots.Assumption, stays []stay) plan.Text {
	at := a.Record.Happened
	var places []plan.Text
	for _, s := range stays {
		if s.Began == a.Record || s.From > at || s.To < at || s.From == s.To {
			continue
		}
		if s.station == a.Place.Station {
			return nil
		}
		if s.To > at {
			places = append(places, stationTitle(p, s.station))
		}
	}
	for _, holder := range j.holders(j.f.Index(a.Lot), a.Record) {
		places = append(places, plan.Text{"en": partnerName(p, holder)})
	}
	if len(places) == 0 {
		return nil
	}
	return join(places)
}

// holders are the partners with whom some of a lot stood just before an entry, in the order in which they first got it.
func (j *goodsJudge) holders(lot int, before *state.Record) (out []records.PartnerCode) {
	held := map[records.PartnerCode]records.Micrograms{}
	var order []records.PartnerCode
	for _, i := range j.f.Lots[lot].Handed {
		t := j.f.Transfers[i]
		if cmp.Or(cmp.Compare(t.Record.Happened, before.Happened), cmp.Compare(t.Record.Position, before.Position)) >= 0 {
			break
		}
		if t.Handover == nil {
			continue
		}
		for _, portion := range t.Portions {
			if portion.Lot != lot {
				continue
			}
			if t.From.Holder != "" {
				held[t.From.Holder] = max(0, held[t.From.Holder]-portion.Mass)
				if t.Handover.Last {
					held[t.From.Holder] = 0
				}
			}
			if !slices.Contains(order, t.To.Holder) {
				order = append(order, t.To.Holder)
			}
			held[t.To.Holder] += portion.Mass
		}
	}
	for _, h := range order {
		if held[h] > 0 {
			out = append(out, h)
		}
	}
	return out
}

func placeWords(p *plan.Plan, at lots.Place) plan.Text {
	if at.Holder != "" {
		return plan.Text{"en": partnerName(p, at.Holder)}
	}
	return stationTitle(p, at.Station)
}

func join(texts []plan.Text) plan.Text {
	out := plan.Text{}
	for _, lang := range []string{"en", "es"} {
		var parts []string
		for _, t := range texts {
			parts = append(parts, t.In(lang))
		}
		out[lang] = strings.Join(parts, ", ")
	}
	return out
}
