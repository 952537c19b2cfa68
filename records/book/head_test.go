package book_test

import (
	"bytes"
	"context"
	"strings"
	"testing"

	"grainward/records"
	"grainward/records/book"
	"grainward/records/book/booktest"
	"grainward/records/ledger"
	"grainward/records/memory"
)

// TestHeadHeldAgainstKeyAndEntries: a book is not opened on a journal that is not what was signed, or with another key than it was
// signed with; and nothing is written by trying.
func TestHeadHeldAgainstKeyAndEntries(t *testing.T) {
	type row struct {
		rows  []records.Row
		heads map[records.Position][]byte
	}
	signer, _ := booktest.Key(t)
	thief, _ := booktest.Key(t) // another key of the same name
	made := func() *row {
		store := memory.New()
		b, err := book.Open(context.Background(), store, book.Options{Origin: booktest.Origin, Signer: signer, Now: func() records.Instant { return noon }})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := b.Admit(t.Context(), adoption(planText, noon)); err != nil {
			t.Fatal(err)
		}
		for _, what := range []string{"dust on the sill", "a worn brush", "a bent rake"} {
			if _, err := b.Admit(t.Context(), records.Entry{ID: records.NewEntryID(), Happened: noon, By: "ana", Kind: records.KindDeviation, Meaning: records.Performed, Fact: &records.Deviation{What: what}}); err != nil {
				t.Fatal(err)
			}
		}
		r := &row{heads: map[records.Position][]byte{}}
		if err := store.Read(t.Context(), 0, func(_ records.Position, x records.Row) error { r.rows = append(r.rows, x); return nil }); err != nil {
			t.Fatal(err)
		}
		if err := store.Checkpoints(t.Context(), func(at records.Position, note []byte) error { r.heads[at] = bytes.Clone(note); return nil }); err != nil {
			t.Fatal(err)
		}
		return r
	}
	sign := func(r *row, at records.Position, key, origin string) []byte {
		var tree ledger.Tree
		for _, x := range r.rows[:at] {
			tree.Append(x.Leaf)
		}
		signed, err := ledger.Sign(ledger.Checkpoint{Origin: origin, Size: int64(at), Root: tree.Root()}, key)
		if err != nil {
			t.Fatal(err)
		}
		return signed
	}
	rewrite := func(r *row) { // one word, and its hash
		at := len(r.rows) - 1
		r.rows[at].Bytes = bytes.Replace(r.rows[at].Bytes, []byte("bent"), []byte("fine"), 1)
		r.rows[at].Leaf = ledger.LeafHash(r.rows[at].Bytes)
	}
	end := records.Position(len(made().rows))
	for _, c := range []struct {
		name  string
		harm  func(r *row)
		kind  records.ErrorKind
		words string
	}{
		{"nothing", func(*row) {}, records.Internal, ""},
		{"rewritten, hashes too", rewrite, records.Corrupt, "not those that were signed"},
		{"rewritten, and signed with another key", func(r *row) { rewrite(r); r.heads[end] = sign(r, end, thief, booktest.Origin) }, records.Conflict, "private key is not the one"},
		{"the newest head gone", func(r *row) { delete(r.heads, end) }, records.Corrupt, "covered by no signed tree head"},
		{"all heads gone", func(r *row) { clear(r.heads) }, records.Corrupt, "covered by no signed tree head"},
		{"the last entries gone", func(r *row) { r.rows = r.rows[:end-1] }, records.Corrupt, "covers"},
		{"a head that is none", func(r *row) { r.heads[end] = []byte("none") }, records.Corrupt, "newest signed tree head"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := made()
			c.harm(r)
			store := &frozenStore{Store: memory.New(), rows: r.rows, heads: r.heads}
			b, err := book.Open(context.Background(), store, book.Options{Origin: booktest.Origin, Signer: signer, Now: func() records.Instant { return 1 }})
			if c.words == "" {
				if err != nil {
					t.Fatal(err)
				}
				if err := b.Close(); err != nil {
					t.Fatal(err)
				}
				return
			}
			if err == nil || records.KindOf(err) != c.kind || !strings.Contains(err.Error(), c.words) {
				t.Fatalf("%v, want kind %d with %q", err, c.kind, c.words)
			}
		})
	}
	r := made()
	store := &frozenStore{Store: memory.New(), rows: r.rows, heads: r.heads}
	if _, err := book.Open(context.Background(), store, book.Options{Origin: booktest.Origin, Signer: thief, Now: func() records.Instant { return 1 }}); records.KindOf(err) != records.Conflict || !strings.Contains(err.Error(), "find out who replaced it") {
		t.Errorf("the key replaced: %v", err)
	}
	if _, err := book.Open(context.Background(), store, book.Options{Origin: "other.invalid/x", Signer: signer, Now: func() records.Instant { return 1 }}); records.KindOf(err) != records.Conflict {
		t.Errorf("another journal's name: %v", err)
	}
	rewrite(r)
	if _, err := book.Open(context.Background(), store, book.Options{}); records.KindOf(err) != records.Corrupt {
		t.Errorf("without the key, rewritten: %v", err)
	}
}

// frozenStore gives what it is told to.
type frozenStore struct {
	*memory.Store
	rows  []records.Row
	heads map[records.Position][]byte
}

func (s *frozenStore) Head(context.Context) (records.Position, error) {
	return records.Position(len(s.rows)), nil
}

func (s *frozenStore) Read(_ context.Context, from records.Position, visit func(records.Position, records.Row) error) error {
	for at := from; at < records.Position(len(s.rows)); at++ {
		if err := visit(at, s.rows[at]); err != nil {
			return err
		}
	}
	return nil
}

func (s *frozenStore) Checkpoints(_ context.Context, visit func(records.Position, []byte) error) error {
	for at := records.Position(0); at <= records.Position(len(s.rows))+5; at++ {
		if note, ok := s.heads[at]; ok {
			if err := visit(at, note); err != nil {
				return err
			}
		}
	}
	return nil
}
