package lots

import (
	"slices"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/plan"
	"grainward/records/state"
)

// Place is where goods stand: at a station of ours, or with a partner.
type Place struct {
	Station records.StationCode
	Holder  records.PartnerCode
}

// String names the place by its code.
func (p Place) String() string {
	if p.Holder != "" {
		return "with " + string(p.Holder)
	}
	return string(p.Station)
}

// ours says whether it is a station of the plant.
func (p Place) ours() bool { return p.Holder == "" && p != Samples }

// Lot is one lot and its history.
type Lot struct {
	Code    records.LotCode
	Item    records.ItemCode
	Status  records.Status // as declared where it was first received or made
	Begins  records.Instant
	Origin  *state.Record     // the receipt, process or purge it began with; nil for a lot that was only ever mentioned
	Receipt *records.Receipt  // when it came from outside
	Outputs []*records.Output // when it was made here: each time more of it was

	Entered  records.Micrograms // received or made
	Adjusted records.Micrograms // sum of its adjustments
	Used     records.Micrograms // gone into processes and purges
	At       Stands             // what stands where; no zeros
	Dry      records.Micrograms // dry matter of Entered, as far as moistures were written down
	DryKnown bool               // every time it entered, its moisture was

	Made   []int // steps it was an output of
	Spent  []int // steps it was an input of
	Handed []int // transfers it was part of

	Since records.Instant // when it was first somewhere
	Left  records.Instant // the latest end of its stays that have ended
	Here  int             // stays that have not

	Holds    []Stop          // times it was stopped
	Rejected *state.Record   // the release that rejected it
	Samples  int             // retained and not thrown out
	Events   []*state.Record // every entry that names it or moved it, in order, each once

	rejections []Stop      // times it was rejected, and the release that took it back
	cycle      bool        // it was noted as made from itself
	resides    []residence // in which mixed stations it is, or was, a resident
	turn       turn        // in which it may be changed
}

// residence is that a lot became a resident of a mixed station, and which of the station's fillings that was. A station's residents
// can be tens of thousands when nobody ever proves it empty: whether a lot is one of them is looked up here and not among them.
type residence struct {
	at      records.StationCode
	filling int
}

// Stop is a hold, and the release that ended it (nil while it stands).
type Stop struct{ Hold, Release *state.Record }

// Stopped says whether the lot was ever held or rejected.
func (l *Lot) Stopped() bool { return len(l.Holds)+len(l.rejections) > 0 }

// HeldAt says whether the lot was stopped, or rejected, at an instant.
func (l *Lot) HeldAt(at records.Instant) bool {
	stood := func(s Stop) bool {
		return s.Hold.Happened <= at && (s.Release == nil || s.Release.Happened > at)
	}
	return slices.ContainsFunc(l.Holds, stood) || slices.ContainsFunc(l.rejections, stood)
}

// Standing is what of the lot is still somewhere, ours or with a partner.
func (l *Lot) Standing() (sum records.Micrograms) {
	for _, m := range l.At.All() {
		sum += m
	}
	return sum
}

