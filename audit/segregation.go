package audit

import (
	"slices"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

// Segregation is how lots were kept apart.
type Segregation struct {
	Arrivals []Arrival       // every arrival of a lot after unlike contents, by station and time
	Together []Together      // unlike lots in contact with a station at once
	Occupied []Occupied      // clean-outs while something was there
	Broken   map[int]*Broken // lots whose organic status the records no longer show, by index in the floor
	Models   []Model         // by index in the floor: the chain-of-custody model the lot's history reached
}

// Arrival is a lot's contact with a station that followed unlike contents, and the evidence between them.
type Arrival struct {
	Station  records.StationCode
	Lot      int
	Contact  lots.Contact
	After    int             // the unlike lot
	Since    records.Instant // when the newest contact of that unlike class ended
	Left     *state.Record   // what ended it
	Need     records.GradeCode
	Evidence *state.Record // clean-out or purge between them; nil: a gap
	Weak     *state.Record // a clean-out between them of too weak a grade, or a purge too small
	Status   bool          // they differ in organic status
	Allergen bool          // what came before has an allergen that the lot has not
}

// Together is two unlike lots at one station at one time.
type Together struct {
	Station  records.StationCode
	A, B     int
	From, To records.Instant
	Began    [2]*state.Record
	Status   bool
}

// Occupied is a clean-out during which a lot was at the station.
type Occupied struct {
	CleanOut lots.CleanOut
	Lot      int
}

// Broken says why the records no longer show a lot's organic status: by an arrival or a meeting of its own, or because
// it was made from, or mixed with, a lot that is broken or was never organic.
type Broken struct {
	When    records.Instant
	By      *state.Record
	Station records.StationCode
	Other   int  // the unlike lot, or the broken parent
	Own     bool // false: taken over from Other
}

// Model is a chain-of-custody model in the terms of ISO 22095:2020.
type Model string

const (
	IdentityPreserved Model = "identity preserved" // one origin, never mixed
	Segregated        Model = "segregated"         // several qualifying origins, nothing else
	NotSegregated     Model = "not segregated"
)

func segregationRules() []Rule {
	clauses := []records.Clause{"7 CFR 205.272(a)", "7 CFR 205.201(a)(5)"}
	allergen := []records.Clause{"21 CFR 117.135(c)(2)"}
	return []Rule{
		{Code: "gap", Severity: Major, Clauses: clauses, Says: plan.Text{
			"en": "Lot {lot} came to {station} after lot {after} ({class}, gone since {since}); no clean-out of grade “{need}” and no purge between them is on record.",
			"es": "El lote {lot} llegó a {station} después del lote {after} ({class}, fuera desde {since}); no consta limpieza de grado «{need}» ni purga entre ambos."}},
		{Code: "weak-clean-out", Severity: Major, Clauses: clauses, Says: plan.Text{
			"en": "Lot {lot} came to {station} after lot {after} ({class}); what was done between them is less than the grade “{need}” or purge the plan asks for.",
			"es": "El lote {lot} llegó a {station} después del lote {after} ({class}); lo hecho entre ambos es menos que el grado «{need}» o la purga que pide el plan."}},
		{Code: "allergen-gap", Severity: Major, Clauses: allergen, Says: plan.Text{
			"en": "Lot {lot} came to {station} after lot {after} ({class}), which has an allergen it has not; no clean-out of grade “{need}” and no purge between them is on record.",
			"es": "El lote {lot} llegó a {station} después del lote {after} ({class}), que tiene un alérgeno que él no tiene; no consta limpieza de grado «{need}» ni purga entre ambos."}},
		{Code: "together", Severity: Major, Clauses: clauses, Says: plan.Text{
			"en": "Unlike lots {lot} and {other} were at {station} together from {from}.",
			"es": "Los lotes distintos {lot} y {other} estuvieron juntos en {station} desde {from}."}},
		{Code: "cleaned-occupied", Severity: Minor, Says: plan.Text{
			"en": "{station} was signed off as cleaned at {done} while lot {lot} was there.",
			"es": "{station} se firmó como limpio a las {done} con el lote {lot} dentro."}},
		{Code: "broken-shipped", Severity: Critical, Clauses: clauses, Says: plan.Text{
			"en": "Lot {lot} went to {partner} as organic; the records do not show that it was kept apart ({why}).",
			"es": "El lote {lot} salió para {partner} como ecológico; los registros no muestran que se mantuviera separado ({why})."}},
		{Code: "broken-made", Severity: Major, Clauses: clauses, Says: plan.Text{
			"en": "Lot {lot} is declared {status} and was made from lot {after}, of which the records do not show that.",
			"es": "El lote {lot} se declara {status} y se hizo del lote {after}, del que los registros no lo muestran."}},
		{Code: "purge-sold", Severity: Critical, Clauses: clauses, Says: plan.Text{
			"en": "Lot {lot} is grain that was run through to clean equipment, and it is declared {status}.",
			"es": "El lote {lot} es grano usado para purgar equipos, y se declara {status}."}},
	}
}

// classOf is a lot's class: its declared status and the allergens of its item under the lists that apply.
func classOf(p *plan.Plan, l *lots.Lot) plan.Class {
	c := plan.Class{Status: string(l.Status)}
	if l.Status == "" {
		c.Status = string(records.Conventional) // a lot that was only ever mentioned can claim nothing
	}
	if i := p.Item(l.Item); i != nil {
		c.Allergens = slices.Sorted(slices.Values(i.Allergens))
	}
	return c
}

func judgeSegregation(st *state.State, f *lots.Floor) *Segregation {
	s := &Segregation{Broken: map[int]*Broken{}}
	steps := make(map[*state.Record]*lots.Step, len(f.Steps))
	for i := range f.Steps {
		steps[f.Steps[i].Record] = f.Steps[i]
	}
	for _, code := range sortedStations(f) {
		x := &stationJudge{st: st, f: f, seg: s, steps: steps, station: code, contacts: loose(st, code, f.Contacts[code])}
		x.look()
		x.arrivals()
		x.together()
		x.occupied()
	}
	s.spread(f)
	s.models(f)
	return s
}

// loose are the contacts in which goods lay open. Where the plan then in force keeps them packaged, lots that stand side
// by side do not touch: 7 CFR 205.2 calls commingling the contact of unpackaged products (from memory).
func loose(st *state.State, code records.StationCode, all []lots.Contact) []lots.Contact {
	packaged := func(c lots.Contact) bool {
		p := st.PlanAt(c.From)
		if p == nil {
			return false
		}
		row := p.Station(code)
		return row != nil && row.Packaged
	}
	if !slices.ContainsFunc(all, packaged) {
		return all
	}
	return slices.DeleteFunc(slices.Clone(all), packaged)
}

func sortedStations(f *lots.Floor) []records.StationCode {
	out := make([]records.StationCode, 0, len(f.Contacts))
	for code := range f.Contacts {
		out = append(out, code)
	}
	slices.Sort(out)
	return out
}
