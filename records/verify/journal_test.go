package verify_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"grainward/records"
	"grainward/records/ledger"
	"grainward/records/verify"
)

func TestWhole(t *testing.T) {
	p := small(t)
	r := p.verify(t, p.heads[1].signed)
	if !r.OK() || r.First() != nil {
		t.Fatalf("faults in a journal nobody touched: %+v", r.Faults)
	}
	if r.Entries != 6 || r.Signed != 6 || r.Checkpoints != 4 || r.Files != 1 {
		t.Fatalf("got %+v", r)
	}
	c, err := ledger.Open(p.heads[2].signed, p.verifier)
	if err != nil || c.Root != r.Root {
		t.Fatalf("root %v, signed %v, %v", r.Root, c.Root, err)
	}
	if empty := newPlant(t).verify(t); !empty.OK() || empty.Root != ledger.EmptyRoot() {
		t.Fatalf("an empty journal: %+v", empty)
	}
}

// TestRoots holds the package's own tree against the writer's, at every size.
func TestRoots(t *testing.T) {
	p := newPlant(t)
	for n := range 70 {
		p.put(t, deviation(t, n))
	}
	if r := p.verify(t); !r.OK() || r.Checkpoints != 70 {
		t.Fatalf("%d of 70 checkpoints agree: %+v", r.Checkpoints, r.Faults)
	}
}

// TestEveryBit flips every bit of every body, leaf hash and checkpoint, one at a time.
func TestEveryBit(t *testing.T) {
	step := 1
	if testing.Short() {
		step = 13
	}
	p := small(t)
	first := func(r verify.Report, at records.Position, kind verify.FaultKind, words string) error {
		if r.OK() {
			return fmt.Errorf("nothing found")
		}
		for _, f := range r.Faults {
			if f.Position == at && f.Kind == kind && strings.Contains(f.Sentence, words) {
				if at >= 0 && r.First().Position != at {
					return fmt.Errorf("the first fault is %+v", r.First())
				}
				return nil
			}
		}
		return fmt.Errorf("found %+v", r.Faults)
	}
	for i := range p.rows {
		body, leaf := p.rows[i].Bytes, &p.rows[i].Leaf
		for bit := 0; bit < 8*len(body); bit += step {
			body[bit/8] ^= 1 << (bit % 8)
			if err := first(p.verify(t), records.Position(i), verify.Altered, "its bytes are not those that were signed"); err != nil {
				t.Fatalf("row %d, bit %d of the body: %v", i, bit, err)
			}
			body[bit/8] ^= 1 << (bit % 8)
		}
		for bit := 0; bit < 8*len(leaf); bit += step {
			leaf[bit/8] ^= 1 << (bit % 8)
			if err := first(p.verify(t), records.Position(i), verify.Altered, "the leaf hash kept beside"); err != nil {
				t.Fatalf("row %d, bit %d of the leaf: %v", i, bit, err)
			}
			leaf[bit/8] ^= 1 << (bit % 8)
		}
	}
	for i, h := range p.heads {
		for bit := 0; bit < 8*len(h.signed); bit += step {
			h.signed[bit/8] ^= 1 << (bit % 8)
			if err := first(p.verify(t), verify.NoPosition, verify.Signature, fmt.Sprintf("the checkpoint stored for size %d ", h.size)); err != nil {
				t.Fatalf("checkpoint %d, bit %d: %v", i, bit, err)
			}
			h.signed[bit/8] ^= 1 << (bit % 8)
		}
		for bit := range 63 {
			p.heads[i].size ^= 1 << bit
			if err := first(p.verify(t), verify.NoPosition, verify.Signature, fmt.Sprintf("says size %d", h.size)); err != nil {
				t.Fatalf("checkpoint %d, bit %d of its size: %v", i, bit, err)
			}
			p.heads[i].size ^= 1 << bit
		}
	}
	if !p.verify(t).OK() {
		t.Fatal("the bits were not put back")
	}
}

