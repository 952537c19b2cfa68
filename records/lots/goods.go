package lots

import (
	"cmp"
	"math/big"
	"slices"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/state"
)

func (f *folder) receipt(r *state.Record, fact *records.Receipt) {
	i, m := f.enter(r, fact.Lot, fact.Item, fact.Status, fact.Weight)
	if l := f.Lots[i]; l.Receipt == nil {
		l.Receipt = fact
	}
	to := Place{Station: fact.To}
	f.pass(r, fact.Via, false, i)
	f.put(r, i, to, m)
	f.Transfers = append(f.Transfers, Transfer{Record: r, Receipt: fact, From: Place{Holder: fact.Source}, To: to, Portions: []Portion{{Lot: i, Mass: m, Moisture: fact.Weight.Moisture}}})
}

func (f *folder) move(r *state.Record, fact *records.Move) {
	portions := f.draw(r, fact.Lot, Place{Station: fact.From}, fact.Weight, fact.Last)
	for _, p := range portions {
		f.pass(r, fact.Via, false, p.Lot)
	}
	for _, p := range portions {
		f.put(r, p.Lot, Place{Station: fact.To}, p.Mass)
	}
}

func (f *folder) process(r *state.Record, fact *records.Process) {
	step := Step{Record: r, What: fact.Process}
	for _, in := range fact.Inputs {
		step.In = append(step.In, f.draw(r, in.Lot, Place{Station: in.From}, in.Weight, in.Last)...)
	}
	begun := r.Happened
	if fact.Started != 0 && fact.Started < begun {
		begun = fact.Started
	}
	for _, p := range step.In {
		f.Lots[p.Lot].Used += p.Mass
		if p.From.Station != fact.Station {
			f.touch(r, fact.Station, p.Lot, begun, false)
		}
		f.pass(r, fact.Via, false, p.Lot)
	}
	f.outputs(r, &step, fact.Station, fact.Outputs, fact.Via)
}

// outputs places what a step made, and joins the lots in the graph.
func (f *folder) outputs(r *state.Record, step *Step, station records.StationCode, outputs []records.Output, via []records.StationCode) {
	for k := range outputs {
		o := &outputs[k]
		i, m := f.enter(r, o.Lot, o.Item, o.Status, o.Weight)
		f.Lots[i].Outputs = append(f.Lots[i].Outputs, o)
		step.Out = append(step.Out, Made{Lot: i, Mass: m, Output: o})
		if o.To != station && station != "" {
			f.touch(r, station, i, r.Happened, false)
		}
		f.pass(r, via, false, i)
		f.put(r, i, Place{Station: o.To}, m)
	}
	at := len(f.Steps)
	for _, p := range step.In {
		if l := f.Lots[p.Lot]; !slices.Contains(l.Spent, at) {
			l.Spent = append(l.Spent, at)
		}
	}
	for _, o := range step.Out {
		if l := f.Lots[o.Lot]; !slices.Contains(l.Made, at) {
			l.Made = append(l.Made, at)
		}
	}
	f.Steps = append(f.Steps, *step)
}

func (f *folder) purge(r *state.Record, fact *records.Purge) {
	step := Step{Record: r, What: "purge", In: f.draw(r, fact.Lot, Place{Station: fact.From}, fact.Weight, fact.Last)}
	for _, p := range step.In {
		f.Lots[p.Lot].Used += p.Mass
		f.pass(r, fact.Stations, true, p.Lot)
	}
	f.outputs(r, &step, "", []records.Output{fact.Became}, nil)
}

func (f *folder) handover(r *state.Record, fact *records.Handover) {
	if !fact.Confirms.IsZero() {
		if _, ok := f.st.Find(fact.Confirms); !ok {
			f.assume(r, "unknown-confirmation", fact.Lot, Place{}, 0)
		}
		return // counted with the one it confirms
	}
	from := Place{Station: fact.From, Holder: fact.FromHolder}
	to := Place{Holder: fact.To}
	portions := f.draw(r, fact.Lot, from, fact.Weight, fact.Last)
	for _, p := range portions {
		f.pass(r, fact.Via, false, p.Lot)
		f.Lots[p.Lot].At[to] += p.Mass
	}
	f.Transfers = append(f.Transfers, Transfer{Record: r, Handover: fact, From: from, To: to, Portions: portions, Confirms: f.confirmations[r.ID]})
}

