package verify_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"maps"
	"slices"
	"testing"

	"grainward/records"
	"grainward/records/ledger"
	"grainward/records/verify"
)

const origin = "quillmere.example/journal"

// plant is a store whose every byte can be tampered with. It checks nothing.
type plant struct {
	rows  []records.Row
	heads []head
	blobs map[string][]byte

	signer, verifier string
}

type head struct {
	size   records.Position
	signed []byte
}

func newPlant(t testing.TB) *plant {
	t.Helper()
	signer, verifier, err := ledger.GenerateKey(bytes.NewReader(bytes.Repeat([]byte{7}, 64)), origin)
	if err != nil {
		t.Fatal(err)
	}
	return &plant{blobs: map[string][]byte{}, signer: signer, verifier: verifier}
}

// entry is the n-th entry of a test journal, well formed.
func entry(t testing.TB, n int, fact records.Fact) records.Row {
	t.Helper()
	at := records.Instant(1_750_000_000_000 + int64(n)*60_000)
	e, err := records.WithDefaults(records.Entry{Happened: at, Recorded: at, By: "ida", Kind: fact.Kind(), Fact: fact})
	if err != nil {
		t.Fatal(err)
	}
	row, err := records.Format(e)
	if err != nil {
		t.Fatal(err)
	}
	return row
}

func deviation(t testing.TB, n int) records.Row {
	return entry(t, n, &records.Deviation{What: fmt.Sprintf("bin %d: räke bent", n)})
}

// put appends rows as one batch, with a checkpoint.
func (p *plant) put(t testing.TB, rows ...records.Row) {
	t.Helper()
	p.rows = append(p.rows, rows...)
	p.heads = append(p.heads, head{records.Position(len(p.rows)), p.sign(t, p.signer)})
}

// sign makes a checkpoint of the rows as they are, by the writer's own tree.
func (p *plant) sign(t testing.TB, signer string) []byte {
	t.Helper()
	var tree ledger.Tree
	for _, r := range p.rows {
		tree.Append(r.Leaf)
	}
	signed, err := ledger.Sign(ledger.Checkpoint{Origin: origin, Size: tree.Size(), Root: tree.Root()}, signer)
	if err != nil {
		t.Fatal(err)
	}
	return signed
}

// small is a journal of three batches: 3, 1 and 2 entries, one of them naming a file.
func small(t testing.TB) *plant {
	p := newPlant(t)
	file := []byte("%PDF certificate")
	p.blobs[keyOf(file)] = file
	p.put(t, deviation(t, 0), deviation(t, 1), deviation(t, 2))
	p.put(t, deviation(t, 3))
	p.put(t, deviation(t, 4), entry(t, 5, &records.Document{Code: "organic", Title: "Organic certificate", Type: "certificate", Subject: records.Subject{Of: "plant"},
		File: &records.File{SHA256: keyOf(file), Size: int64(len(file)), Media: "application/pdf"}}))
	return p
}

func keyOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

func (p *plant) verify(t testing.TB, extra ...[]byte) verify.Report {
	t.Helper()
	r, err := verify.Journal(context.Background(), p, verify.Options{Verifier: p.verifier, Origin: origin, Extra: extra})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func (p *plant) Append(context.Context, records.Batch) error { panic("verify only reads") }

func (p *plant) PutBlob(context.Context, []byte) (string, error) { panic("verify only reads") }

func (p *plant) Close() error { panic("verify does not own the store") }

func (p *plant) Head(context.Context) (records.Position, error) {
	return records.Position(len(p.rows)), nil
}

func (p *plant) Read(_ context.Context, from records.Position, visit func(records.Position, records.Row) error) error {
	for i := from; i < records.Position(len(p.rows)); i++ {
		if p.rows[i].Bytes == nil {
			return &records.Error{Kind: records.Corrupt, What: fmt.Sprintf("the entry at position %d is missing", i)}
		}
		if err := visit(i, p.rows[i]); err != nil {
			return err
		}
	}
	return nil
}

func (p *plant) Checkpoints(_ context.Context, visit func(records.Position, []byte) error) error {
	for _, h := range p.heads {
		if err := visit(h.size, h.signed); err != nil {
			return err
		}
	}
	return nil
}

func (p *plant) GetBlob(_ context.Context, key string) ([]byte, error) { return p.blobs[key], nil }

func (p *plant) EachBlob(_ context.Context, visit func(string, int64) error) error {
	for _, key := range slices.Sorted(maps.Keys(p.blobs)) {
		if err := visit(key, int64(len(p.blobs[key]))); err != nil {
			return err
		}
	}
	return nil
}