// rehash makes the leaf hashes agree with the bytes, as a careful forger would.
func (p *plant) rehash() {
	for i := range p.rows {
		p.rows[i].Leaf = ledger.LeafHash(p.rows[i].Bytes)
	}
}

func TestTampered(t *testing.T) {
	_, otherVerifier, err := ledger.GenerateKey(bytes.NewReader(bytes.Repeat([]byte{9}, 64)), origin)
	if err != nil {
		t.Fatal(err)
	}
	otherSigner, _, _ := ledger.GenerateKey(bytes.NewReader(bytes.Repeat([]byte{9}, 64)), origin)
	for _, c := range []struct {
		name   string
		tamper func(t *testing.T, p *plant)
		extra  bool // hand in the last checkpoint of before
		first  records.Position
		kind   verify.FaultKind
		words  string
	}{
		{name: "a row gone, the rest in place", tamper: func(t *testing.T, p *plant) { p.rows[2].Bytes = nil },
			first: 2, kind: verify.Missing, words: "position 2 is missing"},
		{name: "two rows gone", tamper: func(t *testing.T, p *plant) { p.rows[2].Bytes, p.rows[3].Bytes = nil, nil },
			first: 2, kind: verify.Missing, words: "positions 2 to 3"},
		{name: "a row taken out, the rest moved up", tamper: func(t *testing.T, p *plant) { p.rows = append(p.rows[:1:1], p.rows[2:]...) },
			first: 0, kind: verify.Rewritten, words: "positions 0 to 2"},
		{name: "the last row gone", tamper: func(t *testing.T, p *plant) { p.rows = p.rows[:5] },
			first: 4, kind: verify.Removed, words: "1 entry was signed and is gone"},
		{name: "the last batch gone with its checkpoint", extra: true, tamper: func(t *testing.T, p *plant) { p.rows, p.heads = p.rows[:4], p.heads[:2] },
			first: 4, kind: verify.Removed, words: "kept elsewhere covers them"},
		{name: "a row twice", tamper: func(t *testing.T, p *plant) { p.rows = append(p.rows, p.rows[4]) },
			first: 6, kind: verify.Repeated, words: "is that of position 4"},
		{name: "two rows swapped within a batch", tamper: func(t *testing.T, p *plant) { p.rows[4], p.rows[5] = p.rows[5], p.rows[4] },
			first: 4, kind: verify.Rewritten, words: "positions 4 to 5"},
		{name: "two rows swapped across batches", tamper: func(t *testing.T, p *plant) { p.rows[3], p.rows[4] = p.rows[4], p.rows[3] },
			first: 3, kind: verify.Rewritten, words: "position 3"},
		{name: "the bytes cut short", tamper: func(t *testing.T, p *plant) { p.rows[3].Bytes = p.rows[3].Bytes[:40] },
			first: 3, kind: verify.Malformed, words: "position 3 can not be read"},
		{name: "a word changed and hashed anew", tamper: func(t *testing.T, p *plant) {
			p.rows[3].Bytes = bytes.Replace(p.rows[3].Bytes, []byte("bent"), []byte("fine"), 1)
			p.rehash()
		}, first: 3, kind: verify.Rewritten, words: "stored for size 4"},
		{name: "history rewritten by the holder of the key", extra: true, tamper: func(t *testing.T, p *plant) {
			rows := p.rows
			rows[1].Bytes = bytes.Replace(rows[1].Bytes, []byte("bent"), []byte("fine"), 1)
			p.rehash()
			p.rows, p.heads = nil, nil
			p.put(t, rows...)
		}, first: 0, kind: verify.Rewritten, words: "kept elsewhere does not agree"},
		{name: "a row not in canonical form, signed all the same", tamper: func(t *testing.T, p *plant) {
			p.put(t, records.Row{Bytes: append([]byte(" "), deviation(t, 9).Bytes...)})
			p.rehash()
			p.heads[3].signed = p.sign(t, p.signer)
		}, first: 6, kind: verify.Malformed, words: "canonical"},
		{name: "a row added without a signature", tamper: func(t *testing.T, p *plant) { p.rows = append(p.rows, deviation(t, 9)) },
			first: 6, kind: verify.Unsigned, words: "position 6"},
		{name: "no checkpoints at all", tamper: func(t *testing.T, p *plant) { p.heads = nil },
			first: 0, kind: verify.Unsigned, words: "positions 0 to 5"},
		{name: "body and leaf of two rows altered, one each", tamper: func(t *testing.T, p *plant) {
			p.rows[4].Bytes[bytes.Index(p.rows[4].Bytes, []byte("bent"))] ^= 1
			p.rows[5].Leaf[9] ^= 1
		},
			first: 4, kind: verify.Altered, words: "agrees with neither"},
		{name: "an altered row past the last checkpoint", tamper: func(t *testing.T, p *plant) { p.rows = append(p.rows, deviation(t, 9)); p.rows[6].Leaf[0] ^= 1 },
			first: 6, kind: verify.Altered, words: "no later checkpoint tells"},
		{name: "the key replaced", tamper: func(t *testing.T, p *plant) { p.verifier = otherVerifier },
			first: 0, kind: verify.Unsigned, words: "positions 0 to 5"},
		{name: "everything signed anew with another key", tamper: func(t *testing.T, p *plant) {
			rows := p.rows
			p.rows, p.heads, p.signer = nil, nil, otherSigner
			p.put(t, rows...)
		}, first: 0, kind: verify.Unsigned, words: "positions 0 to 5"},
		{name: "a file altered", tamper: func(t *testing.T, p *plant) {
			for key := range p.blobs {
				p.blobs[key] = []byte("%PDF other")
			}
		}, first: 5, kind: verify.File, words: "was altered"},
		{name: "a drawn signature gone", tamper: func(t *testing.T, p *plant) {
			p.put(t, entry(t, 6, &records.Handover{Lot: "M-1", From: "store", To: "farm", Use: records.Feed, Weight: records.Weight{Mass: records.Mass{Value: records.NewDecimal(5, 0), Unit: "lb"}}, Received: &records.Acceptance{By: "Bo", Signature: keyOf([]byte("drawn"))}}))
		}, first: 6, kind: verify.File, words: "named at position 6, is not there"},
		{name: "a file gone", tamper: func(t *testing.T, p *plant) { clear(p.blobs) },
			first: 5, kind: verify.File, words: "named at position 5, is not there"},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := small(t)
			var extra [][]byte
			if c.extra {
				extra = [][]byte{bytes.Clone(p.heads[2].signed)}
			}
			c.tamper(t, p)
			r := p.verify(t, extra...)
			f := r.First()
			if f == nil || f.Position != c.first || f.Kind != c.kind || !strings.Contains(f.Sentence, c.words) {
				t.Fatalf("want %s at %d with %q, got %+v", c.kind, c.first, c.words, r.Faults)
			}
		})
	}
}

