package mongo

import (
	"bytes"
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"grainward/cmd/bigplant"
	"grainward/records"
	"grainward/records/book"
	"grainward/records/book/booktest"
	"grainward/records/ledger"
	"grainward/records/mongo/mongotest"
	"grainward/records/sqlite"
)

// benchRow is of the size of a usual sign-off: about 440 bytes.
func benchRow(at int) records.Row {
	text := fmt.Appendf(nil, `{"by":"ana","device":"tablet-2","fact":{"answers":[{"code":"residue","value":"%d"}],"note":"%s"},"id":"%036d"}`, at, bytes.Repeat([]byte("n"), 320), at)
	return records.Row{Bytes: text, Leaf: ledger.LeafHash(text)}
}

func benchBatch(at, n int) records.Batch {
	b := records.Batch{After: records.Position(at)}
	for i := range n {
		b.Rows = append(b.Rows, benchRow(at+i))
	}
	return b
}

func benchOpen(b *testing.B) (*Store, string) {
	uri := mongotest.Database(b)
	s := mustOpen(b, uri, Create)
	b.Logf("on %s", s.Server())
	return s, uri
}

// BenchmarkAppend is one Append after the other.
func BenchmarkAppend(b *testing.B) {
	for _, size := range []int{1, 16, 1000} {
		b.Run(fmt.Sprint(size), func(b *testing.B) {
			s, _ := benchOpen(b)
			at := 0
			for b.Loop() {
				if err := s.Append(b.Context(), benchBatch(at, size)); err != nil {
					b.Fatal(err)
				}
				at += size
			}
			b.ReportMetric(float64(at)/b.Elapsed().Seconds(), "rows/s")
		})
	}
}

// grow fills a journal with batches of one row.
func grow(b *testing.B, s *Store, from, to int) {
	for at := from; at < to; {
		var batches []records.Batch
		for ; at < to && len(batches) < 5000; at++ {
			batches = append(batches, benchBatch(at, 1))
		}
		if err := s.AppendAll(b.Context(), batches); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkTail is what a server that follows the journal asks: whether there is something new (nothing), and the newest
// ten batches; at several sizes of the journal, which must not matter.
func BenchmarkTail(b *testing.B) {
	s, _ := benchOpen(b)
	have := 0
	for _, n := range []int{1000, 10_000, 100_000} {
		if n > 10_000 && testing.Short() {
			continue
		}
		grow(b, s, have, n)
		have = n
		b.Run(fmt.Sprintf("nothing-new/%d", n), func(b *testing.B) {
			for b.Loop() {
				if head, err := s.Head(b.Context()); err != nil || int(head) != n {
					b.Fatal(head, err)
				}
			}
		})
		b.Run(fmt.Sprintf("ten-new/%d", n), func(b *testing.B) {
			for b.Loop() {
				if sizes, err := readSizesOf(b, s, n-10); err != nil || sizes != 10 {
					b.Fatal(sizes, err)
				}
			}
		})
	}
}

func readSizesOf(b *testing.B, s records.Store, from int) (n int, err error) {
	err = s.Read(b.Context(), records.Position(from), func(records.Position, records.Row) error { n++; return nil })
	return n, err
}

// BenchmarkOpen replays one journal from MongoDB and from a SQLite file: the entries of a book, in batches of 100.
func BenchmarkOpen(b *testing.B) {
	n := 100_000
	if testing.Short() {
		n = 10_000
	}
	s, uri := benchOpen(b)
	path := filepath.Join(b.TempDir(), "j.db")
	file := must(sqlite.Open(b.Context(), path, sqlite.Write))
	var entries []records.Entry
	must(0, must(bigplant.New(1)).Each(n, func(e records.Entry) error { entries = append(entries, e); return nil }))
	for at := 0; at < n; at += 5000 {
		var batches []records.Batch
		for first := at; first < min(n, at+5000); first += 100 {
			batch := records.Batch{After: records.Position(first)}
			for _, e := range entries[first:min(n, first+100)] {
				batch.Rows = append(batch.Rows, must(records.Format(e)))
			}
			batches = append(batches, batch)
		}
		must(0, s.AppendAll(b.Context(), batches))
		must(0, file.AppendAll(b.Context(), batches))
	}
	must(0, file.Close())
	for name, open := range map[string]func() records.Store{
		"mongo":  func() records.Store { return must(Open(b.Context(), uri, Read)) },
		"sqlite": func() records.Store { return must(sqlite.Open(b.Context(), path, sqlite.Read)) },
	} {
		b.Run(fmt.Sprint(name, "/", n), func(b *testing.B) {
			for b.Loop() {
				bk := must(book.Open(b.Context(), open(), book.Options{}))
				if int(bk.View().Head.Size) != n {
					b.Fatal("short")
				}
				bk.Close()
			}
		})
	}
}

// BenchmarkSeen measures, with three servers on one journal, how long after one has acknowledged an entry each of the
// others shows it.
func BenchmarkSeen(b *testing.B) {
	uri := mongotest.Database(b)
	mustOpen(b, uri, Create)
	signer, _ := booktest.Key(b)
	var books []*book.Book
	for range 3 {
		bk := must(book.Open(b.Context(), must(Open(b.Context(), uri, Write)), book.Options{Origin: booktest.Origin, Signer: signer, Shared: true, Now: func() records.Instant { return noon }}))
		defer bk.Close()
		books = append(books, bk)
	}
	must(books[0].Admit(b.Context(), adoption()))
	var took []time.Duration
	for i := 0; b.Loop(); i++ {
		e := deviation()
		got := must(books[i%3].Admit(context.Background(), e))
		told := time.Now()
		for _, other := range []*book.Book{books[(i+1)%3], books[(i+2)%3]} {
			for {
				grown := other.Changed()
				if other.View().Head.Size > got[0].Position {
					break
				}
				<-grown
			}
			took = append(took, time.Since(told))
		}
	}
	slices.Sort(took)
	for name, q := range map[string]int{"p50": 50, "p99": 99, "max": 100} {
		b.ReportMetric(float64(took[(len(took)-1)*q/100].Microseconds())/1000, name+"-ms")
	}
}
