package yardstick

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"grainward/cmd/bigplant"
	"grainward/records"
	"grainward/records/book"
	"grainward/records/ledger"
	"grainward/records/sqlite"
	"grainward/records/verify"
	"grainward/server"
	"grainward/server/auth"
)

// plantHere makes plants that are served by the test itself.
func plantHere(ctx context.Context, dir string, _ []byte) (*Place, error) {
	if err := os.Mkdir(dir, 0o755); err != nil {
		return nil, err
	}
	signer, _, err := ledger.GenerateKey(nil, "yardstick.test/journal")
	if err != nil {
		return nil, err
	}
	p := &Place{Journal: filepath.Join(dir, "journal.db"), People: filepath.Join(dir, "people.db"), Signer: signer, Origin: "yardstick.test/journal"}
	p.Serve = func(ctx context.Context) (*Served, error) {
		now := func() records.Instant { return records.InstantOf(time.Now()) }
		store, err := sqlite.Open(ctx, p.Journal, sqlite.Write)
		if err != nil {
			return nil, err
		}
		b, err := book.Open(ctx, store, book.Options{Origin: p.Origin, Signer: p.Signer, Now: now})
		if err != nil {
			return nil, err
		}
		a, err := auth.Open(p.People, auth.Options{Now: now})
		if err != nil {
			return nil, err
		}
		run, stop := context.WithCancel(ctx)
		ready, ended := make(chan string, 1), make(chan error, 1)
		s := server.New(server.Config{Book: b, Auth: a, Now: now, Version: "0.1"})
		go func() { ended <- s.Run(run, "127.0.0.1:0", func(u string) { ready <- u }) }()
		select {
		case url := <-ready:
			return &Served{URL: url, Stop: func() error { stop(); return errors.Join(<-ended, a.Close(), b.Close()) }}, nil
		case err := <-ended:
			stop()
			return nil, err
		}
	}
	return p, nil
}

func config(t *testing.T, size int, only ...string) Config {
	return Config{Dir: t.TempDir(), Seed: 1, Size: size, Only: only, Rounds: 1, Each: 2, Devices: 2, NewPlant: plantHere, Now: time.Now}
}

