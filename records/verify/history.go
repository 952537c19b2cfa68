package verify

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"slices"

	"grainward/records"
	"grainward/records/ledger"
)

// promise is one checkpoint whose signature holds: at this size the journal had this root.
type promise struct {
	size records.Position
	root ledger.Hash
	from string // where it was found, for sentences
	away bool   // kept elsewhere
}

// history holds rows against promises, in order of position.
type history struct {
	report   *Report
	promises []promise // by size
	next     int       // the first promise not looked at

	byBytes  frontier // what the rows' bytes come to
	byLeaves frontier // what the hashes kept beside them come to; only kept while it differs
	differ   bool
	doubts   []records.Position // rows whose bytes and leaf hash differ, not yet decided

	any, away standing // by every promise; by those kept elsewhere, which a forger who has the key can not make anew
	broken    bool     // a row is missing: no later root can be known
}

// standing is how far promises agreed.
type standing struct {
	agreed    records.Position // size of the last that did
	disagreed bool             // one since then did not
}

// note is one checkpoint as found.
type note struct {
	size   records.Position // under which it was kept; -1 when it came from elsewhere
	signed []byte
	from   string
	opened ledger.Checkpoint
	err    error
}

// takePromises reads every checkpoint and checks the signatures.
func (h *history) takePromises(ctx context.Context, store records.Store, o Options) error {
	var notes []note
	err := store.Checkpoints(ctx, func(size records.Position, signed []byte) error {
		notes = append(notes, note{size: size, signed: bytes.Clone(signed), from: fmt.Sprintf("the checkpoint stored for size %d", size)})
		return nil
	})
	if err != nil {
		if records.KindOf(err) != records.Corrupt {
			return err
		}
		h.report.add(NoPosition, NoPosition, Signature, "the checkpoints can not all be read: %s", firstLine(err))
	}
	for i, signed := range o.Extra {
		notes = append(notes, note{size: -1, signed: signed, from: fmt.Sprintf("checkpoint %d of those kept elsewhere", i+1)})
	}
	inParallel(len(notes), func(i int) { notes[i].opened, notes[i].err = ledger.Open(notes[i].signed, o.Verifier) })
	origin := o.Origin
	for _, n := range notes {
		if errors.Is(n.err, ledger.ErrKey) {
			return &records.Error{Kind: records.Invalid, What: "the verifier key can not be used", Do: "Give the plant's public key, one line of plant.vkey.", Err: n.err}
		}
		if fault := n.fault(&origin); fault != "" {
			h.report.add(NoPosition, NoPosition, Signature, "%s %s", n.from, fault)
			continue
		}
		h.promises = append(h.promises, promise{records.Position(n.opened.Size), n.opened.Root, n.from, n.size < 0})
	}
	slices.SortStableFunc(h.promises, func(a, b promise) int { return int(min(1, max(-1, a.size-b.size))) })
	h.check()
	return nil
}

// fault is what is wrong with a checkpoint by itself, or "". The first origin met is the one all must have, unless one
// was asked for.
func (n *note) fault(origin *string) string {
	switch {
	case errors.Is(n.err, ledger.ErrUnknownKey):
		return "is not signed by the plant's key: " + n.err.Error()
	case n.err != nil:
		return "is not one the plant signed: " + n.err.Error()
	case n.size >= 0 && n.opened.Size != int64(n.size):
		return fmt.Sprintf("says size %d", n.opened.Size)
	case *origin == "":
		*origin = n.opened.Origin
	case n.opened.Origin != *origin:
		return fmt.Sprintf("is of another journal: %q, not %q", n.opened.Origin, *origin)
	}
	return ""
}

// promised is the largest size any promise covers.
func (h *history) promised() records.Position {
	if len(h.promises) == 0 {
		return 0
	}
	return h.promises[len(h.promises)-1].size
}

// add takes the row at a position: the hash of its bytes, and the one kept beside them.
func (h *history) add(at records.Position, computed, stored ledger.Hash) {
	if computed != stored {
		h.doubts = append(h.doubts, at)
		if !h.differ {
			h.differ = true
			h.byLeaves.become(&h.byBytes)
		}
	}
	if h.broken {
		h.settle(undecided)
		return
	}
	h.byBytes.add(computed)
	if h.differ {
		h.byLeaves.add(stored)
	}
	h.check()
}

// check holds what there is against every promise of this size.
func (h *history) check() {
	size := records.Position(h.byBytes.size)
	for ; h.next < len(h.promises) && h.promises[h.next].size == size; h.next++ {
		switch p := h.promises[h.next]; {
		case h.byBytes.root() == p.root:
			h.settle("the leaf hash kept beside the entry at position %d was altered; its bytes are those that were signed")
			h.agree(p)
		case h.differ && h.byLeaves.root() == p.root:
			h.settle("the entry at position %d was altered: its bytes are not those that were signed")
			h.byBytes.become(&h.byLeaves)
			h.agree(p)
		case len(h.doubts) > 0:
			h.settle("the bytes of the entry at position %d and the leaf hash kept beside them differ, and " + p.from + " agrees with neither")
			h.any.disagreed, h.away.disagreed = true, true
		default:
			h.disagree(p)
		}
	}
}

func (h *history) agree(p promise) {
	h.differ = false
	h.any = standing{agreed: p.size}
	if p.away {
		h.away = h.any
	}
	h.report.Signed = p.size
	h.report.Checkpoints++
}

// disagree names the rows that a promise does not agree with, once: all after them have other roots too.
func (h *history) disagree(p promise) {
	s := &h.any
	if p.away {
		s = &h.away
	}
	if s.disagreed {
		return
	}
	s.disagreed = true
	from := min(s.agreed, p.size-1) // two promises of one size can not both agree
	h.report.add(from, p.size-1, Rewritten, "the entries are not those that were signed: %s does not agree with %s", p.from, places(from, p.size-1))
}

const undecided = "the bytes of the entry at position %d and the leaf hash kept beside them differ; no later checkpoint tells which was altered"

// settle names the rows in doubt.
func (h *history) settle(sentence string) {
	for _, at := range h.doubts {
		h.report.add(at, at, Altered, sentence, at)
	}
	h.doubts = h.doubts[:0]
}

// interrupt says that a row is missing, so that no root beyond it can be known.
func (h *history) interrupt() {
	h.settle(undecided)
	h.broken = true
}

// finish says what the largest promise leaves over, either way; end is the position after the last row.
func (h *history) finish(end records.Position) {
	h.settle(undecided)
	if !h.broken {
		h.report.Root = h.byBytes.root()
	}
	for _, p := range h.promises[h.next:] {
		if p.size <= end { // past a missing row
			h.report.Unchecked++
		}
	}
	switch covered := h.promised(); {
	case covered > end && h.any.agreed < end:
		h.report.add(h.any.agreed, covered-1, Removed, "%s, somewhere from position %d on: there are %d, and %s covers %d", gone(covered-end), h.any.agreed, end, h.promises[len(h.promises)-1].from, covered)
	case covered > end:
		h.report.add(end, covered-1, Removed, "the entries at %s were signed and are gone: %s covers them", places(end, covered-1), h.promises[len(h.promises)-1].from)
	case covered < end:
		h.report.add(covered, end-1, Unsigned, "the entries at %s are covered by no signed checkpoint", places(covered, end-1))
	}
}

func gone(n records.Position) string {
	if n == 1 {
		return "1 entry was signed and is gone"
	}
	return fmt.Sprintf("%d entries were signed and are gone", n)
}
