package state

import (
	"fmt"
	"hash/maphash"
	"maps"
	"slices"
	"strings"

	"grainward/records"
	"grainward/records/plan"
)

// Duty is one task at one station.
type Duty struct {
	Task    records.TaskCode
	Station records.StationCode
}

// InForce is a plan and the instant from which it was in force.
type InForce struct {
	From   records.Instant
	Plan   *plan.Plan
	Record *Record
}

// Oddity is something the fold had to assume, because what was written can not be taken as it stands.
type Oddity struct {
	Position records.Position
	Happened records.Instant // of the entry as it counts
	Assumed  string

	plan bool // about the plan's text: gone once the entry counts differently
}

// State is what a journal's entries come to. The zero value is not usable; call New.
type State struct {
	entries     []*Record                               // as first written, by position; nil where a fold was not given one
	ids         *ids                                    // shared by all snapshots; filtered by len(entries)
	kinds       shelf[records.Kind]                     // as they now count
	duties      shelf[Duty]                             // sign-offs as they now count
	documents   shelf[records.DocumentCode]             // as they now count
	goods       Timeline                                // entries about goods, of all their kinds
	corrections map[records.Position][]records.Position // of each corrected entry, in journal order
	now         map[records.Position]*Record            // of each corrected entry: as it counts; nil when withdrawn
	plans       []InForce                               // by From
	oddities    []Oddity
	spare       []Record // to come
	version     uint64
	epoch       uint64

	correctedEpoch uint64 // of corrections and now
}

// New is the state of an empty journal.
func New() *State {
	return &State{
		ids:         &ids{seed: maphash.MakeSeed()},
		corrections: map[records.Position][]records.Position{},
		now:         map[records.Position]*Record{},
		epoch:       1,

		correctedEpoch: 1,
	}
}

// Snapshot is an unchanging view of the state as it is.
func (s *State) Snapshot() *State {
	s.epoch++
	view := *s
	return &view
}

// editCorrected readies the maps of what was corrected, which grow with the journal: only a correction pays for copying them.
func (s *State) editCorrected() {
	if s.correctedEpoch == s.epoch {
		return
	}
	s.correctedEpoch = s.epoch
	s.corrections, s.now = maps.Clone(s.corrections), maps.Clone(s.now)
}

// Apply takes in the entry at a position. Positions come in ascending order; it panics on one already taken, since
// that is a fault of the caller and no state of a plant.
func (s *State) Apply(pos records.Position, e records.Entry) {
	if pos < records.Position(len(s.entries)) {
		panic(fmt.Sprintf("state: position %d applied twice", pos))
	}
	s.version++
	for records.Position(len(s.entries)) < pos {
		s.entries = append(s.entries, nil)
	}
	r := s.record()
	r.Position, r.Entry = pos, e
	s.entries = append(s.entries, r)
	s.ids.Lock()
	s.ids.all = s.entries
	if first, taken := s.ids.find(e.ID); taken {
		s.assume(r, fmt.Sprintf("its id is also that of the entry at position %d; corrections and answers that name the id mean the first", first))
	} else {
		s.ids.add(r)
	}
	s.ids.Unlock()

	s.place(r)
	if fact, ok := e.Fact.(*records.Correct); ok {
		s.correct(r, fact)
	}
}

// recordsAtOnce are made in one piece, of just under 16 KiB: the collector then has a hundredth of the pieces to look at, and those
// that follow each other lie beside each other.
const recordsAtOnce = 113

// record is the next record of the spare ones, which belong to the newest state as the room behind its lists does.
func (s *State) record() (r *Record) {
	if len(s.spare) == 0 {
		s.spare = make([]Record, recordsAtOnce)
	}
	r, s.spare = &s.spare[0], s.spare[1:]
	return r
}

// place sorts a record into the timelines it belongs to; displace takes it out again.
func (s *State) place(r *Record) {
	s.kinds.own(r.Kind, s.epoch).insert(r, s.epoch, s.version)
	if r.Kind.AboutGoods() {
		s.goods.insert(r, s.epoch, s.version)
	}
	switch fact := r.Fact.(type) {
	case *records.Signoff:
		s.duties.own(Duty{fact.Task, fact.Station}, s.epoch).insert(r, s.epoch, s.version)
	case *records.Document:
		s.documents.own(fact.Code, s.epoch).insert(r, s.epoch, s.version)
	case *records.Adoption:
		s.adopt(r, fact)
	}
}

func (s *State) displace(r *Record) {
	s.kinds.own(r.Kind, s.epoch).remove(r, s.epoch, s.version)
	if r.Kind.AboutGoods() {
		s.goods.remove(r, s.epoch, s.version)
	}
	switch fact := r.Fact.(type) {
	case *records.Signoff:
		s.duties.own(Duty{fact.Task, fact.Station}, s.epoch).remove(r, s.epoch, s.version)
	case *records.Document:
		s.documents.own(fact.Code, s.epoch).remove(r, s.epoch, s.version)
	case *records.Adoption:
		s.plans = slices.DeleteFunc(slices.Clone(s.plans), func(p InForce) bool { return p.Record == r })
		s.oddities = slices.DeleteFunc(slices.Clone(s.oddities), func(o Oddity) bool { return o.plan && o.Position == r.Position })
	}
}

// adopt reads the plan and puts it in force. A text that can not be read (an older program's plan, say) is passed
// over and said so; the plan before it stays in force.
func (s *State) adopt(r *Record, fact *records.Adoption) {
	p, err := plan.Parse([]byte(fact.Text))
	if err != nil {
		why, _, _ := strings.Cut(err.Error(), "\n")
		s.assume(r, "the plan adopted here can not be read, so the one before it stays in force ("+why+")")
		s.oddities[len(s.oddities)-1].plan = true
		return
	}
	plans := append(slices.Clone(s.plans), InForce{From: r.Happened, Plan: p, Record: r})
	slices.SortStableFunc(plans, func(a, b InForce) int { return order(a.Record, b.Record) })
	s.plans = plans
}

func (s *State) assume(r *Record, what string) {
	s.oddities = append(s.oddities[:len(s.oddities):len(s.oddities)], Oddity{Position: r.Position, Happened: r.Happened, Assumed: what})
}
