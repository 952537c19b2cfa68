package mongo

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"go.mongodb.org/mongo-driver/bson"

	"grainward/records"
	"grainward/records/book"
	"grainward/records/book/booktest"
	"grainward/records/faulttest"
	"grainward/records/ledger"
	"grainward/records/mongo/mongotest"
	"grainward/records/verify"
)

// tampered is a small signed journal in a database, whose documents tests change behind the store's back.
type tampered struct {
	*Store
	uri, signer, verifier string
	docs                  []batchDoc
	content               string
	kept                  []byte // the newest tree head, as somebody kept it elsewhere
}

func newTampered(t *testing.T) *tampered {
	t.Helper()
	w := &tampered{uri: mongotest.Database(t)}
	w.Store = mustOpen(t, w.uri, Create)
	w.signer, w.verifier = booktest.Key(t)
	b, err := book.Open(t.Context(), mustOpen(t, w.uri, Write), book.Options{Origin: booktest.Origin, Signer: w.signer, Now: func() records.Instant { return noon }})
	if err != nil {
		t.Fatal(err)
	}
	must(b.PutBlob(t.Context(), []byte("a photo of the sill")))
	must(b.Admit(t.Context(), adoption()))
	for n := range 6 {
		var some []records.Entry
		for range 1 + n%3 {
			some = append(some, deviation())
		}
		must(b.Admit(t.Context(), some...))
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	c := must(w.journal.Find(t.Context(), bson.D{}))
	if err := c.All(t.Context(), &w.docs); err != nil {
		t.Fatal(err)
	}
	for i := range w.docs {
		w.docs[i].place()
	}
	w.kept = must(w.NewestCheckpoint(t.Context()))
	if w.content, err = w.evidence(t); err != nil {
		t.Fatal(err)
	}
	return w
}

// evidence is everything that is to be read of it, as text.
func (w *tampered) evidence(t *testing.T) (string, error) {
	var b strings.Builder
	s := mustOpen(t, w.uri, Read)
	defer s.Close()
	err := s.Read(t.Context(), 0, func(at records.Position, r records.Row) error {
		fmt.Fprintf(&b, "%d %s %v\n", at, r.Bytes, r.Leaf)
		return nil
	})
	if err == nil {
		err = s.Checkpoints(t.Context(), func(size records.Position, note []byte) error { fmt.Fprintf(&b, "%d %s\n", size, note); return nil })
	}
	return b.String(), err
}

// put stores a document as it is given, whatever it was.
func (w *tampered) put(t *testing.T, was batchDoc, is batchDoc) {
	t.Helper()
	must(w.journal.DeleteOne(t.Context(), byID(was.ID)))
	must(w.journal.DeleteOne(t.Context(), byID(is.ID)))
	must(w.journal.InsertOne(t.Context(), is))
}

// restore puts the journal back as it was written.
func (w *tampered) restore(t *testing.T) {
	t.Helper()
	must(w.journal.DeleteMany(t.Context(), bson.D{}))
	for _, d := range w.docs {
		must(w.journal.InsertOne(t.Context(), d))
	}
}

// look says how what was done is found out: refused by the store, named by verify, or not at all.
func (w *tampered) look(t *testing.T, what string, extra ...[]byte) string {
	t.Helper()
	s, err := Open(t.Context(), w.uri, Read)
	if err != nil {
		if records.KindOf(err) == records.Internal {
			t.Errorf("%s: an error without a kind: %v", what, err)
		}
		return "refused"
	}
	defer s.Close()
	report, err := verify.Journal(t.Context(), s, verify.Options{Verifier: w.verifier, Origin: booktest.Origin, Extra: extra})
	switch {
	case err != nil:
		if records.KindOf(err) == records.Internal {
			t.Errorf("%s: an error without a kind: %v", what, err)
		}
		return "refused"
	case !report.OK():
		return "named"
	}
	if got, err := w.evidence(t); err != nil || got != w.content {
		t.Errorf("%s: verified, and it is not what was written: %v", what, err)
	}
	return "harmless"
}

// TestFlippedDocuments flips bits of what is stored, at random places of every member of the documents.
func TestFlippedDocuments(t *testing.T) {
	w := newTampered(t)
	r := rand.New(rand.NewPCG(faulttest.Seed(t, rand.Uint64()), 0))
	flip := func(b []byte) []byte {
		b = bytes.Clone(b)
		b[r.IntN(len(b))] ^= 1 << r.IntN(8)
		return b
	}
	n, became := faulttest.Times(t, 60), map[string]int{}
	for range n {
		was := w.docs[r.IntN(len(w.docs))]
		is := was
		is.Rows = append([]rowDoc(nil), was.Rows...)
		row := &is.Rows[r.IntN(len(is.Rows))]
		member := []string{"bytes", "bytes", "leaf", "note", "n", "_id", "token"}[r.IntN(7)]
		far := faulttest.Campaign(t) && r.IntN(10) == 0 // where much seems to be missing, each position of it is asked for
		switch member {
		case "bytes":
			row.Bytes = flip(row.Bytes)
		case "leaf":
			row.Leaf = flip(row.Leaf)
		case "note":
			is.Note = flip(is.Note)
		case "n":
			bit := r.IntN(2)
			if far {
				bit = r.IntN(20)
			}
			is.N ^= 1 << bit
		case "_id":
			is.ID = strings.Map(func(c rune) rune { return c ^ 1 }, was.ID[len(was.ID)-1:])
			is.ID = was.ID[:len(was.ID)-1] + is.ID
			if far {
				is.ID = string(flip([]byte(was.ID)))
			}
			if strings.ToValidUTF8(is.ID, "") != is.ID { // no text of a document can be that
				is.ID = "x" + was.ID
			}
		case "token": // of the writer, which is no evidence
			is.Token = flip(is.Token)
		}
		w.put(t, was, is)
		got := w.look(t, member)
		became[member+" "+got]++
		if got == "harmless" && member != "token" {
			t.Errorf("%s of the batch at %d: not found", member, was.First)
		}
		w.restore(t)
	}
	faulttest.Count(t, n, "bits flipped in the documents of a journal in a database", fmt.Sprint(became))
}

// TestTamperedBatches takes out, repeats, swaps and rewrites whole batches, and in the end rewrites history with the plant's own key,
// which only a tree head kept elsewhere shows.
func TestTamperedBatches(t *testing.T) {
	w := newTampered(t)
	shifted := func(d batchDoc, by records.Position) batchDoc {
		d.First += by
		d.ID = idOf(d.First)
		return d
	}
	last := len(w.docs) - 1
	end := w.docs[last].First + records.Position(w.docs[last].N)
	same := func(a, b batchDoc) (batchDoc, batchDoc) { // each at the other's place
		x, y := a, b
		x.ID, y.ID = b.ID, a.ID
		return x, y
	}
	n := 0
	for name, do := range map[string]func() (extra [][]byte){
		"the last removed": func() [][]byte {
			must(w.journal.DeleteOne(t.Context(), byID(w.docs[last].ID)))
			return [][]byte{w.kept}
		},
		"the first removed": func() [][]byte { must(w.journal.DeleteOne(t.Context(), byID(w.docs[0].ID))); return nil },
		"one removed and the rest moved up": func() [][]byte {
			for _, d := range w.docs[2:] {
				must(w.journal.DeleteOne(t.Context(), byID(d.ID)))
			}
			for _, d := range w.docs[3:] {
				must(w.journal.InsertOne(t.Context(), shifted(d, -records.Position(w.docs[2].N))))
			}
			return nil
		},
		"all removed": func() [][]byte { must(w.journal.DeleteMany(t.Context(), bson.D{})); return [][]byte{w.kept} },
		"the last repeated": func() [][]byte {
			must(w.journal.InsertOne(t.Context(), shifted(w.docs[last], records.Position(w.docs[last].N))))
			return nil
		},
		"two swapped": func() [][]byte { // 1 entry each
			x, y := same(w.docs[1], w.docs[4])
			if x.N != y.N {
				t.Fatal("the batches to swap differ in length")
			}
			w.put(t, w.docs[1], y)
			w.put(t, w.docs[4], x)
			return nil
		},
		"two entries of one swapped": func() [][]byte {
			is := w.docs[3]
			is.Rows = []rowDoc{is.Rows[1], is.Rows[0], is.Rows[2]}
			w.put(t, w.docs[3], is)
			return nil
		},
		"one put twice into a batch": func() [][]byte {
			is := w.docs[last]
			is.Rows = append(append([]rowDoc(nil), is.Rows...), is.Rows[0])
			is.N++
			w.put(t, w.docs[last], is)
			return nil
		},
		"rewritten, hashes too": func() [][]byte { w.rewrite(t, 3, ""); return nil },
		"rewritten and signed with another key": func() [][]byte {
			thief, _ := booktest.Key(t)
			w.rewrite(t, 3, thief)
			return nil
		},
		"rewritten and signed with the stolen key": func() [][]byte {
			w.rewrite(t, 3, w.signer)
			if got := w.lookChanged(t); got != "not found" {
				t.Errorf("rewritten with the key, looked at without anything kept elsewhere: %s", got)
			}
			return [][]byte{w.kept}
		},
	} {
		n++
		extra := do()
		if got := w.look(t, name, extra...); got == "harmless" {
			t.Errorf("%s: not found", name)
		}
		// And nobody writes on in it, unless it is whole by itself and merely shorter or rewritten with the key.
		b, err := book.Open(t.Context(), mustOpen(t, w.uri, Write), book.Options{Origin: booktest.Origin, Signer: w.signer, Now: func() records.Instant { return noon }})
		if err == nil {
			if extra == nil {
				t.Errorf("%s: a server would go on with it", name)
			}
			if err := b.Close(); err != nil {
				t.Error(err)
			}
		} else if k := records.KindOf(err); k != records.Corrupt && k != records.Conflict {
			t.Errorf("%s: a server says %v", name, err)
		}
		w.restore(t)
		must(w.about.DeleteMany(t.Context(), byID("tail")))
	}
	if got := w.look(t, "put back", w.kept); got != "harmless" {
		t.Errorf("put back it is %s", got)
	}
	if head := must(mustOpen(t, w.uri, Read).Head(t.Context())); head != end {
		t.Errorf("put back it has %d entries of %d", head, end)
	}
	faulttest.Count(t, n, "ways to remove, repeat, swap and rewrite batches in a database", "each found, the last by a tree head kept elsewhere")
}

// TestResume holds where the store says that it goes on against what was left in it, for every position.
func TestResume(t *testing.T) {
	w := newTampered(t)
	for _, i := range []int{1, 4, 5} {
		must(w.journal.DeleteOne(t.Context(), byID(w.docs[i].ID)))
	}
	last := w.docs[len(w.docs)-1]
	for from := records.Position(-1); from <= last.First+records.Position(last.N)+1; from++ {
		var want records.Position
		there := false
		for i, d := range w.docs {
			if i != 1 && i != 4 && i != 5 && !there && d.First+records.Position(d.N) > from {
				want, there = max(from, d.First), true
			}
		}
		if got, is, err := w.Resume(t.Context(), from); err != nil || got != want || is != there {
			t.Errorf("from %d it goes on at %d, %v, %v; want %d, %v", from, got, is, err, want, there)
		}
	}
	if got := w.look(t, "three batches removed"); got != "named" {
		t.Errorf("three batches removed: %s", got)
	}
}

// lookChanged verifies without anything kept elsewhere.
func (w *tampered) lookChanged(t *testing.T) string {
	s := mustOpen(t, w.uri, Read)
	defer s.Close()
	if report := must(verify.Journal(t.Context(), s, verify.Options{Verifier: w.verifier, Origin: booktest.Origin})); !report.OK() {
		return "named"
	}
	return "not found"
}

// rewrite changes a word of the first entry of a batch with all hashes after it, and signs every tree head anew when there is a key.
func (w *tampered) rewrite(t *testing.T, which int, key string) {
	t.Helper()
	var tree ledger.Tree
	for i, was := range w.docs {
		is := was
		is.Rows = append([]rowDoc(nil), was.Rows...)
		if i == which {
			changed := bytes.Replace(is.Rows[0].Bytes, []byte("dust"), []byte("gold"), 1)
			if bytes.Equal(changed, is.Rows[0].Bytes) {
				t.Fatal("nothing was changed")
			}
			leaf := ledger.LeafHash(changed)
			is.Rows[0] = rowDoc{changed, leaf[:]}
		}
		for _, r := range is.Rows {
			tree.Append(ledger.Hash(r.Leaf))
		}
		if key != "" {
			is.Note = must(ledger.Sign(ledger.Checkpoint{Origin: booktest.Origin, Size: tree.Size(), Root: tree.Root()}, key))
		}
		w.put(t, was, is)
	}
}
