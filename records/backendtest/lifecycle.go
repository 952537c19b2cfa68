package backendtest

import (
	"testing"

	"grainward/records"
)

func closed(t *testing.T, o Opened) {
	mustAppend(t, o.Store, 0, rowsFrom(0, 1), "head")
	key := mustPut(t, o.Store, []byte("a photo"))
	for range 3 {
		if err := o.Store.Close(); err != nil {
			t.Fatalf("closing: %v", err)
		}
	}
	visited := false
	calls := map[string]func() error{
		"Append": func() error { return o.Store.Append(t.Context(), records.Batch{After: 1, Rows: rowsFrom(1, 1)}) },
		"Read": func() error {
			return o.Store.Read(t.Context(), 0, func(records.Position, records.Row) error { visited = true; return nil })
		},
		"Head": func() error { _, err := o.Store.Head(t.Context()); return err },
		"Checkpoints": func() error {
			return o.Store.Checkpoints(t.Context(), func(records.Position, []byte) error { visited = true; return nil })
		},
		"PutBlob": func() error { _, err := o.Store.PutBlob(t.Context(), []byte("another")); return err },
		"GetBlob": func() error { _, err := o.Store.GetBlob(t.Context(), key); return err },
		"EachBlob": func() error {
			return o.Store.EachBlob(t.Context(), func(string, int64) error { visited = true; return nil })
		},
	}
	for name, call := range calls {
		if err := call(); err == nil {
			t.Errorf("%s after Close: no error", name)
		}
	}
	if visited {
		t.Error("something was visited after Close")
	}
}

func reopened(t *testing.T, o Opened) {
	if o.Reopen == nil {
		t.Skipf("backend %s can not be reopened", o.Name)
	}
	mustAppend(t, o.Store, 0, rowsFrom(0, 6), "six")
	mustAppend(t, o.Store, 6, rowsFrom(6, 1), "")
	key := mustPut(t, o.Store, []byte("a photo"))
	closeStore(t, o.Store)

	s := o.Reopen(t)
	wantJournal(t, s, rowsFrom(0, 7))
	wantCheckpoints(t, s, []checkpoint{{6, "six"}})
	wantBlob(t, s, key, []byte("a photo"))
	err := s.Append(t.Context(), records.Batch{After: 6, Rows: rowsFrom(6, 1)})
	wantKind(t, "appending after what was there before reopening", err, records.Conflict)
	mustAppend(t, s, 7, rowsFrom(7, 2), "nine")
	closeStore(t, s)

	s = o.Reopen(t)
	defer closeStore(t, s)
	wantJournal(t, s, rowsFrom(0, 9))
	wantCheckpoints(t, s, []checkpoint{{6, "six"}, {9, "nine"}})
}

func readOnly(t *testing.T, o Opened) {
	if o.ReadOnly == nil {
		t.Skipf("backend %s is not opened for reading only", o.Name)
	}
	mustAppend(t, o.Store, 0, rowsFrom(0, 5), "five")
	key := mustPut(t, o.Store, []byte("a photo"))
	r := o.ReadOnly(t)
	defer closeStore(t, r)
	wantJournal(t, r, rowsFrom(0, 5))
	wantCheckpoints(t, r, []checkpoint{{5, "five"}})
	wantBlob(t, r, key, []byte("a photo"))

	err := r.Append(t.Context(), records.Batch{After: 5, Rows: rowsFrom(5, 1)})
	wantKind(t, "appending to a journal opened for reading", err, records.ReadOnly)
	_, err = r.PutBlob(t.Context(), []byte("another photo"))
	wantKind(t, "putting a blob when opened for reading", err, records.ReadOnly)
	wantJournal(t, o.Store, rowsFrom(0, 5))

	mustAppend(t, o.Store, 5, rowsFrom(5, 3), "")
	wantJournal(t, r, rowsFrom(0, 8)) // the reader follows the writer
}
