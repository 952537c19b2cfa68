package trace

import (
	"database/sql"
	"flag"
	"fmt"
	"path/filepath"
	"testing"
	"time"

	_ "modernc.org/sqlite"
)

var full = flag.Bool("full", false, "the closure bench over 1,000,000 lots and 2,000,000 edges instead of 100,000 and 200,000")

// BenchmarkClosure walks one closure in four ways, in one run, and prints the ratios (design: within 3x of a bare
// breadth-first walk over arrays, 20x faster than an indexed SQLite recursive query):
//
//	go test -run '^$' -bench Closure ./audit/trace -full
func BenchmarkClosure(b *testing.B) {
	size := 100_000
	if *full {
		size = 1_000_000
	}
	g, pairs := plantGraph(size)
	bare := newBare(size, pairs)
	start := widest(bare)
	want := len(bare.walk(start))
	if got := len(g.Forward([]int32{start}).Lots); got != want {
		b.Fatalf("%d lots reached, the bare walk reaches %d", got, want)
	}
	took := map[string]time.Duration{}
	run := func(name string, do func()) {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				do()
			}
			took[name] = b.Elapsed() / time.Duration(b.N)
		})
	}
	run("bare", func() { bare.walk(start) })
	run("forward", func() { g.Forward([]int32{start}) })
	run("forward-with-shares", func() {
		w := g.Forward([]int32{start})
		g.sharesForward(w, []int32{start}, nil)
	})
	db := load(b, pairs)
	run("sqlite", func() {
		var n int
		err := db.QueryRow(`WITH RECURSIVE reached(lot) AS (SELECT ? UNION SELECT made FROM edge JOIN reached ON used = lot) SELECT count(*) FROM reached`, start).Scan(&n)
		if err != nil || n != want {
			b.Fatalf("%d lots, %v; the bare walk reaches %d", n, err, want)
		}
	})
	fmt.Printf("%d lots, %d edges, %d reached: bare %v, forward %v (%.2fx bare, SQLite takes %.0fx), with shares %v (%.2fx bare, SQLite takes %.0fx), SQLite %v\n",
		size, len(pairs), want, took["bare"], took["forward"], ratio(took["forward"], took["bare"]), ratio(took["sqlite"], took["forward"]),
		took["forward-with-shares"], ratio(took["forward-with-shares"], took["bare"]), ratio(took["sqlite"], took["forward-with-shares"]), took["sqlite"])
}

func ratio(a, b time.Duration) float64 { return float64(a) / float64(b) }

// bare is the plainest breadth-first walk: lot to lot, no masses, no steps.
type bare struct{ first, to []int32 }

func newBare(nLots int, pairs [][2]int32) *bare {
	x := &bare{make([]int32, nLots+1), make([]int32, len(pairs))}
	for _, p := range pairs {
		x.first[p[0]+1]++
	}
	for i := range nLots {
		x.first[i+1] += x.first[i]
	}
	next := append([]int32(nil), x.first...)
	for _, p := range pairs {
		x.to[next[p[0]]] = p[1]
		next[p[0]]++
	}
	return x
}

func (x *bare) walk(start int32) []int32 {
	seen := make([]bool, len(x.first)-1)
	queue := append(make([]int32, 0, len(seen)), start)
	seen[start] = true
	for i := 0; i < len(queue); i++ {
		l := queue[i]
		for _, next := range x.to[x.first[l]:x.first[l+1]] {
			if !seen[next] {
				seen[next] = true
				queue = append(queue, next)
			}
		}
	}
	return queue
}

// widest is, of the first lots, one with much made of it.
func widest(x *bare) (start int32) {
	most := 0
	for l := range int32(100) {
		if n := len(x.walk(l)); n > most {
			start, most = l, n
		}
	}
	return start
}

// load puts the edges into an SQLite file with the index the query wants.
func load(b *testing.B, pairs [][2]int32) *sql.DB {
	db, err := sql.Open("sqlite", filepath.Join(b.TempDir(), "edges.db"))
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = db.Close() })
	exec := func(q string, args ...any) {
		if _, err := db.Exec(q, args...); err != nil {
			b.Fatal(err)
		}
	}
	exec(`CREATE TABLE edge (used INTEGER NOT NULL, made INTEGER NOT NULL)`)
	tx, err := db.Begin()
	if err != nil {
		b.Fatal(err)
	}
	put, err := tx.Prepare(`INSERT INTO edge VALUES (?, ?)`)
	if err != nil {
		b.Fatal(err)
	}
	for _, p := range pairs {
		if _, err := put.Exec(p[0], p[1]); err != nil {
			b.Fatal(err)
		}
	}
	if err := tx.Commit(); err != nil {
		b.Fatal(err)
	}
	exec(`CREATE INDEX edge_used ON edge (used, made)`) // covers the query
	exec(`ANALYZE`)
	return db
}
