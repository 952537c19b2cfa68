package lots

import (
	"maps"
	"slices"

	"grainward/records"
	"grainward/records/state"
)

func (f *folder) receipt(r *state.Record, fact *records.Receipt) {
	i, m := f.enter(r, fact.Lot, fact.Item, fact.Status, fact.Weight)
	if l := f.own(i); l.Receipt == nil {
		l.Receipt = fact
	}
	to := Place{Station: fact.To}
	f.pass(r, fact.Via, false, i)
	f.put(r, i, to, m)
	f.transfer(&Transfer{Record: r, Receipt: fact, From: Place{Holder: fact.Source}, To: to, Portions: []Portion{{Lot: i, Mass: m, Moisture: fact.Weight.Moisture}}})
}

func (f *folder) move(r *state.Record, fact *records.Move) {
	portions := f.draw(nil, r, fact.Lot, Place{Station: fact.From}, fact.Weight, fact.Last)
	for _, p := range portions {
		f.pass(r, fact.Via, false, p.Lot)
	}
	for _, p := range portions {
		f.put(r, p.Lot, Place{Station: fact.To}, p.Mass)
	}
}

func (f *folder) process(r *state.Record, fact *records.Process) {
	step := &Step{Record: r, What: fact.Process, In: make([]Portion, 0, len(fact.Inputs))}
	for _, in := range fact.Inputs {
		step.In = f.draw(step.In, r, in.Lot, Place{Station: in.From}, in.Weight, in.Last)
	}
	begun := r.Happened
	if fact.Started != 0 && fact.Started < begun {
		begun = fact.Started
	}
	for _, p := range step.In {
		f.own(p.Lot).Used += p.Mass
		if p.From.Station != fact.Station {
			f.touch(r, fact.Station, p.Lot, begun, false)
		}
		f.pass(r, fact.Via, false, p.Lot)
	}
	f.outputs(r, step, fact.Station, fact.Outputs, fact.Via)
}

// outputs places what a step made, and joins the lots in the graph.
func (f *folder) outputs(r *state.Record, step *Step, station records.StationCode, outputs []records.Output, via []records.StationCode) {
	step.Out = make([]Made, 0, len(outputs))
	for k := range outputs {
		o := &outputs[k]
		i, m := f.enter(r, o.Lot, o.Item, o.Status, o.Weight)
		l := f.own(i)
		l.Outputs = append(l.Outputs, o)
		step.Out = append(step.Out, Made{Lot: i, Mass: m, Output: o})
		if o.To != station && station != "" {
			f.touch(r, station, i, r.Happened, false)
		}
		f.pass(r, via, false, i)
		f.put(r, i, Place{Station: o.To}, m)
	}
	at := len(f.Steps)
	for _, p := range step.In {
		if l := f.own(p.Lot); !endsIn(l.Spent, at) {
			l.Spent = append(l.Spent, at)
		}
	}
	for _, o := range step.Out {
		if l := f.own(o.Lot); !endsIn(l.Made, at) {
			l.Made = append(l.Made, at)
		}
	}
	f.Steps = append(f.Steps, step)
	f.cycles(at)
}

func endsIn(steps []int, at int) bool { return len(steps) > 0 && steps[len(steps)-1] == at }

func (f *folder) purge(r *state.Record, fact *records.Purge) {
	step := &Step{Record: r, What: "purge", In: f.draw(nil, r, fact.Lot, Place{Station: fact.From}, fact.Weight, fact.Last)}
	for _, p := range step.In {
		f.own(p.Lot).Used += p.Mass
		f.pass(r, fact.Stations, true, p.Lot)
	}
	f.outputs(r, step, "", []records.Output{fact.Became}, nil)
}

func (f *folder) handover(r *state.Record, fact *records.Handover) {
	if !fact.Confirms.IsZero() {
		f.confirm(r, fact)
		return // counted with the one it confirms
	}
	from := Place{Station: fact.From, Holder: fact.FromHolder}
	to := Place{Holder: fact.To}
	portions := f.draw(nil, r, fact.Lot, from, fact.Weight, fact.Last)
	for _, p := range portions {
		f.pass(r, fact.Via, false, p.Lot)
		f.set(r, p.Lot, to, f.Lots[p.Lot].At.Of(to)+p.Mass)
	}
	f.transfer(&Transfer{Record: r, Handover: fact, From: from, To: to, Portions: portions, Confirms: f.confirmed(r)})
}

// transfer notes goods that changed hands.
func (f *folder) transfer(t *Transfer) {
	at := len(f.Transfers)
	f.Transfers = append(f.Transfers, t)
	for _, p := range t.Portions {
		if l := f.own(p.Lot); !endsIn(l.Handed, at) {
			l.Handed = append(l.Handed, at)
		}
	}
	if t.Handover != nil {
		all, _ := f.handed.get(t.Record.ID)
		f.handed.put(t.Record.ID, append(slices.Clip(all), at))
	}
}