func TestKeyReplacedIsSaid(t *testing.T) {
	p := small(t)
	_, p.verifier, _ = ledger.GenerateKey(bytes.NewReader(bytes.Repeat([]byte{9}, 64)), origin)
	r := p.verify(t)
	if got := r.Faults[len(r.Faults)-1]; got.Kind != verify.Signature || !strings.Contains(got.Sentence, "not signed by the plant's key") {
		t.Fatalf("got %+v", r.Faults)
	}
	if r.Signed != 0 || r.Checkpoints != 0 {
		t.Fatalf("%d rows are said to be signed", r.Signed)
	}
}

func TestOtherJournal(t *testing.T) {
	p := small(t)
	r, err := verify.Journal(t.Context(), p, verify.Options{Verifier: p.verifier, Origin: "elsewhere.example/journal"})
	if err != nil || r.OK() || !strings.Contains(r.Faults[len(r.Faults)-1].Sentence, "another journal") {
		t.Fatalf("got %+v, %v", r.Faults, err)
	}
}

func TestUnusableKey(t *testing.T) {
	p := small(t)
	for _, key := range []string{"", "not a key"} {
		if _, err := verify.Journal(t.Context(), p, verify.Options{Verifier: key}); records.KindOf(err) != records.Invalid || err == nil {
			t.Errorf("key %q: %v", key, err)
		}
	}
}

