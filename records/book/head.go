package book

import (
	"bytes"
	"context"
	"errors"
	"fmt"

	"grainward/records"
	"grainward/records/ledger"
)

// newest is a store that finds its newest signed tree head without going through all of them.
type newest interface {
	NewestCheckpoint(ctx context.Context) ([]byte, error)
}

func newestHead(ctx context.Context, store records.Store) (signed []byte, err error) {
	if s, ok := store.(newest); ok {
		return s.NewestCheckpoint(ctx)
	}
	err = store.Checkpoints(ctx, func(_ records.Position, note []byte) error { signed = note; return nil })
	return bytes.Clone(signed), err
}

// checkHead holds what was replayed against the newest signed tree head: nobody writes on in a journal that is not what was signed,
// or with another key than it was signed with. Only the newest is looked at, which covers all entries; the earlier ones, and
// those kept elsewhere, are for verify.
func (b *Book) checkHead(ctx context.Context) error {
	for {
		signed, err := newestHead(ctx, b.store)
		if err != nil {
			return err
		}
		size := b.st.Size()
		if signed == nil {
			return b.unsigned(0, size)
		}
		head, err := b.opened(signed)
		if err != nil {
			return err
		}
		if at := records.Position(head.Size); at > size { // another process was at it since
			if err := b.catchUp(ctx, nil); err != nil {
				return err
			}
			if b.st.Size() == size {
				return notSigned(fmt.Sprintf("the newest signed tree head covers %d entries, and there are %d", at, size), nil)
			}
			continue
		}
		root, err := b.tree.RootAt(head.Size)
		switch {
		case err != nil || root != head.Root:
			return notSigned(fmt.Sprintf("the journal's %d entries are not those that were signed: they come to another tree head", head.Size), err)
		}
		return b.unsigned(records.Position(head.Size), size)
	}
}

// opened reads a signed tree head: with the plant's own key when the book holds it, else unchecked, as the reader who has the
// public key does that.
func (b *Book) opened(signed []byte) (ledger.Checkpoint, error) {
	if b.signer == "" {
		text, _, _ := bytes.Cut(signed, []byte("\n\n"))
		head, err := ledger.ParseCheckpoint(string(text) + "\n")
		if err != nil {
			return head, notSigned("the newest signed tree head can not be read", err)
		}
		return head, nil
	}
	key, err := ledger.VerifierOf(b.signer)
	if err != nil {
		return ledger.Checkpoint{}, fmt.Errorf("the private key: %w", err)
	}
	head, err := ledger.Open(signed, key)
	switch {
	case errors.Is(err, ledger.ErrUnknownKey):
		return head, &records.Error{Kind: records.Conflict, What: "the private key is not the one this journal was signed with", Err: err,
			Do: "Put the plant's own key back (the copy kept apart from the backups), and find out who replaced it; nothing was written."}
	case err != nil:
		return head, notSigned("the newest signed tree head is not one the plant signed", err)
	case head.Origin != b.origin:
		return head, &records.Error{Kind: records.Conflict, What: fmt.Sprintf("the journal is that of %q, and the key is that of %q", head.Origin, b.origin), Do: "Check which plant is meant; nothing was written."}
	}
	return head, nil
}

// unsigned refuses entries that no tree head covers to whoever would sign for them with the next one. A reader may see them.
func (b *Book) unsigned(from, end records.Position) error {
	if from >= end || b.signer == "" {
		return nil
	}
	return notSigned(fmt.Sprintf("the entries from position %d to %d are covered by no signed tree head", from, end-1), nil)
}

func notSigned(what string, err error) error {
	return &records.Error{Kind: records.Corrupt, What: what, Err: err,
		Do: "Run `grainward verify` to see what is not as it was written, and restore the newest backup that verifies; when this is a copy that was broken off, copy again. Nothing was written."}
}