// confirm notes an entry that confirms a handover, which by what was written may come only later.
func (f *folder) confirm(r *state.Record, fact *records.Handover) {
	waiting, _ := f.confirmations.get(fact.Confirms)
	f.confirmations.put(fact.Confirms, append(slices.Clip(waiting), r))
	all, known := f.handed.get(fact.Confirms)
	if !known {
		f.assume(r, "unknown-confirmation", fact.Lot, Place{}, 0)
		return
	}
	for _, i := range all {
		t := f.ownTransfer(i)
		t.Confirms = append(slices.Clip(t.Confirms), r)
	}
}

// confirmed are the entries so far that confirm a handover. That it was not known was assumed too early.
func (f *folder) confirmed(r *state.Record) []*state.Record {
	confirms, _ := f.confirmations.get(r.ID)
	if _, known := f.handed.get(r.ID); len(confirms) > 0 && !known {
		f.Assumed = slices.DeleteFunc(slices.Clone(f.Assumed), func(a Assumption) bool {
			return a.Code == "unknown-confirmation" && slices.Contains(confirms, a.Record)
		})
	}
	return confirms
}

func (f *folder) sample(r *state.Record, fact *records.Sample) {
	l := f.Lots[f.lot(r, fact.Lot)]
	if fact.Act == "discarded" {
		l.Samples -= fact.Number
		return
	}
	l.Samples += fact.Number
	if fact.Mass != nil && fact.From != "" {
		for _, p := range f.draw(nil, r, fact.Lot, Place{Station: fact.From}, records.Weight{Mass: *fact.Mass}, false) {
			f.set(r, p.Lot, Samples, f.Lots[p.Lot].At.Of(Samples)+p.Mass)
		}
	}
}

// Samples is where retained samples stand. No plan can have a station of that name: codes have no spaces.
var Samples = Place{Station: "retained samples"}

// count puts what was found in place of what was computed. A count of nothing proves a station empty.
func (f *folder) count(r *state.Record, fact *records.Count) {
	s := f.station(r, fact.Station)
	var total records.Micrograms
	for _, x := range fact.Found {
		total += mass(x.Weight)
	}
	if s.Mixed {
		f.countMixed(r, s, fact.Found, total)
	} else {
		f.countApart(r, s, fact.Found)
	}
	if total == 0 {
		f.proven(r, s, r.Happened)
	}
}

// countApart counts lot by lot. What was found without saying of which lot is of the only one there, when there is only one.
func (f *folder) countApart(r *state.Record, s *Station, list []records.Found) {
	at := Place{Station: s.Code}
	here := f.here(at)
	found := map[int]records.Micrograms{}
	for _, i := range here {
		found[i] = 0
	}
	for _, x := range list {
		code := x.Lot
		switch {
		case code != "":
		case len(here) == 1:
			code = f.Lots[here[0]].Code
		case mass(x.Weight) == 0:
			continue
		default:
			f.assume(r, "which-lot", "", at, mass(x.Weight))
			continue
		}
		found[f.lot(r, code)] += mass(x.Weight)
	}
	for _, i := range slices.Sorted(maps.Keys(found)) {
		f.adjust(r, i, at, found[i]-f.Lots[i].At.Of(at), Counted)
		f.set(r, i, at, found[i])
	}
}

// countMixed shares the sum of what was found out as the contents were computed, since the lots can not be told apart.
// Only what is named and was not known to be there comes in by what was found of it.
func (f *folder) countMixed(r *state.Record, s *Station, list []records.Found, total records.Micrograms) {
	at := Place{Station: s.Code}
	lots := slices.Clone(s.Residents)
	weights := f.masses(lots, at)
	for _, x := range list {
		if x.Lot == "" {
			continue
		}
		if i := f.lot(r, x.Lot); !slices.Contains(lots, i) {
			lots, weights = append(lots, i), append(weights, mass(x.Weight))
		}
	}
	if len(lots) == 0 {
		if total > 0 {
			f.assume(r, "nothing-there", "", at, total)
		}
		return
	}
	for k, m := range share(total, weights) {
		i := lots[k]
		f.adjust(r, i, at, m-f.Lots[i].At.Of(at), Counted)
		f.own(i).event(r)
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
		f.adjust(c.Record, i, at, -f.Lots[i].At.Of(at), Emptied)
		f.set(c.Record, i, at, 0)
	}
	f.proven(c.Record, s, c.To)
}

func (f *folder) proven(r *state.Record, s *Station, at records.Instant) {
	for _, i := range s.Residents {
		f.leave(r, s, i, at)
	}
	s.Residents, s.Proven, s.filling = nil, at, s.filling+1
}
