package audit

import (
	"strings"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
)

func particularsRules() []Rule {
	organic := []records.Clause{"7 CFR 205.103(b)(2)"}
	return []Rule{
		// C06: the six particulars of 21 CFR 1.337(a); (1)-(2) seen, the rest from memory and matching 1.345
		{Code: "receipt-particulars", Severity: Note, Clauses: []records.Clause{"21 CFR 1.337(a)"}, Says: says(
			"The receipt of lot {lot} from {partner} does not say: {missing}.",
			"La recepción del lote {lot} de {partner} no dice: {missing}.")},
		// C07: the six particulars of 21 CFR 1.345(a), seen
		{Code: "dispatch-particulars", Severity: Note, Clauses: []records.Clause{"21 CFR 1.345(a)"}, Says: says(
			"The handover of lot {lot} to {partner} does not say: {missing}.",
			"La entrega del lote {lot} a {partner} no dice: {missing}.")},
		// C08: 21 CFR 1.345(b), seen in part
		{Code: "origin-gap", Severity: Major, Clauses: []records.Clause{"21 CFR 1.345(b)"}, Says: says(
			"Lot {lot} ({item}): only {share} of what it was made from goes back to a receipt.",
			"Lote {lot} ({item}): solo el {share} de lo que lo compone remite a una recepción.")},
		// C23: 7 CFR 205.103(b)(2), 205.307(b), second-hand
		{Code: "certificate-missing", Severity: Major, Clauses: organic, Says: says(
			"Lot {lot} came from {partner} as organic and no certificate is named.",
			"El lote {lot} llegó de {partner} como ecológico y no se nombra ningún certificado.")},
		{Code: "certificate-lapsed", Severity: Major, Clauses: organic, Says: says(
			"Lot {lot} came from {partner} as organic on “{document}”, which by what is on file was not valid that day.",
			"El lote {lot} llegó de {partner} como ecológico con «{document}», que según lo archivado no era válido ese día.")},
		{Code: "certificate-other", Severity: Minor, Clauses: organic, Says: says(
			"Lot {lot} came from {partner} as organic on “{document}”, which the plan lists neither for them nor for the last certified operation.",
			"El lote {lot} llegó de {partner} como ecológico con «{document}», que el plan no lista ni para ellos ni para la última operación certificada.")},
		{Code: "certificate-look-up", Severity: Minor, Clauses: organic, Says: says(
			"Lot {lot} from {partner}: “{document}” was {how}.",
			"Lote {lot} de {partner}: «{document}» {how}.")},
		{Code: "last-certified", Severity: Minor, Clauses: []records.Clause{"7 CFR 205.103(b)(2)", "7 CFR 205.307(b)"}, Says: says(
			"Lot {lot} came from {partner} as organic; which certified operation had it last is not named.",
			"El lote {lot} llegó de {partner} como ecológico; no se nombra la última operación certificada que lo tuvo.")},
		// C24: 7 CFR 205.103(b)(3), second-hand
		{Code: "status-unnamed", Severity: Minor, Clauses: []records.Clause{"7 CFR 205.103(b)(3)"}, Says: says(
			"Lot {lot} ({status}) went to {partner} and the handover does not name its organic status.",
			"El lote {lot} ({status}) salió para {partner} y la entrega no nombra su condición ecológica.")},
		{Code: "status-raised", Severity: Critical, Clauses: []records.Clause{"7 CFR 205.301"}, Says: says(
			"Lot {lot} is {status} and went to {partner} as {sold}.",
			"El lote {lot} es {status} y salió para {partner} como {sold}.")},
		// C22: 7 CFR 205.307(a), second-hand
		{Code: "container-unmarked", Severity: Minor, Clauses: []records.Clause{"7 CFR 205.307(a)"}, Says: says(
			"Organic goods (lot {lot}), {partner}: no lot, paper, container or vehicle number ties the container to the records.",
			"Producto ecológico (lote {lot}), {partner}: ningún lote, papel, contenedor ni número de vehículo une el envase con los registros.")},
	}
}

// lack is a particular that is not there, and how much that matters.
type lack struct {
	what     plan.Text
	severity Severity
}

// lacking says what is missing in one sentence; its severity is the gravest of them.
func (j *goodsJudge) lacking(rule string, p *plan.Plan, t *lots.Transfer, lacks []lack) {
	if len(lacks) == 0 {
		return
	}
	all, gravest := plan.Text{}, Note
	for _, lang := range []string{"en", "es"} {
		var parts []string
		for _, l := range lacks {
			parts = append(parts, l.what[lang])
			gravest = max(gravest, l.severity)
		}
		all[lang] = strings.Join(parts, "; ")
	}
	about := j.aboutTransfer(p, t)
	j.find(rule, t.Record.ID.String(), t.Record.Happened, about.subject(), about.with(title("missing", all)), t.Record).Severity = gravest
}