// TestRandomTampering does one thing at random to a random journal, and holds that it is found, and that a journal
// left alone is whole.
func TestRandomTampering(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		p := newPlant(t)
		n := 0
		for range rapid.IntRange(1, 6).Draw(rt, "batches") {
			var rows []records.Row
			for range rapid.IntRange(1, 5).Draw(rt, "rows") {
				rows = append(rows, deviation(t, n))
				n++
			}
			p.put(t, rows...)
		}
		if r := p.verify(t); !r.OK() {
			rt.Fatalf("untouched: %+v", r.Faults)
		}
		i, j := rapid.IntRange(0, n-1).Draw(rt, "i"), rapid.IntRange(0, n-1).Draw(rt, "j")
		hurt := records.Position(i) // the first row that is not what it was
		do := rapid.SampledFrom([]string{"move", "drop", "repeat", "alter", "rehash"}).Draw(rt, "do")
		switch do {
		case "move":
			if i == j {
				return
			}
			p.rows[i], p.rows[j] = p.rows[j], p.rows[i]
			hurt = records.Position(min(i, j))
		case "drop":
			p.rows = append(p.rows[:i:i], p.rows[i+1:]...)
		case "repeat":
			p.rows = append(p.rows[:i+1:i+1], p.rows[i:]...)
			hurt = records.Position(i + 1)
		case "alter":
			p.rows[i].Bytes[rapid.IntRange(0, len(p.rows[i].Bytes)-1).Draw(rt, "at")] ^= 4
		case "rehash":
			p.rows[i].Bytes = bytes.Replace(p.rows[i].Bytes, []byte("bent"), []byte("gone"), 1)
			p.rehash()
		}
		r := p.verify(t)
		if r.OK() {
			rt.Fatal("nothing found")
		}
		if f := r.First(); hurt < f.Position || hurt > f.To {
			rt.Fatalf("row %d was hurt; the first fault is %+v", hurt, f)
		}
		if do != "alter" && r.Signed > hurt {
			rt.Fatalf("row %d was hurt, and %d rows are said to be as signed", hurt, r.Signed)
		}
	})
}

// TestAsInTurn holds what several cores find against one row after the other: the same, in the same order, whatever was done to a
// journal of several stretches, and however many cores there are.
func TestAsInTurn(t *testing.T) {
	whole := newPlant(t)
	for n := 0; n < 60; n += 6 {
		var rows []records.Row
		for i := range 6 {
			rows = append(rows, deviation(t, n+i))
		}
		whole.put(t, rows...)
	}
	rapid.Check(t, func(rt *rapid.T) {
		p := *whole
		p.rows, p.heads = slices.Clone(whole.rows), slices.Clone(whole.heads)
		n := len(p.rows)
		for range rapid.IntRange(0, 6).Draw(rt, "times") {
			i, j := rapid.IntRange(0, n-1).Draw(rt, "i"), rapid.IntRange(0, n-1).Draw(rt, "j")
			switch rapid.IntRange(0, 6).Draw(rt, "do") {
			case 0:
				p.rows[i], p.rows[j] = p.rows[j], p.rows[i]
			case 1: // gone
				for k := i; k < min(i+j%9, n); k++ {
					p.rows[k].Bytes = nil
				}
			case 2:
				p.rows[i] = p.rows[j]
			case 3:
				if b := bytes.Clone(p.rows[i].Bytes); len(b) > 0 {
					b[j%len(b)] ^= 4
					p.rows[i].Bytes = b
				}
			case 4:
				p.rows[i].Leaf[j%len(p.rows[i].Leaf)] ^= 1
			case 5:
				if i > n/2 {
					p.rows, n = p.rows[:i], i
				}
			case 6:
				k := i % len(p.heads)
				p.heads = slices.Delete(p.heads, k, k+1)
				if len(p.heads) == 0 {
					return
				}
			}
		}
		o := verify.Options{Verifier: p.verifier, Origin: origin, Extra: [][]byte{whole.heads[5].signed}}
		want, err := verify.InTurn(t.Context(), &p, o)
		if err != nil {
			rt.Fatal(err)
		}
		for _, cores := range []int{1, 2, 5} {
			before := runtime.GOMAXPROCS(cores)
			last, done := records.Position(0), false
			o.Progress = func(at, all records.Position) {
				if at <= last || at > all {
					rt.Errorf("%d of %d after %d", at, all, last)
				}
				last, done = at, true
			}
			got, err := verify.InStretches(t.Context(), &p, o, cores+2)
			runtime.GOMAXPROCS(before)
			if err != nil || !done || !reflect.DeepEqual(got, want) {
				rt.Fatalf("%d cores: %v\n%+v\nin turn\n%+v", cores, err, got, want)
			}
		}
	})
}

