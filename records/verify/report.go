package verify

import (
	"cmp"
	"fmt"
	"slices"

	"grainward/records"
	"grainward/records/ledger"
)

// FaultKind is the closed set of what can be wrong with a journal.
type FaultKind string

const (
	Missing   FaultKind = "missing"   // the row at a position is not there or can not be read
	Altered   FaultKind = "altered"   // the bytes and the leaf hash kept beside them differ
	Malformed FaultKind = "malformed" // the bytes are not an entry as the journal writes it
	Repeated  FaultKind = "repeated"  // the id was used before
	Rewritten FaultKind = "rewritten" // rows agree with themselves and not with what was signed
	Removed   FaultKind = "removed"   // a signed checkpoint covers more rows than there are
	Unsigned  FaultKind = "unsigned"  // no signed checkpoint covers the rows
	Signature FaultKind = "signature" // a checkpoint is not one the plant signed
	File      FaultKind = "file"      // a document or photo is damaged or not there
)

// NoPosition is the position of a fault that belongs to no row.
const NoPosition records.Position = -1

// Fault is one thing that is not as it was written.
type Fault struct {
	Position records.Position `json:"position"` // the first row concerned; NoPosition when it is about none
	To       records.Position `json:"to"`       // the last row concerned
	Kind     FaultKind        `json:"kind"`
	Sentence string           `json:"sentence"`
}

// mostFaults bounds a report: with a wrong key every checkpoint is at fault, and a reader needs the first few.
const mostFaults = 1000

// Report is what a verification found.
type Report struct {
	Entries     records.Position `json:"entries"`     // rows read
	Root        ledger.Hash      `json:"root"`        // that the rows come to; zero when a row is missing
	Signed      records.Position `json:"signed"`      // so many rows are covered by a checkpoint that is signed and agrees; those found altered are listed
	Checkpoints int              `json:"checkpoints"` // that are signed and agree
	Unchecked   int              `json:"unchecked"`   // that are signed and lie past a missing row, so that nothing can be said
	Files       int              `json:"files"`       // documents and photos whose hash agrees
	Faults      []Fault          `json:"faults"`      // in order of position, those about no row last
	More        int              `json:"more"`        // faults beyond those listed
}

// OK says that nothing was found.
func (r Report) OK() bool { return len(r.Faults) == 0 }

// First is the fault with the lowest position, or nil when there is none.
func (r Report) First() *Fault {
	if r.OK() {
		return nil
	}
	return &r.Faults[0]
}

func (r *Report) add(from, to records.Position, kind FaultKind, format string, args ...any) {
	if len(r.Faults) >= mostFaults {
		r.More++
		return
	}
	r.Faults = append(r.Faults, Fault{from, to, kind, fmt.Sprintf(format, args...)})
}

func (r *Report) sort() {
	slices.SortStableFunc(r.Faults, func(a, b Fault) int {
		if (a.Position < 0) != (b.Position < 0) {
			return cmp.Compare(b.Position, a.Position)
		}
		return cmp.Compare(a.Position, b.Position)
	})
}

// places says one position or a stretch of them.
func places(from, to records.Position) string {
	if from == to {
		return fmt.Sprintf("position %d", from)
	}
	return fmt.Sprintf("positions %d to %d", from, to)
}
