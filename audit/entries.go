package audit

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"grainward/records"
	"grainward/records/plan"
	"grainward/records/state"
)

// kindWords says a kind in the plant's languages, for sentences.
var kindWords = map[records.Kind]plan.Text{
	records.KindPlan:      {"en": "plan", "es": "plan"},
	records.KindSignoff:   {"en": "sign-off", "es": "firma de trabajo"},
	records.KindDeviation: {"en": "deviation", "es": "desviación"},
	records.KindAnswer:    {"en": "answer", "es": "respuesta"},
	records.KindReview:    {"en": "review", "es": "revisión"},
	records.KindExcuse:    {"en": "excuse", "es": "dispensa"},
	records.KindDocument:  {"en": "document", "es": "documento"},
	records.KindCorrect:   {"en": "correction", "es": "corrección"},

	records.KindReceipt:  {"en": "receipt", "es": "recepción"},
	records.KindMove:     {"en": "move", "es": "movimiento"},
	records.KindProcess:  {"en": "process", "es": "proceso"},
	records.KindHandover: {"en": "handover", "es": "entrega"},
	records.KindCount:    {"en": "count", "es": "recuento"},
	records.KindHold:     {"en": "hold", "es": "retención"},
	records.KindRelease:  {"en": "release", "es": "liberación"},
	records.KindPurge:    {"en": "purge", "es": "purga"},
	records.KindResult:   {"en": "result", "es": "resultado"},
	records.KindSample:   {"en": "sample", "es": "muestra"},
	records.KindDrill:    {"en": "drill step", "es": "paso de simulacro"},
}

// KindWord says a kind of entry in a language.
func KindWord(k records.Kind, lang string) string { return kindWords[k].In(lang) }

// leadOnly are the kinds that take effect only under a lead's signature.
var leadOnly = []records.Kind{records.KindPlan, records.KindReview, records.KindExcuse}

// entryFindings judges how one entry was written: long after the work (21 CFR 117.305(d) asks for records made at the
// time), or by somebody who may not.
func entryFindings(st *state.State, r *state.Record) (out []*Finding) {
	p := st.PlanAt(r.Happened)
	if p == nil {
		return nil
	}
	// A document is filed when somebody has the time; what counts of it are its own days.
	delay := r.Recorded.Sub(r.Happened)
	late := r.Kind != records.KindDocument && delay > p.Profile.LateEntry.Duration()
	needsLead := slices.Contains(leadOnly, r.Kind)
	if a, ok := r.Fact.(*records.Answer); ok {
		needsLead = a.Closes
	}
	noLead := needsLead && !isLead(st, r)
	if !late && !noLead {
		return nil // as nearly all
	}
	subject := Subject{Person: r.By}
	if s, ok := r.Fact.(*records.Signoff); ok {
		subject.Task, subject.Station = s.Task, s.Station
	}
	person := word("person", personName(p, r.By))
	kind := title("kind", kindWords[r.Kind])
	if late {
		out = append(out, find("late-entry", r.ID.String(), r.Recorded, subject, nil,
			[]Value{person, kind, title("delay", delayWords(delay)), moment("happened", p, r.Happened)}, r.Position))
	}
	if noLead {
		out = append(out, find("lead-only", r.ID.String(), r.Happened, subject, nil, []Value{person, kind}, r.Position))
	}
	return out
}

// delayWords says a delay the way people do, in the largest whole unit of two.
func delayWords(d time.Duration) plan.Text {
	unit := func(n int, en, es string) plan.Text {
		if n != 1 {
			en, es = en+"s", es+"s"
		}
		return plan.Text{"en": fmt.Sprintf("%d %s", n, en), "es": fmt.Sprintf("%d %s", n, es)}
	}
	switch {
	case d >= 48*time.Hour:
		return unit(int(d/(24*time.Hour)), "day", "día")
	case d >= 2*time.Hour:
		return unit(int(d/time.Hour), "hour", "hora")
	}
	return unit(int(d/time.Minute), "minute", "minuto")
}

// oddityFindings says what the fold had to assume: one finding an entry, whatever the number of reasons.
func oddityFindings(st *state.State, at records.Instant) (out []*Finding) {
	reasons := map[records.Position][]string{}
	var order []state.Oddity
	for _, o := range st.Oddities() {
		if o.Happened > at {
			continue
		}
		if reasons[o.Position] == nil {
			order = append(order, o)
		}
		reasons[o.Position] = append(reasons[o.Position], o.Assumed)
	}
	for _, o := range order {
		r := st.First(o.Position)
		out = append(out, find("assumed", r.ID.String()+"/"+fmt.Sprint(o.Position), o.Happened, Subject{Person: r.By}, nil,
			[]Value{word("position", fmt.Sprint(o.Position)), word("assumed", strings.Join(reasons[o.Position], "; "))}, o.Position))
	}
	return out
}