// stopping is a store whose line breaks, or whose reader is told to stop, after some rows.
type stopping struct {
	*plant
	after records.Position
	err   error
}

func (s *stopping) Read(ctx context.Context, from records.Position, visit func(records.Position, records.Row) error) error {
	return s.plant.Read(ctx, from, func(at records.Position, r records.Row) error {
		if at >= s.after {
			return s.err
		}
		return visit(at, r)
	})
}

// TestReadingBreaksOff: an error of the store is no finding, and everything that was under way has ended when it is told.
func TestReadingBreaksOff(t *testing.T) {
	p := newPlant(t)
	var rows []records.Row
	for n := range 40 {
		rows = append(rows, deviation(t, n))
	}
	p.put(t, rows...)
	for _, err := range []error{context.Canceled, &records.Error{Kind: records.Unavailable, What: "the line is cut"}} {
		for _, after := range []records.Position{0, 1, 7, 8, 9, 39} {
			if _, got := verify.InStretches(t.Context(), &stopping{p, after, err}, verify.Options{Verifier: p.verifier}, 8); !errors.Is(got, err) {
				t.Errorf("after %d: %v", after, got)
			}
		}
	}
}

// resuming is a store that can say where it goes on, and counts what it is asked.
type resuming struct {
	*plant
	asked int
}

func (s *resuming) Read(ctx context.Context, from records.Position, visit func(records.Position, records.Row) error) error {
	s.asked++
	return s.plant.Read(ctx, from, visit)
}

func (s *resuming) Resume(_ context.Context, from records.Position) (records.Position, bool, error) {
	s.asked++
	for i := from; i < records.Position(len(s.rows)); i++ {
		if s.rows[i].Bytes != nil {
			return i, true, nil
		}
	}
	return 0, false, nil
}

// TestGapsAreNotAskedThrough: what is found of gaps is the same when the store can say where it goes on, and it is asked a few times a gap.
func TestGapsAreNotAskedThrough(t *testing.T) {
	whole := newPlant(t)
	var rows []records.Row
	for n := range 90 {
		rows = append(rows, deviation(t, n))
	}
	whole.put(t, rows[:50]...)
	whole.put(t, rows[50:]...)
	rapid.Check(t, func(rt *rapid.T) {
		p := *whole
		p.rows = slices.Clone(whole.rows)
		gaps := rapid.IntRange(1, 3).Draw(rt, "gaps")
		for range gaps {
			from := rapid.IntRange(0, 89).Draw(rt, "from")
			for k := from; k < min(90, from+rapid.IntRange(1, 60).Draw(rt, "long")); k++ {
				p.rows[k].Bytes = nil
			}
		}
		o := verify.Options{Verifier: p.verifier, Origin: origin}
		want, err := verify.InTurn(t.Context(), &p, o)
		if err != nil {
			rt.Fatal(err)
		}
		s := &resuming{plant: &p}
		got, err := verify.Journal(t.Context(), s, o)
		if err != nil || !reflect.DeepEqual(got, want) {
			rt.Fatalf("%v\n%+v\none by one\n%+v", err, got, want)
		}
		if most := 1 + 7*gaps; s.asked > most {
			rt.Fatalf("asked %d times for %d gaps, at most %d", s.asked, gaps, most)
		}
	})
}
