package server

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/valyala/fasthttp"

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
					c := &fasthttp.HostClient{Addr: strings.TrimPrefix(base, "http://"), MaxConns: 1}
					req, res := fasthttp.AcquireRequest(), fasthttp.AcquireResponse()
					defer c.CloseIdleConnections()
					req.Header.SetMethod("POST")
					req.SetRequestURI(base + "/api/entries")
					req.Header.SetContentType("application/json")
					req.Header.Set("Cookie", cookieName+"="+token)
					for left.Add(-1) >= 0 {
						req.SetBodyRaw(draftJSON("hank"))
						if err := c.Do(req, res); err != nil || res.StatusCode() != 201 {
							bad.Add(1)
						}
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
