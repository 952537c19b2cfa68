package audit

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

// byProductDays is how long by-product may stay on site (common practice, no source: rootlets draw water and insects;
// the plan has no field for it).
const byProductDays = 14

func byProductRules() []Rule {
	return []Rule{
		// C18: 21 CFR 117.95(a)(3), (b), (c), seen
		{Code: "by-product-unlabelled", Severity: Minor, Clauses: []records.Clause{"21 CFR 117.95(a)(3)"}, Says: says(
			"By-product {lot} ({item}) was put at {station}, and no labelled container is named.",
			"El subproducto {lot} ({item}) se dejó en {station} sin nombrar un recipiente rotulado.")},
		{Code: "feed-unnamed", Severity: Minor, Clauses: []records.Clause{"21 CFR 117.95(b)"}, Says: says(
			"By-product {lot} went to {partner} as feed without its common name on it or with it.",
			"El subproducto {lot} salió para {partner} como pienso sin su nombre común.")},
		{Code: "feed-unchecked", Severity: Major, Clauses: []records.Clause{"21 CFR 117.95(c)"}, Says: says(
			"By-product {lot} went to {partner} as feed; nobody wrote down that the container or vehicle was examined first.",
			"El subproducto {lot} salió para {partner} como pienso; nadie anotó que se examinara antes el recipiente o vehículo.")},
		{Code: "by-product-old", Severity: Minor, Clauses: []records.Clause{"21 CFR 117.95(a)(2)"}, Says: says(
			"By-product {lot} ({item}) was on site for more than {days} days after {since}.",
			"El subproducto {lot} ({item}) estuvo en la planta más de {days} días desde el {since}.")},
		{Code: "feed-with-waste", Severity: Major, Clauses: []records.Clause{"21 CFR 117.95(a)(2)"}, Says: says(
			"By-product {lot} and waste {waste} were at {station} together from {from}, and nothing shows that they were apart.",
			"El subproducto {lot} y el desecho {waste} estuvieron juntos en {station} desde {from}, y nada muestra que estuvieran separados.")},
		{Code: "waste-as-feed", Severity: Major, Clauses: []records.Clause{"21 CFR 117.95(a)(2)"}, Says: says(
			"Lot {lot} was written down as waste ({why}) and went to {partner} for {use}.",
			"El lote {lot} se anotó como desecho ({why}) y salió para {partner} como {use}.")},
		// C19: 21 CFR 507.12(a), seen
		{Code: "feed-processed", Severity: Major, Clauses: []records.Clause{"21 CFR 507.12(a)"}, Says: says(
			"Feed {lot} for {partner} was made on site from by-product {from} by {process}; by-product that is processed further is no longer exempt from the animal-food rule.",
			"El pienso {lot} para {partner} se hizo en la planta del subproducto {from} por {process}; un subproducto procesado deja de estar exento de la norma de piensos.")},
		// C53: FDA advisory levels for feed, 2010, second-hand
		{Code: "don-feed", Severity: Minor, Clauses: []records.Clause{"21 CFR 507.12(b)"}, Says: says(
			"Lot {lot} went to {partner} as feed; lot {tested} was found with {value} DON. The advisory level is 5 ppm for swine and most animals, 10 ppm for cattle over four months and chickens, each as part of the diet only.",
			"El lote {lot} salió para {partner} como pienso; en el lote {tested} se halló DON {value}. El nivel orientativo es 5 ppm para cerdos y la mayoría de animales, 10 ppm para bovinos de más de cuatro meses y pollos, solo como parte de la dieta.")},
	}
}

// isByProduct says whether a lot began as by-product.
func (j *goodsJudge) isByProduct(l *lots.Lot) bool {
	return stageOf(j.st.PlanAt(l.Begins), l) == "by-product"
}