// reachable says whether the plan has a firm with name, address and a telephone, as 21 CFR 1.337(a)(1) asks.
func reachable(p *plan.Plan, code records.PartnerCode) bool {
	x := p.Partner(code)
	if x == nil || x.Address == "" {
		return false
	}
	for _, c := range x.Contacts {
		if c.Phone != "" {
			return true
		}
	}
	return false
}

func (j *goodsJudge) receiptParticulars(p *plan.Plan, t *lots.Transfer) {
	fact := t.Receipt
	var lacks []lack
	add := func(missing bool, severity Severity, en, es string) {
		if missing {
			lacks = append(lacks, lack{says(en, es), severity})
		}
	}
	add(!reachable(p, fact.Source), Major, "who it came from, with address and telephone in the plan", "de quién vino, con dirección y teléfono en el plan")
	add(p.Item(fact.Item) == nil || fact.Variety == "", Minor, "what it is, with its variety", "qué es, con su variedad")
	add(fact.TheirLot == "", Note, "their lot (write “none” where they give none)", "su lote (escriba «ninguno» si no lo dan)")
	add(nothing(fact.Weight) || fact.Packaging == "", Minor, "how much, and how it was packed (“bulk” is an answer)", "cuánto, y cómo venía envasado («granel» es una respuesta)")
	add(!reachable(p, fact.Vehicle.Carrier), Major, "who brought it, with address and telephone in the plan", "quién lo trajo, con dirección y teléfono en el plan")
	j.lacking("receipt-particulars", p, t, lacks)
}

// handoverParticulars are asked for wherever food is released, by-product for feed included; samples, compost and
// landfill are no food any more.
func (j *goodsJudge) handoverParticulars(p *plan.Plan, t *lots.Transfer) {
	fact := t.Handover
	if !isFood(fact.Use) {
		return
	}
	var lacks []lack
	add := func(missing bool, severity Severity, en, es string) {
		if missing {
			lacks = append(lacks, lack{says(en, es), severity})
		}
	}
	unknown := len(t.Portions) == 0
	for _, portion := range t.Portions {
		unknown = unknown || p.Item(j.f.Lots[portion.Lot].Item) == nil
	}
	add(!reachable(p, fact.To), Major, "who it went to, with address and telephone in the plan", "a quién fue, con dirección y teléfono en el plan")
	add(unknown, Major, "what it is, and of which lot", "qué es, y de qué lote")
	add(nothing(fact.Weight) || fact.Packaging == "" && fact.Bags == 0 && fact.Container == "", Minor, "how much, and how it was packed (“bulk” is an answer)", "cuánto, y cómo iba envasado («granel» es una respuesta)")
	add(!reachable(p, fact.Vehicle.Carrier), Major, "who took it, with address and telephone in the plan", "quién se lo llevó, con dirección y teléfono en el plan")
	j.lacking("dispatch-particulars", p, t, lacks)
}

func nothing(w records.Weight) bool {
	m, err := w.Mass.Micrograms()
	return err != nil || m <= 0
}

// certificates are what makes an organic receipt one. A source whose own certificate is named is the last certified
// operation; one without has to say who was.
func (j *goodsJudge) certificates(p *plan.Plan, t *lots.Transfer) {
	r, fact := t.Record, t.Receipt
	if !fact.Status.IsOrganic() {
		return
	}
	about := j.aboutTransfer(p, t)
	own := lists(p, fact.Source, fact.Certificate)
	document := word("document", documentTitle(p, fact.Certificate))
	switch {
	case fact.Certificate == "":
		j.find("certificate-missing", about.id(), r.Happened, about.subject(), about.with(), r)
	case !j.valid(p, fact.Certificate, r):
		fd := j.find("certificate-lapsed", about.id(), r.Happened, about.subject(), about.with(document), r)
		fd.Subject.Document = fact.Certificate
	case !own && !lists(p, fact.LastCertified, fact.Certificate):
		j.find("certificate-other", about.id(), r.Happened, about.subject(), about.with(document), r)
	}
	if fact.Certificate != "" {
		late := fact.LookedUp != nil && *fact.LookedUp > p.Day(r.Happened)
		switch {
		case fact.LookedUp == nil:
			j.find("certificate-look-up", about.id(), r.Happened, about.subject(),
				about.with(document, title("how", says("not looked up at its issuer", "no se consultó con quien lo emitió"))), r)
		case late:
			j.find("certificate-look-up", about.id(), r.Happened, about.subject(),
				about.with(document, title("how", says("looked up only on "+fact.LookedUp.String(), "no se consultó hasta el "+fact.LookedUp.String()))), r).Severity = Note
		}
	}
	if fact.LastCertified == "" && !own {
		j.find("last-certified", about.id(), r.Happened, about.subject(), about.with(), r)
	}
	if fact.TheirLot == "" && len(fact.Papers) == 0 && fact.Vehicle.Number == "" && len(fact.Vehicle.Seals) == 0 {
		j.find("container-unmarked", about.id(), r.Happened, about.subject(), about.with(), r)
	}
}

