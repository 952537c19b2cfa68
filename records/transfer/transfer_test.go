package transfer_test

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"grainward/records"
	"grainward/records/ledger"
	"grainward/records/memory"
	"grainward/records/mongo"
	"grainward/records/mongo/mongotest"
	"grainward/records/sqlite"
	"grainward/records/transfer"
)

const origin = "transfer.invalid/journal"

type plant struct {
	store            records.Store
	signer, verifier string
	tree             ledger.Tree
}

func newPlant(t testing.TB, store records.Store) *plant {
	t.Helper()
	signer, verifier, err := ledger.GenerateKey(strings.NewReader(strings.Repeat("seed for a test key", 10)), origin)
	if err != nil {
		t.Fatal(err)
	}
	return &plant{store: store, signer: signer, verifier: verifier}
}

func rowAt(at int64) records.Row {
	text := fmt.Appendf(nil, `{"at":%d,"pad":"%s"}`, at, strings.Repeat("x", int(at)%300))
	return records.Row{Bytes: text, Leaf: ledger.LeafHash(text)}
}

// grow appends batches of the sizes given, signed unless the size is negative.
func (p *plant) grow(t testing.TB, sizes ...int) {
	t.Helper()
	for _, n := range sizes {
		b := records.Batch{After: records.Position(p.tree.Size())}
		for range max(n, -n) {
			row := rowAt(p.tree.Size())
			b.Rows = append(b.Rows, row)
			p.tree.Append(row.Leaf)
		}
		if n > 0 {
			var err error
			if b.Checkpoint, err = ledger.Sign(ledger.Checkpoint{Origin: origin, Size: p.tree.Size(), Root: p.tree.Root()}, p.signer); err != nil {
				t.Fatal(err)
			}
		}
		if err := p.store.Append(context.Background(), b); err != nil {
			t.Fatal(err)
		}
	}
}

// content is everything a store holds, as text.
func content(t testing.TB, s records.Store) string {
	t.Helper()
	var b strings.Builder
	ctx := context.Background()
	err := errors.Join(
		s.Read(ctx, 0, func(at records.Position, r records.Row) error {
			fmt.Fprintf(&b, "%d %s %v\n", at, r.Bytes, r.Leaf)
			return nil
		}),
		s.Checkpoints(ctx, func(size records.Position, note []byte) error { fmt.Fprintf(&b, "%d %s\n", size, note); return nil }),
		s.EachBlob(ctx, func(key string, size int64) error {
			data, err := s.GetBlob(ctx, key)
			fmt.Fprintf(&b, "%s %d %x\n", key, size, data)
			return err
		}))
	if err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// From every kind of database to every other and back: the same rows, heads and files, whatever the batches were, and
// however far an earlier copy had come.
func TestCopy(t *testing.T) {
	open := map[string]func(t *testing.T) records.Store{
		"memory": func(*testing.T) records.Store { return memory.New() },
		"sqlite": func(t *testing.T) records.Store {
			return must(sqlite.Open(t.Context(), filepath.Join(t.TempDir(), "j.db"), sqlite.Write))
		},
		"mongo": func(t *testing.T) records.Store {
			return must(mongo.Open(t.Context(), mongotest.Database(t), mongo.Create))
		},
	}
	for a := range open {
		for b := range open {
			t.Run(a+" to "+b, func(t *testing.T) {
				from, to, back := open[a](t), open[b](t), open[a](t)
				defer from.Close()
				defer to.Close()
				defer back.Close()
				p := newPlant(t, from)
				for _, blob := range []string{"a photo", strings.Repeat("a certificate ", 1000)} {
					must(from.PutBlob(t.Context(), []byte(blob)))
				}
				p.grow(t, 1, 3, -2, 700, 1, 1, 1, -5000, 2)
				for range 60 {
					p.grow(t, 1)
				}
				p.grow(t, -1)
				for i, stop := range []records.Position{0, 2, 704, 5720, 1 << 40} {
					begun := to
					if stop < 1<<40 {
						begun = broken{to, stop}
					}
					got, err := transfer.Copy(t.Context(), begun, from, transfer.Options{Verifier: p.verifier})
					if stop < 1<<40 {
						if !errors.Is(err, errBroken) {
							t.Fatalf("copy %d: %v", i, err)
						}
						continue
					}
					if err != nil || got.Root != p.tree.Root() || int64(got.Entries) != p.tree.Size() || got.Heads != 67 || got.Files != 2 || got.Before == 0 {
						t.Fatalf("copy %d: %+v, %v", i, got, err)
					}
				}
				if content(t, to) != content(t, from) {
					t.Fatal("the copy is not the same")
				}
				if got, err := transfer.Copy(t.Context(), to, from, transfer.Options{}); err != nil || got.Before != got.Entries {
					t.Fatalf("once more: %+v, %v", got, err)
				}
				must(transfer.Copy(t.Context(), back, to, transfer.Options{Verifier: p.verifier}))
				if content(t, back) != content(t, from) {
					t.Fatal("there and back it is not the same")
				}
				p.grow(t, 4)
				if got := must(transfer.Copy(t.Context(), to, from, transfer.Options{})); got.Before+4 != got.Entries {
					t.Fatalf("grown by 4: %+v", got)
				}
			})
		}
	}
}

var errBroken = errors.New("broken off")

// broken is a store that takes nothing beyond a position: the machine went off.
type broken struct {
	records.Store
	at records.Position
}

func (b broken) Append(ctx context.Context, batch records.Batch) error {
	if batch.After+records.Position(len(batch.Rows)) > b.at {
		return errBroken
	}
	return b.Store.Append(ctx, batch)
}

// Any batches, any beginning already there: property against the store itself.
func TestCopyDrawn(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		sizes := rapid.SliceOfN(rapid.IntRange(-5, 5).Filter(func(n int) bool { return n != 0 }), 0, 30).Draw(r, "sizes")
		p := newPlant(t, memory.New())
		p.grow(t, sizes...)
		to := memory.New()
		at := 0
		for have := rapid.IntRange(0, int(p.tree.Size())).Draw(r, "there already"); at < have; {
			n := rapid.IntRange(1, have-at).Draw(r, "batch")
			b := records.Batch{After: records.Position(at)}
			for range n {
				b.Rows = append(b.Rows, rowAt(int64(at)))
				at++
			}
			if err := to.Append(t.Context(), b); err != nil {
				r.Fatal(err)
			}
		}
		got, err := transfer.Copy(t.Context(), to, p.store, transfer.Options{Verifier: p.verifier})
		if err != nil || got.Root != p.tree.Root() || int(got.Before) != at {
			r.Fatalf("%+v, %v", got, err)
		}
	})
}