// unlabelled is by-product that was put somewhere without a container of its own.
func (j *goodsJudge) unlabelled(p *plan.Plan, step *lots.Step) {
	for k, o := range step.Out {
		if l := j.f.Lots[o.Lot]; o.Output.Container == "" && o.Output.Disposal == "" && j.isByProduct(l) {
			j.find("by-product-unlabelled", subID(step.Record, k), step.Record.Happened, Subject{Lot: l.Code, Item: l.Item, Station: o.Output.To},
				[]Value{word("lot", string(l.Code)), title("item", itemTitle(p, l.Item)), title("station", stationTitle(p, o.Output.To))}, step.Record)
		}
	}
}

// tooOld: a lot is on site from when it was made until the last of it left the last station.
func (j *goodsJudge) tooOld(l *lots.Lot) {
	p := j.st.PlanAt(l.Begins)
	if p == nil {
		return
	}
	left := max(l.Begins, min(l.Left, j.f.At))
	if l.Here > 0 {
		left = max(l.Begins, j.f.At)
	}
	limit := dayStart(p, l.Begins, byProductDays+1)
	if left < limit {
		return
	}
	j.find("by-product-old", string(l.Code), limit, lotSubject(l), []Value{word("lot", string(l.Code)), title("item", itemTitle(p, l.Item)),
		count("days", byProductDays), word("since", p.Day(l.Begins).String())}, l.Origin)
}

// apart finds waste and by-product at one station at one time. Two named containers that differ, at a station that
// keeps lots apart, are apart; in a silo or without containers they are not. Waste that was itself by-product counts
// as waste. What only passed at an instant did not stand together.
func (j *goodsJudge) apart(code records.StationCode, traits []trait) {
	var present []lots.Contact
	for at := range j.f.Contacts[code].All() {
		c := *at
		if c.From == c.To || traits[c.Lot]&(discarded|byProduct) == 0 {
			continue
		}
		bad := traits[c.Lot]&discarded != 0
		present = slices.DeleteFunc(present, func(x lots.Contact) bool { return x.To <= c.From })
		for _, x := range present {
			switch other := traits[x.Lot]&discarded != 0; {
			case other == bad:
			case bad:
				j.together(code, x, c, c)
			default:
				j.together(code, c, x, c)
			}
		}
		present = append(present, c)
	}
}

func (j *goodsJudge) together(code records.StationCode, feed, waste, later lots.Contact) {
	p := j.st.PlanAt(later.From)
	a, b := j.f.Lots[feed.Lot], j.f.Lots[waste.Lot]
	if p == nil {
		return
	}
	mixed := j.f.Stations[code] != nil && j.f.Stations[code].Mixed
	if ca, cb := container(a), container(b); !mixed && ca != "" && cb != "" && !strings.EqualFold(ca, cb) {
		return
	}
	j.find("feed-with-waste", fmt.Sprintf("%s:%s+%s:%s", code, a.Code, b.Code, later.From), later.From, Subject{Lot: a.Code, Item: a.Item, Station: code},
		[]Value{word("lot", string(a.Code)), word("waste", string(b.Code)), title("station", stationTitle(p, code)), moment("from", p, later.From)}, feed.Began, waste.Began)
}

// container is the last container a lot was put in, or "".
func container(l *lots.Lot) string {
	for _, o := range slices.Backward(l.Outputs) {
		if o.Container != "" {
			return strings.TrimSpace(o.Container)
		}
	}
	return ""
}