func (f *folder) sample(r *state.Record, fact *records.Sample) {
	l := f.lot(r, fact.Lot)
	if fact.Act == "discarded" {
		l.Samples -= fact.Number
		return
	}
	l.Samples += fact.Number
	if fact.Mass != nil && fact.From != "" {
		for _, p := range f.draw(r, fact.Lot, Place{Station: fact.From}, records.Weight{Mass: *fact.Mass}, false) {
			f.Lots[p.Lot].At[Samples] += p.Mass
		}
	}
}

// Samples is where retained samples stand.
var Samples = Place{Station: "retained-samples"}

// count puts what was found in place of what was computed. At a mixed station the lots can not be told apart, so the
// sum is shared out as the residents were.
func (f *folder) count(r *state.Record, fact *records.Count) {
	at := Place{Station: fact.Station}
	s := f.station(r, fact.Station)
	here := f.here(at)
	if s.Mixed && len(fact.Found) > 0 {
		var found records.Micrograms
		for _, x := range fact.Found {
			found += mass(x.Weight)
		}
		f.level(r, at, found)
		return
	}
	found := map[int]records.Micrograms{}
	for _, x := range fact.Found {
		f.lot(r, x.Lot)
		found[f.index[x.Lot]] += mass(x.Weight)
	}
	for _, i := range here {
		if _, ok := found[i]; !ok {
			found[i] = 0
		}
	}
	for _, i := range keys(found) {
		f.adjust(r, i, at, found[i]-f.Lots[i].At[at], Counted)
		f.set(r, i, at, found[i])
	}
	if len(fact.Found) == 0 {
		f.proven(r, s, r.Happened)
	}
}

// level makes the sum at a mixed station what was found, sharing the difference out in proportion.
func (f *folder) level(r *state.Record, at Place, found records.Micrograms) {
	here := f.here(at)
	if len(here) == 0 {
		f.assume(r, "nothing-there", "", at, found)
		return
	}
	for k, m := range share(found, f.masses(here, at)) {
		i := here[k]
		f.adjust(r, i, at, m-f.Lots[i].At[at], Counted)
		f.set(r, i, at, m)
	}
}

// clean notes a clean-out. It proves a mixed station empty; whatever was computed to be there is not.
func (f *folder) clean(c CleanOut) {
	f.CleanOuts[c.Station] = append(f.CleanOuts[c.Station], c)
	s := f.station(c.Record, c.Station)
	if !s.Mixed {
		return // a separate station's contents are known by lot; cleaning while occupied is for the audit to say
	}
	at := Place{Station: c.Station}
	for _, i := range f.here(at) {
		f.adjust(c.Record, i, at, -f.Lots[i].At[at], Emptied)
		f.set(c.Record, i, at, 0)
	}
	f.proven(c.Record, s, c.To)
}

func (f *folder) proven(r *state.Record, s *Station, at records.Instant) {
	for _, i := range s.Residents {
		f.leave(r, s.Code, i, at)
	}
	s.Residents, s.Proven = nil, at
}

// station finds a station, and how it holds goods by the plan in force when it is first used.
func (f *folder) station(r *state.Record, code records.StationCode) *Station {
	s := f.Stations[code]
	if s == nil {
		s = &Station{Code: code}
		f.Stations[code] = s
	}
	if p := f.st.PlanAt(r.Happened); p != nil {
		if row := p.Station(code); row != nil {
			s.Mixed = row.Holds == "mixed"
		}
	}
	return s
}

