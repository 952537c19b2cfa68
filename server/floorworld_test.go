package server

import (
	"context"

	"grainward/records"
)

// writeAt writes an entry that happened then, with its usual meaning.
func (w *world) writeAt(happened records.Instant, by records.PersonCode, f records.Fact) records.EntryID {
	w.Helper()
	row, _ := records.RowOf(f.Kind())
	e := records.Entry{ID: records.NewEntryID(), Happened: happened, By: by, Meaning: row.Meanings[0], Kind: f.Kind(), Fact: f}
	if _, err := w.Book.Admit(context.Background(), e); err != nil {
		w.Fatal(err)
	}
	return e.ID
}
