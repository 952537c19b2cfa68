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

// Fold computes the floor at a moment from the entries that happened by then, in the order in which they happened:
// when they were written down makes no difference. The clean-outs are those that passed, in order of To.
func Fold(st *state.State, at records.Instant, cleanOuts []CleanOut) *Floor {
	f := &folder{st: st, Floor: &Floor{At: at, Contacts: map[records.StationCode][]Contact{}, CleanOuts: map[records.StationCode][]CleanOut{},
		Stations: map[records.StationCode]*Station{}, index: map[records.LotCode]int{}}, open: map[contactKey]int{}}
	events := merged(st, at)
	f.confirmations = confirmations(events)
	for _, r := range events {
		// At equal instants what ends comes before what starts, and a clean-out that ends then counts as before.
		for len(cleanOuts) > 0 && cleanOuts[0].To <= r.Happened {
			f.clean(cleanOuts[0])
			cleanOuts = cleanOuts[1:]
		}
		f.apply(r)
	}
	for _, c := range cleanOuts {
		if c.To <= at {
			f.clean(c)
		}
	}
	for _, cs := range f.Contacts {
		slices.SortStableFunc(cs, func(a, b Contact) int { return cmp.Compare(a.From, b.From) })
	}
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

// confirmations groups the handover entries that confirm another by the id they confirm.
func confirmations(events []*state.Record) map[records.EntryID][]*state.Record {
	out := map[records.EntryID][]*state.Record{}
	for _, r := range events {
		if h, ok := r.Fact.(*records.Handover); ok && !h.Confirms.IsZero() {
			out[h.Confirms] = append(out[h.Confirms], r)
		}
	}
	return out
}

// folder is a floor while it is being computed.
type folder struct {
	*Floor
	st            *state.State
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
		return
	}
	l.Rejected = nil
	for i := range l.Holds {
		if l.Holds[i].Release == nil {
			l.Holds[i].Release = r
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
	l.Events = append(l.Events, r)
	return l
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
	l.Events = append(l.Events, r)
	m := mass(w)
	l.Entered += m
	if dry, ok := DryMatter(m, w.Moisture); ok {
		l.Dry += dry
	} else {
		l.DryKnown = false
	}
	return f.index[code], m
}

// mass is the exact mass; admission has refused those that can not be read.
func mass(w records.Weight) records.Micrograms {
	m, err := w.Mass.Micrograms()
	if err != nil {
		return 0
	}
	return m
}

// DryMatter is mass x (100 - moisture) / 100, rounded to the microgram, halves away from zero; false when no moisture was
// written down.
func DryMatter(m records.Micrograms, moisture *records.Decimal) (records.Micrograms, bool) {
	if moisture == nil {
		return 0, false
	}
	return scaled(m, 100, *moisture), true
}
