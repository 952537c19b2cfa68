package server

import (
	"fmt"
	"net"
	"net/http"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/valyala/fasthttp"

	"grainward/cmd/bigplant"
	"grainward/records"
	"grainward/records/book"
	"grainward/server/auth"
)

// BenchmarkPages is what the pages cost that people open all day, from the request to the packed answer, on a large plant's journal of two
// lengths and with the report made: what the longer one costs more is what grows with the journal. Nobody should wait for a page: what we
// want is a median below 50 ms at 1,000,000 entries, which is a limit of our own and none of the design's. DEVELOPERS.md says what is
// above it. The month is of 562 duties and 31 days, all stations of 147, and the balance is the first look at one, of thirty days.
func BenchmarkPages(b *testing.B) {
	for _, n := range []int{100_000, 1_000_000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) { benchmarkPages(b, n) })
	}
}

func benchmarkPages(b *testing.B, n int) {
	ctx := b.Context()
	store, last := bigStore(b, n)
	now := func() records.Instant { return last }
	bk, err := book.Open(ctx, store, book.Options{Origin: "quillmere.example/journal", Signer: theKey(), Now: now})
	if err != nil {
		b.Fatal(err)
	}
	defer bk.Close()
	a, err := auth.Open(filepath.Join(b.TempDir(), "people.db"), auth.Options{Now: now, Params: auth.Params{Memory: 8, Time: 1, Threads: 1}, Remember: auth.Briefly})
	if err != nil {
		b.Fatal(err)
	}
	defer a.Close()
	s := New(Config{Book: bk, Auth: a, Now: now, Version: "0.1", TempDir: b.TempDir()})
	s.rates.off = true // one who looks at pages all day does it within a second
	s.app.Handler()    // puts the routes in place
	token, _, err := a.SignIn(ctx, bigplant.Lead(), auth.Password, "")
	if err != nil {
		b.Fatal(err)
	}
	rep := s.report()
	p := rep.State.PlanAt(rep.At)
	lot, then := rep.Goods.Lots[len(rep.Goods.Lots)/2].Code, p.Day(rep.At).AddDays(-60)
	day := "?day=" + then.String()
	for _, page := range []string{"/today", "/station/door-1", "/api/crew", "/sign/footwear-check/door-1", "/findings", "/week", "/week" + day, "/month" + day, "/week/" + then.String() + "/footwear-check/door-1",
		"/stations", "/stations/warehouse", "/lots", "/lots?all=yes", "/lots/" + string(lot), "/holds", "/hold", "/result", "/records", "/reviews", "/review/" + then.String(), "/documents",
		"/balance", "/api/goods", "/api/week", "/api/findings", "/api/lots/" + string(lot), "/api/lots/" + string(lot) + "/trace"} {
		b.Run(page[1:], func(b *testing.B) {
			b.ReportAllocs()
			var took []time.Duration
			for b.Loop() {
				s.balances.sheet = nil // the first look at a balance is the one that somebody waits for
				begun := time.Now()
				if status := getPage(s, page, token); status != http.StatusOK {
					b.Fatalf("%s: %d", page, status)
				}
				took = append(took, time.Since(begun))
			}
			slices.Sort(took)
			b.ReportMetric(float64(took[len(took)/2].Nanoseconds()), "median-ns")
		})
	}
}

// getPage asks for a page as a browser does, without a network between.
func getPage(s *Server, path, token string) (status int) {
	var req fasthttp.Request
	req.SetRequestURI("http://localhost" + path)
	req.Header.Set("Accept-Encoding", "gzip")
	req.Header.SetCookie(cookieName, token)
	var ctx fasthttp.RequestCtx
	ctx.Init(&req, &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1)}, nil)
	s.app.Server().Handler(&ctx)
	return ctx.Response.StatusCode()
}