func TestRefused(t *testing.T) {
	p := newPlant(t, memory.New())
	p.grow(t, 2, 3, 4)
	other := newPlant(t, memory.New())
	other.tree.Append(rowAt(1000).Leaf) // another journal: other rows
	if err := other.store.Append(t.Context(), records.Batch{Rows: []records.Row{rowAt(1000)}}); err != nil {
		t.Fatal(err)
	}
	longer := newPlant(t, memory.New())
	longer.grow(t, 2, 3, 4, 1)
	for name, to := range map[string]records.Store{"another journal": other.store, "a longer one": longer.store} {
		before := content(t, to)
		if _, err := transfer.Copy(t.Context(), to, p.store, transfer.Options{}); records.KindOf(err) != records.Conflict {
			t.Errorf("%s: %v", name, err)
		}
		if content(t, to) != before {
			t.Errorf("%s: something was written", name)
		}
	}
	_, stranger, err := ledger.GenerateKey(strings.NewReader(strings.Repeat("another seed for a key", 10)), origin)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := transfer.Copy(t.Context(), memory.New(), p.store, transfer.Options{Verifier: stranger}); records.KindOf(err) != records.Corrupt {
		t.Errorf("signed by another key: %v", err)
	}
	for name, harm := range map[string]func(at records.Position, r *records.Row){
		"bytes":        func(at records.Position, r *records.Row) { flip(at, r, 6) },
		"last bytes":   func(at records.Position, r *records.Row) { flip(at, r, 8) },
		"and its hash": func(at records.Position, r *records.Row) { flip(at, r, 3); r.Leaf = ledger.LeafHash(r.Bytes) },
	} {
		if _, err := transfer.Copy(t.Context(), memory.New(), harmed{p.store, harm}, transfer.Options{}); records.KindOf(err) != records.Corrupt {
			t.Errorf("%s: %v", name, err)
		}
		if _, err := transfer.Copy(t.Context(), harmed{memory.New(), harm}, p.store, transfer.Options{}); records.KindOf(err) != records.Corrupt {
			t.Errorf("%s, of the copy: %v", name, err)
		}
	}
}

func flip(at records.Position, r *records.Row, which records.Position) {
	if at == which {
		r.Bytes[0] ^= 1
	}
}

type harmed struct {
	records.Store
	harm func(records.Position, *records.Row)
}

func (h harmed) Read(ctx context.Context, from records.Position, visit func(records.Position, records.Row) error) error {
	return h.Store.Read(ctx, from, func(at records.Position, r records.Row) error {
		h.harm(at, &r)
		return visit(at, r)
	})
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}