// feedOut is about by-product as it leaves.
func (j *goodsJudge) feedOut(p *plan.Plan, t *lots.Transfer) {
	r, fact := t.Record, t.Handover
	about := j.aboutTransfer(p, t)
	if fact.Use == records.Feed && strings.TrimSpace(fact.Label) == "" {
		j.find("feed-unnamed", about.id(), r.Happened, about.subject(), about.with(), r)
	}
	for _, portion := range t.Portions {
		l := j.f.Lots[portion.Lot]
		here := func(more ...Value) []Value {
			return append([]Value{word("lot", string(l.Code)), word("partner", partnerName(p, fact.To))}, more...)
		}
		subject := Subject{Lot: l.Code, Item: l.Item, Partner: fact.To}
		if o := disposal(l); o != nil && isFood(fact.Use) {
			fd := j.find("waste-as-feed", about.id()+"/"+string(l.Code), r.Happened, subject, here(word("why", o.Disposal), title("use", useWords(fact.Use))), l.Origin, r)
			if fact.Use != records.Feed { // to people
				fd.Severity = Critical
			}
		}
		if fact.Use != records.Feed {
			continue
		}
		if step, from := j.furtherProcessed(portion.Lot); step != nil {
			j.find("feed-processed", about.id()+"/"+string(l.Code), r.Happened, subject,
				here(word("from", string(from.Code)), word("process", step.What)), step.Record, r)
		}
		if tested, by, q := j.highestDON(portion.Lot); tested != nil && ppm(q).Cmp(donFeed) > 0 {
			fd := j.find("don-feed", about.id()+"/"+string(l.Code), r.Happened, subject, here(word("tested", string(tested.Code)), word("value", q.String())), by, r)
			if ppm(q).Cmp(donFeedMost) > 0 {
				fd.Severity = Major
			}
		}
	}
}

// useWords are the uses as a person calls them.
func useWords(u records.Use) plan.Text {
	es := map[records.Use]string{records.Sale: "venta", records.Storage: "almacenamiento", records.Feed: "pienso", records.Compost: "compost",
		records.Landfill: "vertedero", records.ForTest: "muestra", records.Return: "devolución"}
	return says(string(u), cmp.Or(es[u], string(u)))
}

// furtherWords are what 21 CFR 507.12(a) takes away the exemption for, as people write the name of a process. Cleaning,
// screening and bagging are not among them.
var furtherWords = []string{"grind", "ground", "mill", "hammer", "dry", "kiln", "blend", "mix", "pellet", "extru", "wet", "steep", "press", "molien", "molido", "secad", "mezcla"}

// furtherProcessed is the step by which by-product was processed further into a lot, and the by-product; nil when
// none was. It looks back over the steps that made the lot and those that made what went into these.
func (j *goodsJudge) furtherProcessed(lot int) (*lots.Step, *lots.Lot) {
	seen := map[int]bool{lot: true}
	for queue := []int{lot}; len(queue) > 0; queue = queue[1:] {
		for _, s := range j.f.Lots[queue[0]].Made {
			step := j.f.Steps[s]
			p := j.st.PlanAt(step.Record.Happened)
			for _, in := range step.In {
				parent := j.f.Lots[in.Lot]
				if stageOf(p, parent) != "by-product" {
					continue // what was food until here is no by-product yet
				}
				if isFurther(step.What) {
					return step, parent
				}
				if !seen[in.Lot] {
					seen[in.Lot] = true
					queue = append(queue, in.Lot)
				}
			}
		}
	}
	return nil, nil
}

func isFurther(process string) bool {
	p := strings.ToLower(process)
	return slices.ContainsFunc(furtherWords, func(w string) bool { return strings.Contains(p, w) })
}

// highestDON is the highest DON result of a lot; of a lot without one, the highest of those it was made from (rootlets
// can be richer in it than the grain, so it is the least that is known).
func (j *goodsJudge) highestDON(lot int) (tested *lots.Lot, by *state.Record, highest records.Quantity) {
	look := func(l *lots.Lot) {
		for _, r := range l.Events {
			res, ok := r.Fact.(*records.Result)
			if !ok {
				continue
			}
			for _, v := range res.Values {
				if j.name(v.Name).don && ppm(v.Value) != nil && (tested == nil || ppm(v.Value).Cmp(ppm(highest)) > 0) {
					tested, by, highest = l, r, v.Value
				}
			}
		}
	}
	look(j.f.Lots[lot])
	if tested == nil {
		for _, s := range j.f.Lots[lot].Made {
			for _, in := range j.f.Steps[s].In {
				look(j.f.Lots[in.Lot])
			}
		}
	}
	return tested, by, highest
}