// here are the lots computed to be at a place, in order of arrival there.
func (f *folder) here(at Place) (out []int) {
	if at.Holder != "" || at == Samples {
		for i, l := range f.Lots {
			if l.At[at] != 0 {
				out = append(out, i)
			}
		}
		return out
	}
	if s := f.Stations[at.Station]; s != nil {
		for _, i := range s.Residents {
			if f.Lots[i].At[at] != 0 {
				out = append(out, i)
			}
		}
	}
	return out
}

func (f *folder) masses(lots []int, at Place) []records.Micrograms {
	out := make([]records.Micrograms, len(lots))
	for k, i := range lots {
		out[k] = f.Lots[i].At[at]
	}
	return out
}

// put adds mass of a lot to what is at a station.
func (f *folder) put(r *state.Record, lot int, at Place, m records.Micrograms) {
	s := f.station(r, at.Station)
	f.set(r, lot, at, f.Lots[lot].At[at]+m)
	if !slices.Contains(s.Residents, lot) {
		s.Residents = append(s.Residents, lot)
	}
	key := contactKey{at.Station, lot}
	if _, there := f.open[key]; !there {
		f.open[key] = len(f.Contacts[at.Station])
		f.Contacts[at.Station] = append(f.Contacts[at.Station], Contact{Lot: lot, From: r.Happened, To: Forever, Began: r})
	}
}

// set writes what of a lot is at a place; a stay ends when nothing is left.
func (f *folder) set(r *state.Record, lot int, at Place, m records.Micrograms) {
	if m != 0 {
		f.Lots[lot].At[at] = m
		return
	}
	delete(f.Lots[lot].At, at)
	if at.Holder != "" {
		return
	}
	s := f.station(r, at.Station)
	if !s.Mixed {
		f.leave(r, at.Station, lot, r.Happened)
		s.Residents = slices.DeleteFunc(s.Residents, func(i int) bool { return i == lot })
		return
	}
	// In a mixed station all leave together, when nothing of any is left; they stay residents until that is proven.
	if len(f.here(at)) == 0 {
		for _, i := range s.Residents {
			f.leave(r, at.Station, i, r.Happened)
		}
	}
}

func (f *folder) leave(r *state.Record, station records.StationCode, lot int, at records.Instant) {
	key := contactKey{station, lot}
	if k, ok := f.open[key]; ok {
		c := &f.Contacts[station][k]
		c.To, c.Ended = max(at, c.From), r
		delete(f.open, key)
	}
}

// pass notes that a lot ran through stations at the instant of a record.
func (f *folder) pass(r *state.Record, via []records.StationCode, purge bool, lot int) {
	for _, s := range via {
		f.touch(r, s, lot, r.Happened, purge)
	}
}

// touch notes a contact from an instant to that of the record.
func (f *folder) touch(r *state.Record, station records.StationCode, lot int, from records.Instant, purge bool) {
	f.Contacts[station] = append(f.Contacts[station], Contact{Lot: lot, From: from, To: r.Happened, Began: r, Ended: r, Purge: purge})
}

// draw takes mass out of a place: of one lot, or of all that a mixed station holds in proportion.
func (f *folder) draw(r *state.Record, code records.LotCode, from Place, w records.Weight, last bool) []Portion {
	m := mass(w)
	if from.Holder == "" {
		if s := f.station(r, from.Station); s.Mixed {
			return f.drawMixed(r, s, from, m, w.Moisture, last)
		}
	}
	if code == "" {
		here := f.here(from)
		if len(here) != 1 {
			f.assume(r, "which-lot", "", from, m)
			return nil
		}
		code = f.Lots[here[0]].Code // only one is there, so it was meant
	}
	l := f.lot(r, code)
	i := f.index[code]
	f.take(r, i, from, m, last)
	_ = l
	return []Portion{{Lot: i, Mass: m, Moisture: w.Moisture, From: from}}
}

