//go:build unix

package server

import (
	"context"
	"fmt"
	"math/rand/v2"
	"net"
	"net/http"
	"path/filepath"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"grainward/cmd/bigplant"
	"grainward/cmd/crowd"
	"grainward/records"
	"grainward/records/book"
	"grainward/records/sqlite"
	"grainward/server/auth"
)

// BenchmarkSignOffs is what a sign-off costs from the request to the durable answer: 64 devices at once over loopback, on a SQLite file,
// with a hundred entries before them. The devices' own share, which `grainward bench` tells apart, is in it. cpu-ns/op is the processor
// time of the whole process.
func BenchmarkSignOffs(b *testing.B) {
	const devices = 64
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	now := func() records.Instant { return records.InstantOf(time.Now()) }
	store, err := sqlite.Open(ctx, filepath.Join(b.TempDir(), "journal.db"), sqlite.Write)
	if err != nil {
		b.Fatal(err)
	}
	var batches, entries atomic.Int64
	bk, err := book.Open(ctx, store, book.Options{Origin: "bench.example/journal", Signer: theKey(), Now: now, Appended: func(rows int, _ time.Duration, _ error) {
		batches.Add(1)
		entries.Add(int64(rows))
	}})
	if err != nil {
		b.Fatal(err)
	}
	defer bk.Close()
	p, err := bigplant.New(1)
	if err != nil {
		b.Fatal(err)
	}
	if err := p.Each(100, func(e records.Entry) error { _, err := bk.Admit(ctx, e); return err }); err != nil {
		b.Fatal(err)
	}
	a, err := auth.Open(filepath.Join(b.TempDir(), "people.db"), auth.Options{Now: now, Params: auth.Params{Memory: 8, Time: 1, Threads: 1}, Remember: auth.Briefly})
	if err != nil {
		b.Fatal(err)
	}
	defer a.Close()
	s := New(Config{Book: bk, Auth: a, Now: now, Version: "0.1", TempDir: b.TempDir()})
	s.rates.off = true // more than a floor would send
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		b.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(ctx, ln) }()
	c, err := crowd.Enrol(ctx, "http://"+ln.Addr().String(), nil)
	if err != nil {
		b.Fatal(err)
	}
	for i, who := range bigplant.Crew()[:devices] {
		if err := a.SetPIN(ctx, who, "", "4071"); err != nil {
			b.Fatal(err)
		}
		code, _, err := a.MakeCode(ctx, bigplant.Lead(), fmt.Sprint("Tablet ", i), 0)
		if err != nil {
			b.Fatal(err)
		}
		if err := c.Add(ctx, []crowd.Pass{{Code: code, Person: who, PIN: "4071"}}); err != nil {
			b.Fatal(err)
		}
	}
	bodies := make([][][]byte, devices)
	rng := rand.New(rand.NewPCG(1, uint64(now())))
	for i := range b.N {
		d := i % devices
		row, err := records.Format(p.Signed(rng, c.Person(d), now()))
		if err != nil {
			b.Fatal(err)
		}
		bodies[d] = append(bodies[d], row.Bytes)
	}
	batches.Store(0)
	entries.Store(0)
	b.ReportAllocs()
	b.ResetTimer()
	before := processorTime(b)
	tally := c.Go(ctx, func(device, n int) (crowd.Ask, bool) {
		if n == len(bodies[device]) {
			return crowd.Ask{}, false
		}
		return crowd.Ask{Kind: "sign-off", Method: http.MethodPost, Path: "/api/entries", Body: bodies[device][n]}, true
	})
	b.StopTimer()
	b.ReportMetric(float64(processorTime(b)-before)/float64(b.N), "cpu-ns/op")
	b.ReportMetric(float64(entries.Load())/float64(batches.Load()), "entries/batch")
	if err := tally.Wrong(); err != nil {
		b.Fatal(err)
	}
	c.Leave()
	stop()
	if err := <-ended; err != nil {
		b.Fatal(err)
	}
}

// processorTime is what this process has used so far.
func processorTime(b *testing.B) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
