package audit

import (
	"slices"

	"grainward/records"
	"grainward/records/plan"
)

// Rule is one thing the audit can find. Its sentence is filled with the finding's named values, so that it can be said
// in each language.
type Rule struct {
	Code     string
	Severity Severity         // the usual one; a judgement may raise it and says where
	Says     plan.Text        // with {names} of values
	Clauses  []records.Clause // touched beside those of the task
}

// Rules is every rule, in the order of the judgements. A new rule is one row here, and the judgement that finds it.
func Rules() []Rule {
	return slices.Concat(workRules(), segregationRules(), agentRules(), custodyRules(), balanceRules(), stockRules())
}

// workRules are about work that was due and how it was written down; the rules about goods stand beside their
// judgements.
func workRules() []Rule {
	return []Rule{
		// due (match.go, due.go)
		{Code: "missed", Severity: Minor, Says: plan.Text{
			"en": "{task} at {station} was due by {due} and nobody signed it off.",
			"es": "{task} en {station} debía hacerse antes de {due} y nadie lo firmó."}},
		{Code: "overdue", Severity: Minor, Says: plan.Text{
			"en": "{task} at {station} was due by {due}. It can still be signed off until {lapses}.",
			"es": "{task} en {station} debía hacerse antes de {due}. Todavía se puede firmar hasta {lapses}."}},
		{Code: "late", Severity: Minor, Says: plan.Text{
			"en": "{task} at {station} was due by {due} and was done at {done}.",
			"es": "{task} en {station} debía hacerse antes de {due} y se hizo a las {done}."}},
		{Code: "failed", Severity: Major, Says: plan.Text{
			"en": "{task} at {station}, due by {due}, did not pass and was not put right.",
			"es": "{task} en {station}, para antes de {due}, no pasó y no se corrigió."}},
		{Code: "put-right", Severity: Note, Says: plan.Text{
			"en": "{task} at {station}, due by {due}, first failed and was put right at {done}.",
			"es": "{task} en {station}, para antes de {due}, primero falló y se corrigió a las {done}."}},
		{Code: "unplanned", Severity: Note, Says: plan.Text{
			"en": "{task} at {station} was signed off at {done}, when no window was waiting for it.",
			"es": "{task} en {station} se firmó a las {done}, cuando no estaba pendiente."}},

		// what a sign-off had to say (check.go, signoffs.go)
		{Code: "limit-no-action", Severity: Major, Clauses: []records.Clause{"21 CFR 117.150(a)"}, Says: plan.Text{
			"en": "{task} at {station}: {answers} outside the limits, and no action taken was written down.",
			"es": "{task} en {station}: {answers} fuera de los límites, y no se anotó ninguna acción."}},
		{Code: "value-missing", Severity: Minor, Clauses: []records.Clause{"21 CFR 117.305(b)"}, Says: plan.Text{
			"en": "{task} at {station} was signed off without {answers}.",
			"es": "{task} en {station} se firmó sin {answers}."}},
		{Code: "unit-differs", Severity: Minor, Clauses: []records.Clause{"21 CFR 117.305(b)"}, Says: plan.Text{
			"en": "{task} at {station}: {answers} in a unit the plan does not use, so the limits can not judge it.",
			"es": "{task} en {station}: {answers} en una unidad que el plan no usa; los límites no se pueden aplicar."}},
		{Code: "needed-failed", Severity: Major, Says: plan.Text{
			"en": "{task} at {station}, done as needed at {done}, did not pass.{after}",
			"es": "{task} en {station}, hecho según necesidad a las {done}, no pasó.{after}"}},
		{Code: "residue-over", Severity: Major, Clauses: []records.Clause{"7 CFR 205.272(a)"}, Says: plan.Text{
			"en": "{task} at {station}: {answers} was over its limit at {done}.{after}",
			"es": "{task} en {station}: {answers} superó su límite a las {done}.{after}"}},
		{Code: "signer-role", Severity: Major, Says: plan.Text{
			"en": "{person} signed off {task} at {station}, which the plan leaves to {who}.",
			"es": "{person} firmó {task} en {station}, que el plan reserva a {who}."}},
		{Code: "signer-untrained", Severity: Minor, Clauses: []records.Clause{"21 CFR 117.4(d)"}, Says: plan.Text{
			"en": "{person} signed off {task} at {station}, and no training for it is on record by that day.",
			"es": "{person} firmó {task} en {station} y no consta formación para ello hasta ese día."}},
		{Code: "signer-away", Severity: Major, Says: plan.Text{
			"en": "{person} signed off {task} at {station} on a day when, by the plan, they were not at the plant.",
			"es": "{person} firmó {task} en {station} un día en que, según el plan, no estaba en la planta."}},
		{Code: "second-missing", Severity: Major, Says: plan.Text{
			"en": "{task} at {station} asks for a second person, and the sign-off by {person} names none.",
			"es": "{task} en {station} pide una segunda persona, y la firma de {person} no nombra a ninguna."}},
		{Code: "agent-unlisted", Severity: Major, Clauses: []records.Clause{"7 CFR 205.272(a)"}, Says: plan.Text{
			"en": "{agent} was used for {task} at {station}; the plan does not list it for that work.",
			"es": "{agent} se usó para {task} en {station}; el plan no lo admite para ese trabajo."}},
		{Code: "document-lapsed", Severity: Major, Says: plan.Text{
			"en": "{task} at {station} relied on “{document}”, which was not valid on that day.",
			"es": "{task} en {station} se apoyó en «{document}», que no era válido ese día."}},
		{Code: "calibration-lapsed", Severity: Major, Clauses: []records.Clause{"21 CFR 117.40(f)", "21 CFR 117.165(a)(1)"}, Says: plan.Text{
			"en": "{task} at {station} relied on {instrument}, whose last passing calibration was {last}.",
			"es": "{task} en {station} se apoyó en {instrument}, cuya última calibración aprobada fue {last}."}},

		// how entries were written (entries.go, clock.go)
		{Code: "late-entry", Severity: Minor, Clauses: []records.Clause{"21 CFR 117.305(d)"}, Says: plan.Text{
			"en": "{person} wrote down a {kind} {delay} after it happened ({happened}).",
			"es": "{person} anotó un registro ({kind}) {delay} después de que ocurriera ({happened})."}},
		{Code: "lead-only", Severity: Major, Says: plan.Text{
			"en": "{person} signed a {kind}, which only a lead may sign.",
			"es": "{person} firmó un registro ({kind}) que solo puede firmar un responsable."}},
		{Code: "assumed", Severity: Major, Says: plan.Text{
			"en": "Entry {position} can not be taken as it stands: {assumed}.",
			"es": "El registro {position} no se puede tomar como está: {assumed}."}},
		{Code: "clock-back", Severity: Minor, Clauses: []records.Clause{"21 CFR 117.305(d)"}, Says: plan.Text{
			"en": "On {day} the clock by which entries are written down went back by {delay}, between entries {before} and {position}{more}: times after it may be too early, or those before it too late.",
			"es": "El {day} el reloj con que se anotan los registros retrocedió {delay}, entre los registros {before} y {position}{more}: las horas posteriores pueden ser demasiado tempranas, o las anteriores demasiado tardías."}},

		// review (review.go)
		{Code: "review-missed", Severity: Major, Clauses: []records.Clause{"21 CFR 117.165(a)(4)"}, Says: plan.Text{
			"en": "{n} records written on {day} were to be reviewed by the end of {limit} and were not.",
			"es": "{n} registros escritos el {day} debían revisarse hasta el {limit} y no se revisaron."}},
		{Code: "review-late", Severity: Minor, Clauses: []records.Clause{"21 CFR 117.165(a)(4)"}, Says: plan.Text{
			"en": "{n} records written on {day} were to be reviewed by the end of {limit}; the last was reviewed at {done}.",
			"es": "{n} registros escritos el {day} debían revisarse hasta el {limit}; el último se revisó a las {done}."}},
		{Code: "review-own", Severity: Note, Clauses: []records.Clause{"21 CFR 117.165(a)(4)"}, Says: plan.Text{
			"en": "{person} reviewed entries {from} to {to}, {n} of which were their own work.",
			"es": "{person} revisó los registros {from} a {to}; {n} eran trabajo propio."}},

		// things that went wrong (deviations.go)
		{Code: "deviation", Severity: Major, Clauses: []records.Clause{"21 CFR 117.150(a)"}, Says: plan.Text{
			"en": "{person} reported: {what}",
			"es": "{person} informó: {what}"}},

		// documents (documents.go)
		{Code: "document-missing", Severity: Minor, Says: plan.Text{
			"en": "“{document}” is to be on file and is not.",
			"es": "«{document}» debe estar archivado y no lo está."}},
		{Code: "document-expired", Severity: Major, Says: plan.Text{
			"en": "“{document}” ran out on {day} and nothing newer is on file.",
			"es": "«{document}» venció el {day} y no hay nada más reciente archivado."}},
		{Code: "document-expiring", Severity: Note, Says: plan.Text{
			"en": "“{document}” runs out on {day}.",
			"es": "«{document}» vence el {day}."}},

		// retention (retention.go)
		{Code: "not-kept", Severity: Minor, Clauses: []records.Clause{"21 CFR 117.315(a)", "7 CFR 205.103(b)(4)"}, Says: plan.Text{
			"en": "Records from {from} to {to} must still be kept ({years} years) and are not in this journal; keep them on paper or wherever they are.",
			"es": "Los registros del {from} al {to} deben conservarse todavía ({years} años) y no están en este diario; guárdelos en papel o donde estén."}},
	}
}

var ruleTable = func() map[string]*Rule {
	m := map[string]*Rule{}
	for _, r := range Rules() {
		m[r.Code] = &r
	}
	return m
}()

// find starts a finding of a rule. id is the part of the finding's id after the rule: subject and window.
func find(rule, id string, when records.Instant, subject Subject, clauses []records.Clause, values []Value, evidence ...records.Position) *Finding {
	r := ruleTable[rule]
	all := clauses
	if len(r.Clauses) > 0 {
		all = append(append(make([]records.Clause, 0, len(clauses)+len(r.Clauses)), clauses...), r.Clauses...)
	}
	return &Finding{ID: rule + ":" + id, Rule: rule, Severity: r.Severity, Subject: subject, When: when, Values: values, Evidence: evidence, Clauses: all}
}
