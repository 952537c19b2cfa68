package lots

import (
	"slices"

	"grainward/records"
	"grainward/records/state"
)

// Kinds are the kinds of entry a floor is folded from, besides the plans that say how stations hold goods.
func Kinds() (out []records.Kind) {
	for _, row := range records.Kinds() {
		if row.Kind.AboutGoods() {
			out = append(out, row.Kind)
		}
	}
	return out
}

// Fold computes the floor at a moment from the entries that happened by then, in the order in which they happened:
// when they were written down makes no difference. The clean-outs are those that passed, in order of To.
func Fold(st *state.State, at records.Instant, cleanOuts []CleanOut) *Floor {
	f := newFolder(st)
	cleanOuts = f.take(st.Goods().Until(at), cleanOuts)
	f.finish(cleanOuts, at)
	f.At = at
	return f.Floor
}

// take applies entries, each after the clean-outs that ended before it, and gives back those that did not.
func (f *folder) take(events []*state.Record, cleanOuts []CleanOut) []CleanOut {
	for _, r := range events {
		for len(cleanOuts) > 0 && cleanOuts[0].To <= r.Happened {
			f.due, cleanOuts = append(f.due, cleanOuts[0]), cleanOuts[1:]
		}
		if len(f.due) > 0 {
			f.cleanBefore(r)
		}
		f.apply(r)
	}
	return cleanOuts
}

// cleanBefore notes the clean-outs that come before an entry. At equal instants what ends comes before what starts: a clean-out comes
// after what was taken out of its station at that instant, and before what was brought there.
func (f *folder) cleanBefore(r *state.Record) {
	f.due = slices.DeleteFunc(f.due, func(c CleanOut) bool {
		now := c.To < r.Happened || brings(r.Fact, c.Station)
		if now {
			f.clean(c)
		}
		return now
	})
}

// finish notes the clean-outs that ended after the last entry.
func (f *folder) finish(rest []CleanOut, at records.Instant) {
	for _, c := range slices.Concat(f.due, rest) {
		if c.To <= at {
			f.clean(c)
		}
	}
	f.due = nil
}

// brings says whether a fact puts something into a station.
func brings(fact records.Fact, station records.StationCode) bool {
	switch fact := fact.(type) {
	case *records.Receipt:
		return fact.To == station
	case *records.Move:
		return fact.To == station
	case *records.Process:
		return slices.ContainsFunc(fact.Outputs, func(o records.Output) bool { return o.To == station })
	case *records.Purge:
		return fact.Became.To == station
	}
	return false
}

// folder is a floor while it is being computed.
type folder struct {
	*Floor
	st            *state.State
	due           []CleanOut                                // that ended at the instant of the last entry, and are not yet noted
	handed        layered[records.EntryID, []int]           // handovers by their id, into Transfers
	confirmations layered[records.EntryID, []*state.Record] // by the id they confirm

	turn                  turn
	ownLots, ownTransfers bool
	ownLists              map[records.StationCode]bool // contacts
}

func newFolder(st *state.State) *folder {
	return &folder{st: st, turn: 1, ownLots: true, ownTransfers: true, ownLists: map[records.StationCode]bool{},
		Floor: &Floor{Contacts: map[records.StationCode]Contacts{}, CleanOuts: map[records.StationCode][]CleanOut{}, Stations: map[records.StationCode]*Station{}}}
}

func (f *folder) apply(r *state.Record) {
	switch fact := r.Fact.(type) {
	case *records.Receipt:
		f.receipt(r, fact)
	case *records.Move:
		f.move(r, fact)
	case *records.Process:
		f.process(r, fact)
	case *records.Handover:
		f.handover(r, fact)
	case *records.Count:
		f.count(r, fact)
	case *records.Purge:
		f.purge(r, fact)
	case *records.Sample:
		f.sample(r, fact)
	case *records.Hold:
		for _, code := range fact.Lots {
			l := f.Lots[f.lot(r, code)]
			l.Holds = append(l.Holds, Stop{Hold: r})
		}
	case *records.Release:
		for _, code := range fact.Lots {
			f.release(r, fact, f.Lots[f.lot(r, code)])
		}
	case *records.Result:
		f.lot(r, fact.Lot)
	}
}

func (f *folder) release(r *state.Record, fact *records.Release, l *Lot) {
	if fact.Rejected {
		l.Rejected = r
		l.rejections = append(l.rejections, Stop{Hold: r})
		return
	}
	l.Rejected = nil
	for _, stops := range [][]Stop{l.Holds, l.rejections} {
		for i := range stops {
			if stops[i].Release == nil {
				stops[i].Release = r
			}
		}
	}
}

// lot finds a lot that an entry names, or notes that it was never received or made. It may be changed.
func (f *folder) lot(r *state.Record, code records.LotCode) int {
	i := f.Index(code)
	if i < 0 {
		f.assume(r, "unknown-lot", code, Place{}, 0)
		i = f.begin(code, r)
		f.Lots[i].Origin = nil
	}
	f.own(i).event(r)
	return i
}

// event notes an entry once, however often it names the lot.
func (l *Lot) event(r *state.Record) {
	if n := len(l.Events); n == 0 || l.Events[n-1] != r {
		l.Events = append(l.Events, r)
	}
}

// begin starts a lot. Most come to have a few events.
func (f *folder) begin(code records.LotCode, r *state.Record) int {
	i := len(f.Lots)
	f.index.put(code, i)
	f.Lots = append(f.Lots, &Lot{Code: code, Begins: r.Happened, Origin: r, DryKnown: true, Since: r.Happened, Events: make([]*state.Record, 0, 4), turn: f.turn})
	return i
}

func (f *folder) assume(r *state.Record, code string, lot records.LotCode, p Place, m records.Micrograms) {
	f.Assumed = append(f.Assumed, Assumption{r, code, lot, p, m})
}

func (f *folder) adjust(r *state.Record, lot int, p Place, by records.Micrograms, why Why) {
	if by == 0 {
		return
	}
	f.own(lot).Adjusted += by
	f.Adjustments = append(f.Adjustments, Adjustment{r, lot, p, by, why})
}

// enter adds mass to a lot that is received or made, starting it if it is new.
func (f *folder) enter(r *state.Record, code records.LotCode, item records.ItemCode, status records.Status, w records.Weight) (int, records.Micrograms) {
	i := f.Index(code)
	known := i >= 0
	if !known {
		i = f.begin(code, r)
	}
	l := f.own(i)
	switch {
	case !known:
		l.Item, l.Status = item, status
	case l.Item == "": // so far only mentioned
		l.Item, l.Status = item, status
		if l.Origin == nil {
			l.Origin = r
		}
	case l.Item != item || l.Status != status:
		f.assume(r, "two-kinds", code, Place{}, 0)
	}
	l.event(r)
	m := mass(w)
	l.Entered += m
	if dry, ok := DryMatter(m, w.Moisture); ok {
		l.Dry += dry
	} else {
		l.DryKnown = false
	}
	return i, m
}
