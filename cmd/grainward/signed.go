package main

import (
	"context"
	"errors"
	"fmt"

	"grainward/audit"
	"grainward/exports"
	"grainward/records"
	"grainward/records/book"
	"grainward/records/ledger"
	"grainward/records/sqlite"
	"grainward/records/state"
)

// signedBook is a journal open for reading, with the signed tree head that was stored at its size: what exports and proofs
// need, without the private key and while another process writes.
type signedBook struct {
	*book.Book
	store records.Store
	key   string // public
}

// openSigned replays the journal for reading.
func (p *plantFlag) openSigned(ctx context.Context, w *world) (*signedBook, error) {
	key, err := p.Dir.verifier()
	if err != nil {
		return nil, err
	}
	store, err := p.openStore(ctx, sqlite.Read)
	if err != nil {
		return nil, err
	}
	b, err := book.Open(ctx, store, book.Options{Progress: w.bar("reading the journal")})
	if err != nil {
		return nil, errors.Join(err, store.Close())
	}
	return &signedBook{b, store, key}, nil
}

// head is the tree head of a view with its stored checkpoint.
func (s *signedBook) head(ctx context.Context, view *book.View) (book.Head, error) {
	head := view.Head
	err := s.store.Checkpoints(ctx, func(size records.Position, signed []byte) error {
		if size == head.Size {
			head.Checkpoint = signed
		}
		return nil
	})
	switch {
	case err != nil:
		return head, err
	case head.Size == 0:
		return head, errNothingSigned()
	case head.Checkpoint == nil:
		return head, &records.Error{Kind: records.Corrupt, What: fmt.Sprintf("no checkpoint is stored for the journal's %s", plural(int(head.Size), "entry")),
			Do: "Run `grainward verify` to see what is not as it was written."}
	}
	return head, nil
}

// known is the head over the entries that a state knows: a stamp names the entries that were known at the moment asked for.
func (s *signedBook) known(st *state.State, head book.Head) (book.Head, error) {
	if known := st.Size(); known > 0 && known < head.Size {
		return s.HeadAt(known)
	}
	return head, nil
}

// prover writes proof files for a head.
func (s *signedBook) prover(head book.Head) func(records.Position) ([]byte, error) {
	return func(pos records.Position) ([]byte, error) {
		proof, err := s.Prove(pos, head)
		if err != nil {
			return nil, err
		}
		return ledger.FormatProof(proof), nil
	}
}

func errNothingSigned() error {
	return &records.Error{Kind: records.NotFound, What: "nothing has been signed yet: the journal is empty", Do: "Adopt a plan with `grainward plan adopt`."}
}

// newestCheckpoint is the largest signed tree head stored.
func newestCheckpoint(ctx context.Context, heads records.Heads) (signed []byte, err error) {
	err = heads.Checkpoints(ctx, func(_ records.Position, text []byte) error {
		signed = text
		return nil
	})
	if err == nil && signed == nil {
		err = errNothingSigned()
	}
	return signed, err
}

// stamp is what an export of a report carries.
func stamp(r *audit.Report, head book.Head, key, madeBy string) (exports.Stamp, error) {
	origin, err := originOf(key, false)
	if err != nil {
		return exports.Stamp{}, err
	}
	s := exports.Stamp{Origin: origin, Size: head.Size, Root: head.Root, Checkpoint: head.Checkpoint, VerifierKey: key,
		At: r.At, Program: programName(), MadeBy: madeBy}
	if p := r.State.PlanAt(r.At); p != nil {
		s.Plant, s.Address = p.Plant.Name, p.Plant.Address
	}
	return s, nil
}