// take takes mass of one lot from a place. What was not there is assumed to have been; what is left over when the last
// was taken is assumed to be none.
func (f *folder) take(r *state.Record, lot int, from Place, m records.Micrograms, last bool) {
	there := f.Lots[lot].At[from]
	left := there - m
	switch {
	case left < 0 && last:
		f.adjust(r, lot, from, -left, LastTaken)
		left = 0
	case left < 0:
		f.assume(r, "short", f.Lots[lot].Code, from, -left)
		f.adjust(r, lot, from, -left, NotThere)
		left = 0
	case last:
		f.adjust(r, lot, from, -left, LastTaken)
		left = 0
	}
	f.set(r, lot, from, left)
}

func (f *folder) drawMixed(r *state.Record, s *Station, from Place, m records.Micrograms, moisture *records.Decimal, last bool) []Portion {
	if len(s.Residents) == 0 {
		f.assume(r, "nothing-there", "", from, m)
		return nil
	}
	residents := slices.Clone(s.Residents)
	there := f.masses(residents, from)
	weights := there
	if sum(there) == 0 { // computed empty, never proven so: nothing says whose it is, so each may be as likely
		weights = make([]records.Micrograms, len(there))
		for k := range weights {
			weights[k] = 1
		}
	}
	if short := m - sum(there); short > 0 && !last {
		f.assume(r, "short", "", from, short)
	}
	shares := share(m, weights)
	var out []Portion
	for k, i := range residents {
		f.Lots[i].Events = append(f.Lots[i].Events, r)
		out = append(out, Portion{Lot: i, Mass: shares[k], Moisture: moisture, From: from, Estimated: true})
	}
	// Take after all shares are known: taking the last of one may end the stay of all.
	for k, i := range residents {
		left := there[k] - shares[k]
		switch {
		case last:
			f.adjust(r, i, from, -left, LastTaken)
			left = 0
		case left < 0:
			f.adjust(r, i, from, -left, NotThere)
			left = 0
		}
		f.set(r, i, from, left)
	}
	return out
}

// share divides a mass in proportion to weights, exactly: the parts add up to the mass, and the micrograms that do not
// divide go to the largest remainders, ties to the first.
func share(m records.Micrograms, weights []records.Micrograms) []records.Micrograms {
	total := big.NewInt(int64(sum(weights)))
	out := make([]records.Micrograms, len(weights))
	if total.Sign() == 0 {
		return out
	}
	type remainder struct {
		k   int
		rem *big.Int
	}
	rest := m
	rems := make([]remainder, len(weights))
	for k, w := range weights {
		q, rem := new(big.Int).QuoRem(new(big.Int).Mul(big.NewInt(int64(m)), big.NewInt(int64(w))), total, new(big.Int))
		out[k] = records.Micrograms(q.Int64())
		rest -= out[k]
		rems[k] = remainder{k, rem}
	}
	slices.SortStableFunc(rems, func(a, b remainder) int { return b.rem.Cmp(a.rem) })
	for k := 0; rest > 0; k, rest = k+1, rest-1 {
		out[rems[k].k]++
	}
	return out
}

func sum(ms []records.Micrograms) (total records.Micrograms) {
	for _, m := range ms {
		total += m
	}
	return total
}

// scaled is m x (of - part) / of, rounded half away from zero.
func scaled(m records.Micrograms, of int64, part records.Decimal) records.Micrograms {
	v := new(big.Rat).Sub(big.NewRat(of, 1), part.Rat())
	v.Mul(v, new(big.Rat).SetInt64(int64(m)))
	v.Quo(v, big.NewRat(of, 1))
	v.Add(v, big.NewRat(1, 2))
	q := new(big.Int).Div(v.Num(), v.Denom())
	return records.Micrograms(q.Int64())
}

func keys(m map[int]records.Micrograms) []int {
	out := make([]int, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	slices.SortFunc(out, cmp.Compare[int])
	return out
}

func has(ds []calendar.Date, d calendar.Date) bool { return slices.Contains(ds, d) }

func sortDates(ds []calendar.Date) { slices.Sort(ds) }