func leftIn(t *testing.T, dir string) []string {
	t.Helper()
	all, err := filepath.Glob(filepath.Join(dir, "*"))
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// A small run has every figure, each a number, with the limits of the design; nothing is left of it on the disk. How fast it was is no
// business of a test.
func TestRun(t *testing.T) {
	c := config(t, 6000)
	var said []string
	c.Say = func(text string) { said = append(said, text) }
	r, err := Run(t.Context(), c)
	if err != nil {
		t.Fatal(err)
	}
	if got := leftIn(t, c.Dir); len(got) > 0 {
		t.Errorf("left behind: %v", got)
	}
	if len(said) == 0 || r.Size != 6000 || r.Seed != 1 || r.Machine.SyncRate <= 0 || r.Machine.Cores < 1 {
		t.Errorf("%+v", r)
	}
	for _, row := range r.Rows {
		for what, v := range map[string]float64{"ours": row.Ours.Value, "theirs": row.Theirs.Value, "ratio": row.Ratio} {
			if math.IsNaN(v) || math.IsInf(v, 0) || v < 0 || v == 0 && (what == "ours" && row.Name != "binder-memory" || row.Peer != "") {
				t.Errorf("%s: %s is %g", row.Name, what, v)
			}
		}
	}
	var table, text bytes.Buffer
	if err := errors.Join(WriteTable(&table, r), FormatJSON(&text, []*Report{r})); err != nil {
		t.Fatal(err)
	}
	if back, err := ParseJSON(&text); err != nil || len(back) != 1 || len(back[0].Rows) != len(r.Rows) {
		t.Error(back, err)
	}
	t.Log("\n" + table.String())

	// "Numbers that must hold", as the design has them.
	for _, want := range []struct {
		design string
		rows   []string
		limit  Limit
	}{
		{"sign-offs acknowledged durable over HTTP, 64 devices at once, 2 cores: 5x the one-fsync-per-record rate of the same disk", []string{"sign-offs"}, Limit{Least: 5}},
		{"cold start, 1,000,000 entries: within 3x of scanning and hashing the same rows with nothing else", []string{"opening"}, Limit{Most: 3}},
		{"all findings over 5 years and 1,000,000 entries: under a quarter of that cold start", []string{"findings"}, Limit{Most: 0.25}},
		{"after one more entry, under 5 ms", furtherRows(), Limit{Most: 0.005, Unit: "s"}},
		{"trace with masses, 1,000,000 lots, 2,000,000 edges: 20x faster than an indexed SQLite recursive query for the same closure", []string{"trace-query"}, Limit{Least: 20}},
		{"within 3x of a bare breadth-first walk", []string{"trace-walk"}, Limit{Most: 3}},
		{"binder of 500,000 rows: 0.85 of the raw stream writer on the same cells", []string{"binder"}, Limit{Least: 0.85}},
		{"peak memory under 300 MB", []string{"binder-memory"}, Limit{Most: 300, Unit: "MB"}},
		{"resident memory under 600 bytes an entry at 1,000,000 entries", []string{"memory"}, Limit{Most: 600, Unit: "B"}},
		{"the crew page under 60 kB on first load", []string{"crew-page"}, Limit{Most: 60, Unit: "kB"}},
	} {
		for _, name := range want.rows {
			if row := r.Row(name); row == nil || row.Limit == nil || *row.Limit != want.limit {
				t.Errorf("%s: %+v", want.design, row)
			}
		}
	}
	limited := 0
	for _, row := range r.Rows {
		if row.Limit != nil {
			limited++
		}
	}
	if most := 9 + len(furtherRows()); limited != most {
		t.Errorf("%d rows have limits; the design's table and this test are about %d", limited, most)
	}
}

// The journal that is measured on is one a plant could have: whole, signed, and the same for the same seed.
func TestJournal(t *testing.T) {
	var first [][]byte
	for range 2 {
		c := config(t, 5000)
		c.Say, c.Bar = func(string) {}, func(string) func(int, int) { return nil }
		r := &run{Config: c, dir: c.Dir}
		b, err := r.journal(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		store, err := sqlite.Open(t.Context(), b.Journal, sqlite.Read)
		if err != nil {
			t.Fatal(err)
		}
		key, err := ledger.VerifierOf(b.Signer)
		if err != nil {
			t.Fatal(err)
		}
		rep, err := verify.Journal(t.Context(), store, verify.Options{Verifier: key, Origin: b.Origin})
		if err != nil || !rep.OK() {
			t.Errorf("%+v %v", rep, err)
		}
		var rows [][]byte
		if err := errors.Join(store.Read(t.Context(), 0, func(_ records.Position, row records.Row) error { rows = append(rows, row.Bytes); return nil }), store.Close()); err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = rows
		}
		if len(rows) != 5000 || !slices.EqualFunc(rows, first, bytes.Equal) {
			t.Errorf("%d rows, or others than the first time", len(rows))
		}
		if b.target.Kind != records.KindSignoff || b.middle == 0 || b.last <= b.middle {
			t.Errorf("%+v", b)
		}
	}
}

func TestOnlySome(t *testing.T) {
	c := config(t, 500, "memory", "opening")
	r, err := Run(t.Context(), c)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, row := range r.Rows {
		names = append(names, row.Name)
	}
	if fmt.Sprint(names) != "[opening memory]" {
		t.Error(names)
	}
}

// Whoever stops it gets nothing, and nothing is left behind: at once, in the middle of the journal, and in each measure.
func TestStopped(t *testing.T) {
	stopped := func(what string, c Config, at func(stop func(), c *Config)) {
		t.Helper()
		ctx, stop := context.WithCancel(t.Context())
		defer stop()
		at(stop, &c)
		if r, err := Run(ctx, c); r != nil || !errors.Is(err, context.Canceled) {
			t.Errorf("%s: %v", what, err)
		}
		if got := leftIn(t, c.Dir); len(got) > 0 {
			t.Errorf("%s; left behind: %v", what, got)
		}
	}
	stopped("before it began", config(t, 400), func(stop func(), _ *Config) { stop() })
	stopped("in the middle of the journal", config(t, 2*atOnce), func(stop func(), c *Config) {
		c.Bar = func(string) func(int, int) { return func(int, int) { stop() } }
	})
	for _, name := range Names() {
		stopped("in "+name, config(t, 400, name), func(stop func(), c *Config) {
			n, most := 0, map[string]int{"trace": 1}[name]
			c.Say = func(string) {
				if n++; n > most {
					stop()
				}
			}
		})
	}
}

func TestCanNotBeMeasured(t *testing.T) {
	for what, change := range map[string]func(*Config){
		"from 300":     func(c *Config) { c.Size = 299 },
		"to 20000000":  func(c *Config) { c.Size = 1 << 40 },
		"one of sign":  func(c *Config) { c.Only = []string{"speed"} },
		"from 1 to 64": func(c *Config) { c.Devices = 65 },
	} {
		c := config(t, 500)
		change(&c)
		if _, err := Run(t.Context(), c); records.KindOf(err) != records.Invalid || !strings.Contains(err.Error(), what) {
			t.Errorf("%s: %v", what, err)
		}
	}
	c := config(t, 500)
	c.Dir = filepath.Join(c.Dir, "gone")
	if _, err := Run(t.Context(), c); records.KindOf(err) != records.NotFound {
		t.Error(err)
	}
	c = config(t, 500)
	c.NewPlant = func(context.Context, string, []byte) (*Place, error) { return nil, errors.New("no plant today") }
	if _, err := Run(t.Context(), c); err == nil || !strings.Contains(err.Error(), "no plant today") || len(leftIn(t, c.Dir)) > 0 {
		t.Error(err)
	}
}

// The walks agree with each other and with a slow closure, on graphs of a size that a person could draw and larger.
func TestWalksAgree(t *testing.T) {
	for _, n := range []int{Least, 1001} {
		x := newLineage(n, 5)
		if want := (n - herd) / 2 * 4; len(x.pairs) != want {
			t.Fatalf("%d edges, want %d", len(x.pairs), want)
		}
		walk, gn := newBareWalk(n, x.pairs), newGonum(n, x.pairs)
		q, err := newQuery(t.Context(), filepath.Join(t.TempDir(), "edges.db"), x.pairs)
		if err != nil {
			t.Fatal(err)
		}
		for _, start := range []int32{0, walk.widest(), int32(n - 1)} {
			reached := map[int32]bool{start: true}
			for grew := true; grew; {
				grew = false
				for _, p := range x.pairs {
					if reached[p[0]] && !reached[p[1]] {
						reached[p[1]], grew = true, true
					}
				}
			}
			var want []int32
			for l := range reached {
				want = append(want, l)
			}
			want = sorted(want)
			asked, err := q.all(t.Context(), start)
			if err != nil {
				t.Fatal(err)
			}
			count, err := q.count(t.Context(), start)
			if err != nil || count != len(want) {
				t.Error(count, err)
			}
			for name, got := range map[string][]int32{"bare": walk.from(start), "breadth": gn.breadth(start), "depth": gn.depth(start), "query": asked} {
				if !slices.Equal(sorted(got), want) {
					t.Errorf("%s from %d: %d lots, want %d", name, start, len(got), len(want))
				}
			}
		}
		if err := q.close(); err != nil {
			t.Error(err)
		}
	}
}

// furtherRows are the rows of one more entry, of each sort that there is.
func furtherRows() (names []string) {
	p, err := bigplant.New(1)
	if err != nil {
		panic(err) // bigplant's own tests make plants
	}
	for _, f := range p.More(bigplant.Reached{}) {
		names = append(names, oneMoreRow(f.Sort))
	}
	return names
}
