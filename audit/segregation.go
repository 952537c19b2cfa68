package audit

import (
	"maps"
	"slices"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

// Segregation is how lots were kept apart.
type Segregation struct {
	Stations map[records.StationCode]*Apart
	Broken   map[int]*Broken // lots whose organic status the records no longer show, by index in the floor
	Models   []Model         // by index in the floor: the chain-of-custody model the lot's history reached
}

// Apart is how lots were kept apart at one station, each list in order of time.
type Apart struct {
	Arrivals []Arrival  // every arrival of a lot after unlike contents
	Together []Together // unlike lots in contact with the station at once
	Occupied []Occupied // clean-outs while something was there
}

// At is how lots were kept apart at a station.
func (s *Segregation) At(code records.StationCode) *Apart {
	if a := s.Stations[code]; a != nil {
		return a
	}
	return &Apart{}
}

// All is how lots were kept apart at all stations, one after the other.
func (s *Segregation) All() (all Apart) {
	for _, code := range slices.Sorted(maps.Keys(s.Stations)) {
		a := s.Stations[code]
		all.Arrivals, all.Together, all.Occupied = append(all.Arrivals, a.Arrivals...), append(all.Together, a.Together...), append(all.Occupied, a.Occupied...)
	}
	return all
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

// loose are those contacts of a list, which is used up, in which goods lay open. Where the plan then in force keeps them packaged, lots that stand side
// by side do not touch: 7 CFR 205.2 calls commingling the contact of unpackaged products (from memory).
func loose(st *state.State, code records.StationCode, all []lots.Contact) []lots.Contact {
	packaged := packaging(st, code)
	return slices.DeleteFunc(all, func(c lots.Contact) bool { return packaged(&c) })
}

// packaging says of a station's contacts whether goods were packaged there then.
func packaging(st *state.State, code records.StationCode) func(*lots.Contact) bool {
	var last *plan.Plan
	packaged := false
	return func(c *lots.Contact) bool {
		if p := st.PlanAt(c.From); p != last {
			row := (*plan.Station)(nil)
			if p != nil {
				row = p.Station(code)
			}
			last, packaged = p, row != nil && row.Packaged
		}
		return packaged
	}
}

func sortedStations(f *lots.Floor) []records.StationCode {
	out := make([]records.StationCode, 0, len(f.Contacts))
	for code := range f.Contacts {
		out = append(out, code)
	}
	slices.Sort(out)
	return out
}
