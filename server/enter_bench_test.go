package server

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net/http"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"

	"grainward/records/sqlite"
)

// BenchmarkEnter is sign-offs through HTTP into SQLite, durable, by so many callers with a connection each. One operation is one
// sign-off that was answered.
func BenchmarkEnter(b *testing.B) {
	for _, callers := range []int{1, 64} {
		b.Run(fmt.Sprint(callers), func(b *testing.B) {
			store, err := sqlite.Open(b.Context(), filepath.Join(b.TempDir(), "plant.db"), sqlite.Write)
			if err != nil {
				b.Fatal(err)
			}
			w, token := fuzzed(b, store)
			ctx, stop := context.WithCancel(b.Context())
			ready, ended := make(chan string, 1), make(chan error, 1)
			go func() { ended <- w.Server.Run(ctx, "127.0.0.1:0", func(u string) { ready <- u }) }()
			base := <-ready
			before := int(w.size())
			var wg sync.WaitGroup
			var left, bad atomic.Int64
			left.Store(int64(b.N))
			b.ResetTimer()
			for range callers {
				wg.Go(func() {
					tr := &http.Transport{}
					defer tr.CloseIdleConnections()
					c := &http.Client{Transport: tr}
					for left.Add(-1) >= 0 {
						req, err := http.NewRequest("POST", base+"/api/entries", bytes.NewReader(draftJSON("hank")))
						if err != nil {
							bad.Add(1)
							return
						}
						req.Header.Set("Content-Type", "application/json")
						req.AddCookie(&http.Cookie{Name: cookieName, Value: token})
						res, err := c.Do(req)
						if err != nil {
							bad.Add(1)
							return
						}
						if _, err := io.Copy(io.Discard, res.Body); err != nil || res.StatusCode != 201 {
							bad.Add(1)
						}
						res.Body.Close()
					}
				})
			}
			wg.Wait()
			b.StopTimer()
			stop()
			if err := <-ended; err != nil {
				b.Fatal(err)
			}
			if bad.Load() > 0 || int(w.size())-before != b.N {
				b.Fatalf("%d went wrong; the journal has %d entries for %d", bad.Load(), w.size(), b.N)
			}
		})
	}
}
