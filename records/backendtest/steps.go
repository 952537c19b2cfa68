package backendtest

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"strings"
	"testing"

	"grainward/records"
)

// rowAt makes a row that tells its place. The text is JSON, since rows are, but written in ways that a database which
// read and rewrote it would not give back: spaces, escapes, numbers past 2^53, letters in two Unicode forms. The leaf
// is not the hash of the bytes, so that a backend which computes it instead of keeping it is found out.
func rowAt(at int) records.Row {
	text := fmt.Sprintf(`{"z":%d, "a":"caf\u00e9 café cafe`+"\u0301"+` 🌾","big":9007199254740993.10,"pad":"%s","n":1e2}`, at, strings.Repeat("x", at%97))
	return records.Row{Bytes: []byte(text), Leaf: sha256.Sum256(fmt.Append(nil, "leaf of row ", at))}
}

func rowsFrom(at, n int) []records.Row {
	rows := make([]records.Row, n)
	for i := range rows {
		rows[i] = rowAt(at + i)
	}
	return rows
}

func mustAppend(t *testing.T, s records.Store, after int, rows []records.Row, checkpoint string) {
	t.Helper()
	if err := s.Append(t.Context(), records.Batch{After: records.Position(after), Rows: rows, Checkpoint: []byte(checkpoint)}); err != nil {
		t.Fatalf("appending %d rows after %d: %v", len(rows), after, err)
	}
}

// readAll reads from a position to the end and insists on consecutive positions.
func readAll(t *testing.T, s records.Store, from int) []records.Row {
	t.Helper()
	var got []records.Row
	err := s.Read(t.Context(), records.Position(from), func(at records.Position, r records.Row) error {
		if want := records.Position(from + len(got)); at != want {
			t.Fatalf("reading from %d: position %d came where %d was due", from, at, want)
		}
		got = append(got, r)
		return nil
	})
	if err != nil {
		t.Fatalf("reading from %d: %v", from, err)
	}
	return got
}

func wantRows(t *testing.T, got, want []records.Row) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%d rows, want %d", len(got), len(want))
	}
	for i := range want {
		if !bytes.Equal(got[i].Bytes, want[i].Bytes) {
			t.Fatalf("row %d of %d: bytes %.200q, want %.200q", i, len(want), got[i].Bytes, want[i].Bytes)
		}
		if got[i].Leaf != want[i].Leaf {
			t.Fatalf("row %d of %d: leaf %v, want %v", i, len(want), got[i].Leaf, want[i].Leaf)
		}
	}
}

// wantJournal checks the whole journal: Head, and every row from 0 on.
func wantJournal(t *testing.T, s records.Store, want []records.Row) {
	t.Helper()
	if head := mustHead(t, s); head != len(want) {
		t.Fatalf("head is %d, want %d", head, len(want))
	}
	wantRows(t, readAll(t, s, 0), want)
}

func mustHead(t *testing.T, s records.Store) int {
	t.Helper()
	head, err := s.Head(t.Context())
	if err != nil {
		t.Fatalf("head: %v", err)
	}
	return int(head)
}

func wantKind(t *testing.T, doing string, err error, want records.ErrorKind) {
	t.Helper()
	if err == nil {
		t.Fatalf("%s: no error, want kind %d", doing, want)
	}
	if got := records.KindOf(err); got != want {
		t.Fatalf("%s: kind %d, want %d (%v)", doing, got, want, err)
	}
}

func closeStore(t *testing.T, s records.Store) {
	t.Helper()
	if err := s.Close(); err != nil {
		t.Errorf("closing: %v", err)
	}
}
