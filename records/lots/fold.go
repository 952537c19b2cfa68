package lots

import (
	"cmp"
	"slices"

	"grainward/records"
	"grainward/records/state"
)

// kinds are those that say something about goods.
var kinds = []records.Kind{records.KindReceipt, records.KindMove, records.KindProcess, records.KindHandover, records.KindCount, records.KindHold,
	records.KindRelease, records.KindPurge, records.KindResult, records.KindSample}

// Kinds are the kinds of entry a floor is folded from, besides the plans that say how stations hold goods.
func Kinds() []records.Kind { return slices.Clone(kinds) }

// Fold computes the floor at a moment from the entries that happened by then, in the order in which they happened:
// when they were written down makes no difference. The clean-outs are those that passed, in order of To.
func Fold(st *state.State, at records.Instant, cleanOuts []CleanOut) *Floor {
	f := &folder{st: st, Floor: &Floor{At: at, Contacts: map[records.StationCode][]Contact{}, CleanOuts: map[records.StationCode][]CleanOut{},
		Stations: map[records.StationCode]*Station{}, index: map[records.LotCode]int{}}, open: map[contactKey]int{}}
	events := merged(st, at)
	f.confirmed(events)
	var due []CleanOut // that ended, and are not yet noted
	for _, r := range events {
		for len(cleanOuts) > 0 && cleanOuts[0].To <= r.Happened {
			due, cleanOuts = append(due, cleanOuts[0]), cleanOuts[1:]
		}
		// At equal instants what ends comes before what starts: a clean-out comes after what was taken out of its station
		// at that instant, and before what was brought there.
		due = slices.DeleteFunc(due, func(c CleanOut) bool {
			now := c.To < r.Happened || brings(r.Fact, c.Station)
			if now {
				f.clean(c)
			}
			return now
		})
		f.apply(r)
	}
	for _, c := range slices.Concat(due, cleanOuts) {
		if c.To <= at {
			f.clean(c)
		}
	}
	for _, cs := range f.Contacts {
		slices.SortStableFunc(cs, func(a, b Contact) int { return cmp.Compare(a.From, b.From) })
	}
	f.cycles()
	return f.Floor
}

// merged is every entry about goods up to the moment, in order.
func merged(st *state.State, at records.Instant) []*state.Record {
	var all []*state.Record
	for _, k := range kinds {
		all = append(all, st.Kind(k).Until(at)...)
	}
	slices.SortFunc(all, func(a, b *state.Record) int {
		return cmp.Or(cmp.Compare(a.Happened, b.Happened), cmp.Compare(a.Position, b.Position))
	})
	return all
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

// confirmed finds the handovers, and groups the entries that confirm one by the id they confirm.
func (f *folder) confirmed(events []*state.Record) {
	f.handovers, f.confirmations = map[records.EntryID]bool{}, map[records.EntryID][]*state.Record{}
	for _, r := range events {
		if h, ok := r.Fact.(*records.Handover); ok {
			if h.Confirms.IsZero() {
				f.handovers[r.ID] = true
			} else {
				f.confirmations[h.Confirms] = append(f.confirmations[h.Confirms], r)
			}
		}
	}
}

// folder is a floor while it is being computed.
type folder struct {
	*Floor
	st            *state.State
	handovers     map[records.EntryID]bool
	confirmations map[records.EntryID][]*state.Record
	open          map[contactKey]int // stays that have not ended, into Contacts
}

type contactKey struct {
	station records.StationCode
	lot     int
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
			l := f.lot(r, code)
			l.Holds = append(l.Holds, Stop{Hold: r})
		}
	case *records.Release:
		for _, code := range fact.Lots {
			f.release(r, fact, f.lot(r, code))
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

// lot finds a lot that an entry names, or notes that it was never received or made.
func (f *folder) lot(r *state.Record, code records.LotCode) *Lot {
	l := f.Find(code)
	if l == nil {
		f.assume(r, "unknown-lot", code, Place{}, 0)
		l = f.begin(code, r)
		l.Origin = nil
	}
	l.event(r)
	return l
}

// event notes an entry once, however often it names the lot.
func (l *Lot) event(r *state.Record) {
	if n := len(l.Events); n == 0 || l.Events[n-1] != r {
		l.Events = append(l.Events, r)
	}
}

// begin starts a lot.
func (f *folder) begin(code records.LotCode, r *state.Record) *Lot {
	l := &Lot{Code: code, Begins: r.Happened, Origin: r, At: map[Place]records.Micrograms{}, DryKnown: true}
	f.index[code] = len(f.Lots)
	f.Lots = append(f.Lots, l)
	return l
}

func (f *folder) assume(r *state.Record, code string, lot records.LotCode, p Place, m records.Micrograms) {
	f.Assumed = append(f.Assumed, Assumption{r, code, lot, p, m})
}

func (f *folder) adjust(r *state.Record, lot int, p Place, by records.Micrograms, why Why) {
	if by == 0 {
		return
	}
	f.Lots[lot].Adjusted += by
	f.Adjustments = append(f.Adjustments, Adjustment{r, lot, p, by, why})
}

// enter adds mass to a lot that is received or made, starting it if it is new.
func (f *folder) enter(r *state.Record, code records.LotCode, item records.ItemCode, status records.Status, w records.Weight) (int, records.Micrograms) {
	l := f.Find(code)
	switch {
	case l == nil:
		l = f.begin(code, r)
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
	return f.index[code], m
}