// lists says whether the plan lists a certificate for a partner.
func lists(p *plan.Plan, partner records.PartnerCode, code records.DocumentCode) bool {
	x := p.Partner(partner)
	if x == nil || code == "" {
		return false
	}
	for _, c := range x.Certificates {
		if c == code {
			return true
		}
	}
	return false
}

// statusRank orders statuses by what they claim.
func statusRank(s records.Status) int {
	switch s {
	case records.Organic100:
		return 3
	case records.Organic:
		return 2
	case records.MadeWith:
		return 1
	}
	return 0
}

// statusNamed holds what a handover says of the organic status against the lots. Conventional goods that went as
// organic are the business of segregation.
func (j *goodsJudge) statusNamed(p *plan.Plan, t *lots.Transfer) {
	fact, r := t.Handover, t.Record
	about := j.aboutTransfer(p, t)
	for _, portion := range t.Portions {
		l := j.f.Lots[portion.Lot]
		if !l.Status.IsOrganic() || !isFood(fact.Use) {
			continue
		}
		if fact.Status == "" {
			j.find("status-unnamed", about.id(), r.Happened, about.subject(), about.with(word("status", string(l.Status))), r)
			break
		}
		if statusRank(fact.Status) > statusRank(l.Status) {
			j.find("status-raised", about.id()+"/"+string(l.Code), r.Happened, Subject{Lot: l.Code, Item: l.Item, Partner: fact.To},
				[]Value{word("lot", string(l.Code)), word("partner", partnerName(p, fact.To)), word("status", string(l.Status)), word("sold", string(fact.Status))}, r)
		}
	}
	if fact.Status.IsOrganic() && fact.Lot == "" && fact.Container == "" && fact.Vehicle.Number == "" && len(fact.Papers) == 0 && len(fact.Vehicle.Seals) == 0 {
		j.find("container-unmarked", about.id(), r.Happened, about.subject(), about.with(), r)
	}
}

// goesBack follows what a step made back to receipts: the part of what went in that came from lots that go back to one. What was
// taken beyond what was there is another finding.
func goesBack(step *lots.Step, of func(lot int) *part, wanted func(lot int) bool) {
	var in part
	for _, portion := range step.In {
		if portion.Mass > 0 { // what is left of residents of a silo may be nothing
			in.add(portion.Mass, of(portion.Lot).ratio())
		}
	}
	if rest := stepInput(step) - in.total; rest > 0 { // it drew on a place where the records have nothing
		in.add(rest, zero)
	}
	share := in.ratio()
	for _, o := range step.Out {
		if wanted(o.Lot) {
			of(o.Lot).add(o.Mass, share)
		}
	}
}

// originGap is a finished lot that does not wholly go back to receipts.
func (j *goodsJudge) originGap(l *lots.Lot, share *part) {
	p := j.st.PlanAt(l.Begins)
	if stageOf(p, l) != "finished" || l.Origin == nil || share.whole() {
		return
	}
	got, _ := share.ratio().Float64()
	j.find("origin-gap", string(l.Code), l.Begins, lotSubject(l),
		[]Value{word("lot", string(l.Code)), title("item", itemTitle(p, l.Item)), word("share", percentDown(got))}, l.Origin)
}

// stepInput is the mass an entry says went in.
func stepInput(step *lots.Step) (sum records.Micrograms) {
	add := func(w records.Weight) {
		if m, err := w.Mass.Micrograms(); err == nil {
			sum += m
		}
	}
	switch fact := step.Record.Fact.(type) {
	case *records.Process:
		for _, in := range fact.Inputs {
			add(in.Weight)
		}
	case *records.Purge:
		add(fact.Weight)
	}
	return sum
}
