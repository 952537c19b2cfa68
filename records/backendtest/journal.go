package backendtest

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"testing"

	"grainward/records"
)

func keepsOrderAndBytes(t *testing.T, o Opened) {
	total := 0
	for _, n := range []int{1, 2, 1, 17, 3} {
		mustAppend(t, o.Store, total, rowsFrom(total, n), "")
		total += n
		// After each, since a nil error means it is there; and against rows made anew, since a store that changed the
		// ones it was given would agree with itself.
		wantJournal(t, o.Store, rowsFrom(0, total))
	}
}

func emptyJournal(t *testing.T, o Opened) {
	wantJournal(t, o.Store, nil)
	fail := errors.New("visited")
	if err := o.Store.Checkpoints(t.Context(), func(records.Position, []byte) error { return fail }); err != nil {
		t.Fatalf("checkpoints: %v", err)
	}
	if err := o.Store.EachBlob(t.Context(), func(string, int64) error { return fail }); err != nil {
		t.Fatalf("blobs: %v", err)
	}
}

func manyRows(t *testing.T, o Opened) {
	mustAppend(t, o.Store, 0, rowsFrom(0, 3), "")
	mustAppend(t, o.Store, 3, rowsFrom(3, 5003), "")
	mustAppend(t, o.Store, 5006, rowsFrom(5006, 1), "")
	wantJournal(t, o.Store, rowsFrom(0, 5007))
}

func longRow(t *testing.T, o Opened) {
	long := func(n int, fill byte) records.Row {
		text := append(bytes.Repeat([]byte{fill}, n-1), '"')
		text[0] = '"'
		return records.Row{Bytes: text, Leaf: sha256.Sum256(text)}
	}
	rows := func() []records.Row {
		return []records.Row{rowAt(0), long(1<<20, 'a'), rowAt(2), long(2, 'a'), long(1<<20, 'b'), long(1<<20, 'c')}
	}
	mustAppend(t, o.Store, 0, rows()[:3], "")
	mustAppend(t, o.Store, 3, rows()[3:], "")
	wantJournal(t, o.Store, rows())
}

func emptyBatch(t *testing.T, o Opened) {
	mustAppend(t, o.Store, 0, rowsFrom(0, 1), "")
	for _, rows := range [][]records.Row{nil, {}} {
		err := o.Store.Append(t.Context(), records.Batch{After: 1, Rows: rows, Checkpoint: []byte("head")})
		wantKind(t, "appending an empty batch", err, records.Invalid)
	}
	wantJournal(t, o.Store, rowsFrom(0, 1))
	wantCheckpoints(t, o.Store, nil)
}

func conflictChangesNothing(t *testing.T, o Opened) {
	refuse := func(after int) {
		t.Helper()
		err := o.Store.Append(t.Context(), records.Batch{After: records.Position(after), Rows: rowsFrom(1000, 3), Checkpoint: []byte("refused")})
		wantKind(t, "appending after a position that is not the end", err, records.Conflict)
		if !records.IsConflict(err) {
			t.Fatal("IsConflict says no")
		}
	}
	refuse(1) // of an empty journal
	mustAppend(t, o.Store, 0, rowsFrom(0, 5), "first")
	mustAppend(t, o.Store, 5, rowsFrom(5, 4), "second")
	// Before the start; on and inside the batches stored; overlapping the end; and beyond it, which would leave a gap.
	for _, after := range []int{-1, 0, 2, 5, 7, 8, 10, 1000} {
		refuse(after)
		wantJournal(t, o.Store, rowsFrom(0, 9))
	}
	wantCheckpoints(t, o.Store, []checkpoint{{5, "first"}, {9, "second"}})
	mustAppend(t, o.Store, 9, rowsFrom(9, 1), "")
	wantJournal(t, o.Store, rowsFrom(0, 10))
}

func readFrom(t *testing.T, o Opened) {
	want := rowsFrom(0, 20)
	for _, cut := range [][2]int{{0, 1}, {1, 9}, {9, 10}, {10, 20}} { // batch borders at 1, 9 and 10
		mustAppend(t, o.Store, cut[0], want[cut[0]:cut[1]], "")
	}
	for from := range 20 {
		wantRows(t, readAll(t, o.Store, from), want[from:])
	}
	for _, from := range []int{20, 21, 1 << 40} {
		wantRows(t, readAll(t, o.Store, from), nil)
	}
}

func visitError(t *testing.T, o Opened) {
	mustAppend(t, o.Store, 0, rowsFrom(0, 4), "one")
	mustAppend(t, o.Store, 4, rowsFrom(4, 4), "two")
	enough := errors.New("enough")
	for stop := range 8 {
		visits := 0
		err := o.Store.Read(t.Context(), 0, func(at records.Position, _ records.Row) error {
			visits++
			if int(at) == stop {
				return enough
			}
			return nil
		})
		if err != enough { // as it is, not wrapped
			t.Fatalf("stopping at %d: error %v, want the very error that visit returned", stop, err)
		}
		if visits != stop+1 {
			t.Fatalf("stopping at %d: visited %d rows", stop, visits)
		}
	}
	wantJournal(t, o.Store, rowsFrom(0, 8))
}

func noSharedMemory(t *testing.T, o Opened) {
	scribble := func(b []byte) {
		b = b[:cap(b)]
		for i := range b {
			b[i] = '!'
		}
	}
	given := rowsFrom(0, 3)
	signed := []byte("signed head")
	if err := o.Store.Append(t.Context(), records.Batch{Rows: given, Checkpoint: signed}); err != nil {
		t.Fatal(err)
	}
	for i := range given {
		scribble(given[i].Bytes)
		given[i].Leaf = [32]byte{}
	}
	scribble(signed)
	wantJournal(t, o.Store, rowsFrom(0, 3))

	var kept []records.Row
	err := o.Store.Read(t.Context(), 0, func(_ records.Position, r records.Row) error {
		kept = append(kept, r)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	again := readAll(t, o.Store, 0)
	scribble(kept[1].Bytes)
	wantRows(t, []records.Row{kept[0], kept[2]}, []records.Row{rowAt(0), rowAt(2)})
	wantRows(t, again, rowsFrom(0, 3))
	err = o.Store.Read(t.Context(), 0, func(at records.Position, r records.Row) error {
		wantRows(t, []records.Row{r}, []records.Row{rowAt(int(at))})
		scribble(r.Bytes)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	wantJournal(t, o.Store, rowsFrom(0, 3))

	err = o.Store.Checkpoints(t.Context(), func(_ records.Position, b []byte) error { scribble(b); return nil })
	if err != nil {
		t.Fatal(err)
	}
	wantCheckpoints(t, o.Store, []checkpoint{{3, "signed head"}})
}
