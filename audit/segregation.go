package audit

import (
	"cmp"
	"fmt"
	"maps"
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
		steps[f.Steps[i].Record] = &f.Steps[i]
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

// stationJudge goes along one station's timeline.
type stationJudge struct {
	st       *state.State
	f        *lots.Floor
	seg      *Segregation
	steps    map[*state.Record]*lots.Step
	station  records.StationCode
	contacts []lots.Contact
	inside   [][]int        // by clean-out: the lots that were there during it
	purges   []lots.Contact // by which clean grain ran through
	classes  map[classKey]plan.Class
}

// look finds what cleaned the station, once for all arrivals.
func (x *stationJudge) look() {
	for _, c := range x.f.CleanOuts[x.station] {
		x.inside = append(x.inside, x.during(c))
	}
	for _, c := range x.contacts {
		if c.Purge {
			x.purges = append(x.purges, c)
		}
	}
}

type classKey struct {
	p   *plan.Plan
	lot int
}

func (x *stationJudge) class(p *plan.Plan, lot int) plan.Class {
	k := classKey{p, lot}
	c, ok := x.classes[k]
	if !ok {
		c = classOf(p, x.f.Lots[lot])
		if x.classes == nil {
			x.classes = map[classKey]plan.Class{}
		}
		x.classes[k] = c
	}
	return c
}

// ended is the newest end of a contact of one class.
type ended struct {
	at  records.Instant
	lot int
	by  *state.Record
}

// arrivals looks at each contact against the newest end of each unlike class before it. Contacts are taken in order
// of when they begin; those that end by then are first put down under their class (at equal instants what ends comes
// before what starts).
func (x *stationJudge) arrivals() {
	byEnd := make([]int, len(x.contacts))
	for i := range byEnd {
		byEnd[i] = i
	}
	slices.SortStableFunc(byEnd, func(a, b int) int { return cmp.Compare(x.contacts[a].To, x.contacts[b].To) })
	newest := map[string]ended{} // by class, as the plan at that time has it
	for i, c := range x.contacts {
		for len(byEnd) > 0 && x.contacts[byEnd[0]].To < c.From {
			x.note(newest, x.contacts[byEnd[0]])
			byEnd = byEnd[1:]
		}
		p := x.st.PlanAt(c.From)
		if p == nil || c.Purge {
			continue
		}
		before, copied := newest, false
		for k := 0; k < len(byEnd) && x.contacts[byEnd[k]].To == c.From; k++ {
			if x.precedes(byEnd[k], i) {
				if !copied {
					before, copied = maps.Clone(newest), true
				}
				x.note(before, x.contacts[byEnd[k]])
			}
		}
		x.arrival(p, c, before)
	}
}

func (x *stationJudge) note(newest map[string]ended, c lots.Contact) {
	p := x.st.PlanAt(c.To)
	if p == nil {
		return
	}
	class := x.class(p, c.Lot).String()
	if was, ok := newest[class]; ok && was.at == c.To && was.by.Position > c.Ended.Position {
		return // of two that ended at one instant the later in the journal is the newest
	}
	newest[class] = ended{c.To, c.Lot, c.Ended}
}

// precedes says whether a contact that ended at the instant at which another begins came before it. One that also began
// then did if its record was the earlier; what the same record brought came with it. What a lot is made from, there and
// then, is in it, and nothing that it follows.
func (x *stationJudge) precedes(before, after int) bool {
	e, c := x.contacts[before], x.contacts[after]
	if e.From == e.To && (before >= after || e.Began == c.Began) {
		return false
	}
	return e.Ended != c.Began || !x.related(c.Began, e.Lot, c.Lot)
}

func (x *stationJudge) arrival(p *plan.Plan, c lots.Contact, newest map[string]ended) {
	to := x.class(p, c.Lot)
	for _, from := range sortedKeys(newest) {
		e := newest[from]
		need, needed := p.GradeFor(from, to.String(), x.station)
		if !needed || e.lot == c.Lot {
			continue
		}
		was, err := plan.ParseClass(from)
		a := Arrival{Station: x.station, Lot: c.Lot, Contact: c, After: e.lot, Since: e.at, Left: e.by, Need: need, Status: err != nil || was.Status != to.Status,
			Allergen: slices.ContainsFunc(was.Allergens, func(g string) bool { return !slices.Contains(to.Allergens, g) })}
		a.Evidence, a.Weak = x.between(p, need, e, c.From)
		x.seg.Arrivals = append(x.seg.Arrivals, a)
		if a.Evidence == nil && a.Status && records.Status(to.Status).IsOrganic() {
			x.seg.breakLot(c.Lot, &Broken{When: c.From, By: c.Began, Station: x.station, Other: e.lot, Own: true})
		}
	}
}

func sortedKeys(m map[string]ended) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

// between looks for evidence after one instant and by another: a clean-out of the grade that began no earlier than the
// one and ended no later than the other, with nothing there meanwhile; or a purge of the plan's mass. weak is evidence
// that falls short.
func (x *stationJudge) between(p *plan.Plan, need records.GradeCode, left ended, by records.Instant) (evidence, weak *state.Record) {
	after := left.at
	rank, known := p.GradeRank(need)
	cleanOuts := x.f.CleanOuts[x.station]
	first, _ := slices.BinarySearchFunc(cleanOuts, after, func(c lots.CleanOut, at records.Instant) int { return cmp.Compare(c.To, at) })
	for i := first; i < len(cleanOuts) && cleanOuts[i].To <= by; i++ {
		c := cleanOuts[i]
		if c.From < after || len(x.inside[i]) > 0 {
			continue
		}
		if known && c.Grade >= rank {
			return c.Record, nil
		}
		weak = c.Record
	}
	row := p.Station(x.station)
	var last *state.Record
	var ran records.Micrograms
	first, _ = slices.BinarySearchFunc(x.purges, after, func(c lots.Contact, at records.Instant) int { return cmp.Compare(c.From, at) })
	for _, c := range x.purges[first:] {
		if c.From > by {
			break
		}
		if c.To > by || c.Began == last || c.From == after && c.Began.Position <= left.by.Position {
			continue
		}
		last = c.Began
		purge := c.Began.Fact.(*records.Purge)
		m, err := purge.Weight.Mass.Micrograms()
		if err == nil {
			ran = max(ran, m)
		}
		if row != nil && row.Purge != nil {
			if least, err := row.Purge.Micrograms(); err == nil && ran >= least {
				return c.Began, nil
			}
		}
		weak = c.Began
	}
	return nil, weak
}

// during is which lots were at the station at some moment of a clean-out. A contact that ends as it begins, or begins as
// it ends, leaves it empty.
func (x *stationJudge) during(c lots.CleanOut) (out []int) {
	for _, k := range x.contacts {
		if k.From > c.To {
			break
		}
		if k.Ended != nil && k.Ended == c.Record {
			continue // the clean-out itself proved a mixed station empty
		}
		inside := k.From < c.To && k.To > c.From
		if k.From == k.To {
			inside = k.From > c.From && k.From < c.To
		}
		if inside && !slices.Contains(out, k.Lot) {
			out = append(out, k.Lot)
		}
	}
	return out
}

func (x *stationJudge) occupied() {
	for i, c := range x.f.CleanOuts[x.station] {
		for _, lot := range x.inside[i] {
			x.seg.Occupied = append(x.seg.Occupied, Occupied{c, lot})
		}
	}
}

// together finds contacts of unlike lots that overlap. A pass at one instant overlaps a stay that began before and ends
// after it; a pass overlaps what begins at its instant when one record brought both.
func (x *stationJudge) together() {
	var present []lots.Contact
	for _, c := range x.contacts {
		present = slices.DeleteFunc(present, func(p lots.Contact) bool {
			return p.To < c.From || p.To == c.From && p.From != p.To
		})
		for _, other := range present {
			if other.Lot == c.Lot || c.Purge || other.Purge || other.From == other.To && other.Began != c.Began {
				continue
			}
			p := x.st.PlanAt(c.From)
			if p == nil {
				continue
			}
			a, b := x.class(p, other.Lot), x.class(p, c.Lot)
			_, ab := p.GradeFor(a.String(), b.String(), x.station)
			_, ba := p.GradeFor(b.String(), a.String(), x.station)
			if !ab && !ba || x.related(c.Began, other.Lot, c.Lot) {
				continue
			}
			x.seg.Together = append(x.seg.Together, Together{Station: x.station, A: other.Lot, B: c.Lot, From: c.From, To: min(c.To, other.To),
				Began: [2]*state.Record{other.Began, c.Began}, Status: a.Status != b.Status})
			for _, pair := range [][2]int{{other.Lot, c.Lot}, {c.Lot, other.Lot}} {
				mine, theirs := x.class(p, pair[0]), x.class(p, pair[1])
				if mine.Status != theirs.Status && records.Status(mine.Status).IsOrganic() {
					x.seg.breakLot(pair[0], &Broken{When: c.From, By: c.Began, Station: x.station, Other: pair[1], Own: true})
				}
			}
		}
		present = append(present, c)
	}
}

// related says whether a record made one lot from the other, both from the same, or something new from both: malt and its
// rootlets come from one lot on purpose, a downgraded lot is the lot it was, and what a blend is declared as is judged by
// what it was made from (7 CFR 205.2 leaves products of several ingredients out of commingling; from memory). Brought
// together again later they are as unlike as any.
func (x *stationJudge) related(r *state.Record, a, b int) bool {
	step := x.steps[r]
	if step == nil {
		return false
	}
	in := func(lot int) bool {
		return slices.ContainsFunc(step.In, func(p lots.Portion) bool { return p.Lot == lot })
	}
	out := func(lot int) bool {
		return slices.ContainsFunc(step.Out, func(m lots.Made) bool { return m.Lot == lot })
	}
	return (in(a) || out(a)) && (in(b) || out(b))
}

func (s *Segregation) breakLot(lot int, b *Broken) {
	if was := s.Broken[lot]; was == nil || b.When < was.When {
		s.Broken[lot] = b
	}
}

// spread takes what is broken on to everything made from it, until it is declared conventional. Steps are in the order
// in which they happened, and a lot breaks what it becomes only after it broke itself.
func (s *Segregation) spread(f *lots.Floor) {
	for i := range f.Steps {
		step := &f.Steps[i]
		for _, in := range step.In {
			parent := f.Lots[in.Lot]
			b := s.Broken[in.Lot]
			if parent.Status.IsOrganic() && (b == nil || b.When > step.Record.Happened) {
				continue
			}
			for _, out := range step.Out {
				status := f.Lots[out.Lot].Status
				if status == records.MadeWith && (b == nil || b.When > step.Record.Happened) {
					continue // may hold other ingredients; the rule on composition says how much
				}
				if status.IsOrganic() && out.Lot != in.Lot {
					s.breakLot(out.Lot, &Broken{When: step.Record.Happened, By: step.Record, Station: "", Other: in.Lot})
				}
			}
		}
	}
}

// models works out, lot by lot, the chain-of-custody model its history reached. Origins are the receipts upstream.
func (s *Segregation) models(f *lots.Floor) {
	s.Models = make([]Model, len(f.Lots))
	origins := make([]origin, len(f.Lots))
	for i, l := range f.Lots {
		origins[i] = none
		if l.Receipt != nil {
			origins[i] = origin(i)
		}
	}
	for i := range f.Steps { // in order, so parents are settled before what is made of them
		for _, in := range f.Steps[i].In {
			for _, out := range f.Steps[i].Out {
				origins[out.Lot] = origins[out.Lot].with(origins[in.Lot])
			}
		}
	}
	for i, l := range f.Lots {
		switch {
		case s.Broken[i] != nil || !l.Status.IsOrganic() || origins[i] == none:
			s.Models[i] = NotSegregated
		case origins[i] == several:
			s.Models[i] = Segregated
		default:
			s.Models[i] = IdentityPreserved
		}
	}
}

// origin is the one receipt a lot goes back to, or none, or several.
type origin int

const (
	none    origin = -1
	several origin = -2
)

func (o origin) with(p origin) origin {
	switch {
	case o == none:
		return p
	case p == none || o == p:
		return o
	}
	return several
}

func (s *Segregation) findings(st *state.State, f *lots.Floor) (out []Finding) {
	for i := range s.Arrivals {
		if a := &s.Arrivals[i]; a.Evidence == nil {
			out = append(out, a.finding(st, f))
		}
	}
	for i := range s.Together {
		t := &s.Together[i]
		p := st.PlanAt(t.From)
		fd := find("together", fmt.Sprintf("%s:%s+%s:%s", t.Station, f.Lots[t.A].Code, f.Lots[t.B].Code, t.From), t.From,
			Subject{Station: t.Station, Lot: f.Lots[t.B].Code, Item: f.Lots[t.B].Item}, nil,
			[]Value{word("lot", string(f.Lots[t.B].Code)), word("other", string(f.Lots[t.A].Code)), title("station", stationTitle(p, t.Station)), moment("from", p, t.From)},
			eventPositions(t.Began[0], t.Began[1])...)
		out = append(out, fd)
	}
	for _, o := range s.Occupied {
		p := st.PlanAt(o.CleanOut.To)
		out = append(out, find("cleaned-occupied", o.CleanOut.Record.ID.String()+"/"+string(f.Lots[o.Lot].Code), o.CleanOut.To,
			Subject{Station: o.CleanOut.Station, Lot: f.Lots[o.Lot].Code}, nil,
			[]Value{title("station", stationTitle(p, o.CleanOut.Station)), moment("done", p, o.CleanOut.To), word("lot", string(f.Lots[o.Lot].Code))}, o.CleanOut.Record.Position))
	}
	return append(out, s.brokenFindings(st, f)...)
}

func (a *Arrival) finding(st *state.State, f *lots.Floor) Finding {
	p := st.PlanAt(a.Contact.From)
	lot, after := f.Lots[a.Lot], f.Lots[a.After]
	rule := "gap"
	switch {
	case a.Weak != nil:
		rule = "weak-clean-out"
	case !a.Status:
		rule = "allergen-gap"
	}
	need := plan.Text{"en": string(a.Need)}
	for i := range p.Grades {
		if p.Grades[i].Code == a.Need {
			need = p.Grades[i].Title
		}
	}
	fd := find(rule, fmt.Sprintf("%s:%s:%s:%s", a.Station, lot.Code, after.Code, a.Contact.From), a.Contact.From, Subject{Station: a.Station, Lot: lot.Code, Item: lot.Item}, nil,
		[]Value{word("lot", string(lot.Code)), word("after", string(after.Code)), word("class", classOf(p, after).String()), title("station", stationTitle(p, a.Station)),
			moment("since", p, a.Since), title("need", need)}, eventPositions(a.Left, a.Weak, a.Contact.Began)...)
	if rule == "weak-clean-out" && !a.Status {
		fd.Clauses = ruleTable["allergen-gap"].Clauses
	}
	return fd
}

// brokenFindings are about what became of broken lots: made into organic ones, shipped as organic; and of grain that
// was run through to clean.
func (s *Segregation) brokenFindings(st *state.State, f *lots.Floor) (out []Finding) {
	for i, l := range f.Lots {
		b := s.Broken[i]
		if b == nil || b.Own {
			continue
		}
		if p := st.PlanAt(b.When); p != nil {
			out = append(out, find("broken-made", fmt.Sprintf("%s:%s", l.Code, f.Lots[b.Other].Code), b.When, lotSubject(l), nil,
				[]Value{word("lot", string(l.Code)), word("status", string(l.Status)), word("after", string(f.Lots[b.Other].Code))}, eventPositions(b.By)...))
		}
	}
	for i := range f.Transfers {
		t := &f.Transfers[i]
		if t.Handover == nil || !t.Handover.Status.IsOrganic() {
			continue
		}
		p := st.PlanAt(t.Record.Happened)
		for _, portion := range t.Portions {
			b, l := s.Broken[portion.Lot], f.Lots[portion.Lot]
			if p == nil || l.Status.IsOrganic() && (b == nil || b.When > t.Record.Happened) {
				continue
			}
			why := "it is declared " + string(l.Status)
			evidence := eventPositions(t.Record)
			if b != nil {
				why = fmt.Sprintf("since %s, by lot %s", b.When.Time().In(p.Location()).Format("2006-01-02"), f.Lots[b.Other].Code)
				evidence = eventPositions(b.By, t.Record)
			}
			out = append(out, find("broken-shipped", t.Record.ID.String()+"/"+string(l.Code), t.Record.Happened,
				Subject{Lot: l.Code, Item: l.Item, Partner: t.Handover.To}, nil,
				[]Value{word("lot", string(l.Code)), word("partner", partnerName(p, t.Handover.To)), word("why", why)}, evidence...))
		}
	}
	for i := range f.Steps {
		if step := &f.Steps[i]; step.What == "purge" {
			for _, o := range step.Out {
				if o.Output.Status.IsOrganic() {
					out = append(out, find("purge-sold", step.Record.ID.String(), step.Record.Happened, lotSubject(f.Lots[o.Lot]), nil,
						[]Value{word("lot", string(f.Lots[o.Lot].Code)), word("status", string(o.Output.Status))}, step.Record.Position))
				}
			}
		}
	}
	return out
}
