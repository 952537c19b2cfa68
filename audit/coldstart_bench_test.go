package audit_test

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"grainward/audit"
	"grainward/records"
	"grainward/records/book"
	"grainward/records/book/booktest"
	"grainward/records/sqlite"
)

// BenchmarkFindingsAgainstColdStart measures, in one run, opening a journal of 1,000,000 entries over five years and then
// all its findings from nothing. design.md asks that the second be under a quarter of the first (of-open).
func BenchmarkFindingsAgainstColdStart(b *testing.B) {
	const n = 1_000_000
	if testing.Short() {
		b.Skip("a million entries")
	}
	ctx := context.Background()
	path := filepath.Join(b.TempDir(), "journal.db")
	store, err := sqlite.Open(ctx, path, sqlite.Write)
	if err != nil {
		b.Fatal(err)
	}
	var rows []records.Row
	at, last := 0, records.Instant(0)
	for i, e := range booktest.Synthetic(n) {
		row, err := records.Format(e)
		if err != nil {
			b.Fatal(err)
		}
		last = e.Happened
		if rows = append(rows, row); len(rows) == 5000 || i == n-1 {
			if err := store.Append(ctx, records.Batch{After: records.Position(at), Rows: rows}); err != nil {
				b.Fatal(err)
			}
			at, rows = at+len(rows), nil
		}
	}
	if err := store.Close(); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		read, err := sqlite.Open(ctx, path, sqlite.Read)
		if err != nil {
			b.Fatal(err)
		}
		begun := time.Now()
		bk, err := book.Open(ctx, read, book.Options{})
		if err != nil {
			b.Fatal(err)
		}
		opened := time.Since(begun)
		begun = time.Now()
		rep := audit.At(bk.View().State, last.Add(time.Hour))
		judged := time.Since(begun)
		b.ReportMetric(opened.Seconds(), "s-open")
		b.ReportMetric(judged.Seconds(), "s-findings")
		b.ReportMetric(judged.Seconds()/opened.Seconds(), "of-open")
		b.ReportMetric(float64(len(rep.Findings)), "findings")
		bk.Close()
	}
}
