package backendtest

import (
	"fmt"
	"testing"

	"grainward/records"
)

// manyBatches holds a backend that is a records.Bulk to what it promises.
func manyBatches(t *testing.T, o Opened) {
	bulk, ok := o.Store.(records.Bulk)
	if !ok {
		t.Skipf("backend %s appends batches one by one", o.Name)
	}
	mustAppend(t, o.Store, 0, rowsFrom(0, 2), "two")
	heads := []checkpoint{{2, "two"}}
	var batches []records.Batch
	at := 2
	for i := range 1200 {
		n := 1 + i%3
		b := records.Batch{After: records.Position(at), Rows: rowsFrom(at, n)}
		if at += n; i%2 == 0 {
			b.Checkpoint = fmt.Append(nil, at)
			heads = append(heads, checkpoint{at, fmt.Sprint(at)})
		}
		batches = append(batches, b)
	}
	if err := bulk.AppendAll(t.Context(), batches); err != nil {
		t.Fatal(err)
	}
	wantJournal(t, o.Store, rowsFrom(0, at))
	wantCheckpoints(t, o.Store, heads)

	// Not at the end, with a gap between them, with an empty one: what is stored after the refusal is a beginning.
	batch := func(after, n int) records.Batch {
		return records.Batch{After: records.Position(after), Rows: rowsFrom(after, n)}
	}
	for _, wrong := range [][]records.Batch{{batch(at+1, 1)}, {batch(2, 1), batch(3, 1)}, {batch(at, 2), batch(at+3, 1)}} {
		wantKind(t, "appending batches that do not follow", bulk.AppendAll(t.Context(), wrong), records.Conflict)
	}
	wantKind(t, "appending an empty batch among others", bulk.AppendAll(t.Context(), []records.Batch{batch(at, 2), {After: records.Position(at + 2)}}), records.Invalid)
	head := mustHead(t, o.Store)
	if head != at && head != at+2 {
		t.Fatalf("head %d after refusals at %d", head, at)
	}
	wantJournal(t, o.Store, rowsFrom(0, head))
	if err := bulk.AppendAll(t.Context(), nil); err != nil {
		t.Fatalf("no batches at all: %v", err)
	}
	mustAppend(t, o.Store, head, rowsFrom(head, 1), "")
	wantJournal(t, o.Store, rowsFrom(0, head+1))
}
