package sqlite

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"path/filepath"
	"testing"

	"grainward/records"
)

// benchRow is of the size of a usual sign-off: about 440 bytes.
func benchRow(at int) records.Row {
	text := fmt.Appendf(nil, `{"by":"ana","device":"tablet-2","fact":{"answers":[{"code":"residue","value":"%d"}],"station":"floor-1","task":"scrub","note":"%s"},"happened":"2031-05-06T07:08:09Z","id":"%036d","kind":"signoff","meaning":"performed","recorded":"2031-05-06T07:08:10Z"}`,
		at, bytes.Repeat([]byte("n"), 190), at)
	return records.Row{Bytes: text, Leaf: sha256.Sum256(text)}
}

func benchRows(at, n int) []records.Row {
	rows := make([]records.Row, n)
	for i := range rows {
		rows[i] = benchRow(at + i)
	}
	return rows
}

func benchOpen(b *testing.B) *Store {
	s, err := Open(b.Context(), filepath.Join(b.TempDir(), "plant.db"), Write)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() {
		if err := s.Close(); err != nil {
			b.Error(err)
		}
	})
	return s
}

func benchAppend(b *testing.B, size int) {
	s := benchOpen(b)
	at := 0
	for b.Loop() {
		if err := s.Append(b.Context(), records.Batch{After: records.Position(at), Rows: benchRows(at, size)}); err != nil {
			b.Fatal(err)
		}
		at += size
	}
	b.ReportMetric(float64(at)/b.Elapsed().Seconds(), "rows/s")
}

func BenchmarkAppendOne(b *testing.B)      { benchAppend(b, 1) }
func BenchmarkAppendSixteen(b *testing.B)  { benchAppend(b, 16) }
func BenchmarkAppendThousand(b *testing.B) { benchAppend(b, 1000) }

// BenchmarkRead scans 100,000 rows a time.
func BenchmarkRead(b *testing.B) {
	const total = 100_000
	s := benchOpen(b)
	for at := 0; at < total; at += 1000 {
		if err := s.Append(b.Context(), records.Batch{After: records.Position(at), Rows: benchRows(at, 1000)}); err != nil {
			b.Fatal(err)
		}
	}
	read := 0
	for b.Loop() {
		err := s.Read(b.Context(), 0, func(records.Position, records.Row) error { read++; return nil })
		if err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(read)/b.Elapsed().Seconds(), "rows/s")
}