// KilnDates are the dates of kilning its outputs were labelled with, in order, each once.
func (l *Lot) KilnDates() (out []calendar.Date) {
	for _, o := range l.Outputs {
		if o.KilnDate != nil {
			out = append(out, *o.KilnDate)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// Portion is mass of a lot taken from a place.
type Portion struct {
	Lot       int // index into Floor.Lots
	Mass      records.Micrograms
	Moisture  *records.Decimal
	From      Place
	Estimated bool // share of a mixed station: computed, not weighed
}

// Made is mass of a lot that came out of a step.
type Made struct {
	Lot    int
	Mass   records.Micrograms
	Output *records.Output
}

// Step is one time lots were made from lots: a process, or a purge.
type Step struct {
	Record *state.Record
	What   string // the process, or "purge"
	In     []Portion
	Out    []Made
}

// Adjustment is a mass that appeared or vanished without a fact that says how.
type Adjustment struct {
	Record *state.Record
	Lot    int
	Place  Place
	By     records.Micrograms // what has to be added to the lot to agree with the record
	Why    Why
}

// Why says how an adjustment came about.
type Why string

const (
	NotThere  Why = "more was taken than was there"
	LastTaken Why = "the last was taken"
	Counted   Why = "a count found it so"
	Emptied   Why = "a clean-out found it empty"
)

// Contact is a stretch in which a lot was at a station.
type Contact struct {
	Lot      int
	From, To records.Instant // To is Forever while it is there; equal to From for one that only passed
	Began    *state.Record
	Ended    *state.Record // nil while it is there
	Purge    bool          // it was run through to clean, and diverted
}

// Forever is the end of what has not ended.
const Forever = records.Instant(1<<63 - 1)

// Transfer is goods changing hands: in by a receipt, out or onward by a handover.
type Transfer struct {
	Record   *state.Record
	Receipt  *records.Receipt
	Handover *records.Handover
	From, To Place
	Portions []Portion
	Confirms []*state.Record // later handover entries that confirm it
}

// CleanOut is a sign-off that passed and gives a clean-out of a grade.
type CleanOut struct {
	Station  records.StationCode
	From, To records.Instant // begun, finished
	Grade    int             // rank in the plan then in force, 0 the weakest
	Record   *state.Record
}

// Assumption is what the fold had to assume because what was written can not all be true.
type Assumption struct {
	Record *state.Record
	Code   string // unknown-lot, two-kinds, short, nothing-there, which-lot, cycle, unknown-confirmation
	Lot    records.LotCode
	Place  Place
	Mass   records.Micrograms // the difference, when it is about a mass
}

// Floor is everything about goods at a moment. It is shared; nothing in it may be changed. A lot, step or transfer of which nothing
// became known between one floor of a Keeper and the next is the same pointer in both.
type Floor struct {
	At          records.Instant
	Lots        []*Lot
	Steps       []*Step
	Transfers   []*Transfer
	Adjustments []Adjustment
	Assumed     []Assumption
	Contacts    map[records.StationCode]Contacts
	CleanOuts   map[records.StationCode][]CleanOut
	Stations    map[records.StationCode]*Station

	index layered[records.LotCode, int]
}

// Station is what is at a station.
type Station struct {
	Code      records.StationCode
	Mixed     bool
	Residents []int           // lots since it was last proven empty, in order of arrival; of a separate station those that are there
	Proven    records.Instant // when it was last proven empty; 0 never

	plan     *plan.Plan  // by which Mixed is
	filling  int         // grows when the residents are others than before: each that is one of a mixed station notes it
	standing int         // lots of which something is computed to be there
	open     map[int]int // by lot: the stay that has not ended, into Contacts
	turn     turn        // in which it may be changed
}

// Find is a lot by its code, or nil.
func (f *Floor) Find(code records.LotCode) *Lot {
	if i, ok := f.index.get(code); ok {
		return f.Lots[i]
	}
	return nil
}

// Index is a lot's place in Lots, or -1.
func (f *Floor) Index(code records.LotCode) int {
	if i, ok := f.index.get(code); ok {
		return i
	}
	return -1
}

// Contents is what is computed to be at a place, by lot, in order of arrival at the plant; and its sum.
func (f *Floor) Contents(p Place) (lots []*Lot, sum records.Micrograms) {
	for _, i := range f.There(p) {
		l := f.Lots[i]
		lots, sum = append(lots, l), sum+l.At.Of(p)
	}
	return lots, sum
}

// There are the lots of which something is computed to be at a place, in order of arrival at the plant. What is at a station of ours has not
// ended its stay, so only such lots are looked at; of a partner, all.
func (f *Floor) There(p Place) (lots []int) {
	if p.ours() {
		if s := f.Stations[p.Station]; s != nil {
			for i := range s.open {
				if f.Lots[i].At.Of(p) != 0 {
					lots = append(lots, i)
				}
			}
		}
		slices.Sort(lots)
		return lots
	}
	for i, l := range f.Lots {
		if l.At.Of(p) != 0 {
			lots = append(lots, i)
		}
	}
	return lots
}
