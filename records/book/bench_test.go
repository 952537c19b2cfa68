package book_test

import (
	"context"
	"fmt"
	"path/filepath"
	"runtime"
	"sync/atomic"
	"testing"
	"time"

	"grainward/records"
	"grainward/records/book"
	"grainward/records/book/booktest"
	"grainward/records/sqlite"
)

// BenchmarkAdmit measures sign-offs through the book on a SQLite file, one caller and sixty-four at once.
func BenchmarkAdmit(b *testing.B) {
	for _, callers := range []int{1, 64} {
		b.Run(fmt.Sprint(callers, "-callers"), func(b *testing.B) {
			store, err := sqlite.Open(context.Background(), filepath.Join(b.TempDir(), "journal.db"), sqlite.Write)
			if err != nil {
				b.Fatal(err)
			}
			signer, _ := booktest.Key(b)
			bk := must(book.Open(context.Background(), store, book.Options{Origin: booktest.Origin, Signer: signer, Now: func() records.Instant { return noon }}))
			must(bk.Admit(context.Background(), adoption(planText, noon.Add(-time.Hour))))
			b.SetParallelism(max(1, callers/runtime.GOMAXPROCS(0)))
			var failed atomic.Value
			b.ResetTimer()
			if callers == 1 {
				for b.Loop() {
					must(bk.Admit(context.Background(), scrub(noon)))
				}
			} else {
				b.RunParallel(func(pb *testing.PB) {
					for pb.Next() {
						if _, err := bk.Admit(context.Background(), scrub(noon)); err != nil {
							failed.Store(err)
						}
					}
				})
			}
			b.StopTimer()
			if err := failed.Load(); err != nil {
				b.Fatal(err)
			}
			bk.Close()
		})
	}
}
