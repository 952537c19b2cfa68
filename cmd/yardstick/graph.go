package yardstick

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"runtime"
	"slices"
	"time"

	"grainward/audit/trace"
	"grainward/records/lots"
)

// lineage is a plant of many years as a graph alone: each step takes two of the lots made shortly before and makes two new ones, so that
// there are twice as many edges from lot to lot as there are lots.
type lineage struct {
	lots  int
	floor *lots.Floor
	pairs [][2]int32
}

const herd = 100 // lots there are before the first step

func newLineage(n int, seed uint64) *lineage {
	r := rand.New(rand.NewPCG(seed, 2))
	x := &lineage{lots: n, floor: &lots.Floor{Lots: make([]*lots.Lot, n)}}
	for made := herd; made+2 <= n; made += 2 {
		a := made - 1 - r.IntN(herd)
		b := made - 1 - r.IntN(herd)
		if a == b {
			b = made - 1 - (made-b)%herd
		}
		x.floor.Steps = append(x.floor.Steps, &lots.Step{In: []lots.Portion{{Lot: a, Mass: 1000}, {Lot: b, Mass: 1000}}, Out: []lots.Made{{Lot: made, Mass: 900}, {Lot: made + 1, Mass: 900}}})
		for _, l := range []int{a, b} {
			x.pairs = append(x.pairs, [2]int32{int32(l), int32(made)}, [2]int32{int32(l), int32(made + 1)})
		}
	}
	return x
}

// gonumMost is how many lots the graph of gonum is built of at most: it takes some 400 bytes an edge.
const gonumMost = 1_000_000

// traces is one closure, walked by us and by the peers.
func traces(ctx context.Context, r *run) (rows []Row, err error) {
	if err := r.letGo(); err != nil {
		return nil, err
	}
	r.Say(fmt.Sprintf("a graph of %s lots", whole(float64(r.Size))))
	x := newLineage(r.Size, r.Seed)
	g := trace.Build(x.floor)
	x.floor = nil
	walk := newBareWalk(x.lots, x.pairs)
	start := walk.widest()
	want := sorted(walk.from(start))
	if len(want) < 2 {
		return nil, fmt.Errorf("nothing was made of lot %d", start)
	}
	runtime.GC()
	var ours, bare times
	for range r.Rounds * 5 {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		bare.take(func() { walk.from(start) })
		ours.take(func() {
			w := g.Forward([]int32{start})
			g.Expected(w, []int32{start})
		})
	}
	if got := sorted(g.Forward([]int32{start}).Lots); !slices.Equal(got, want) {
		return nil, fmt.Errorf("the trace reaches %d lots, the bare walk %d, or others", len(got), len(want))
	}
	also := []Also{{"lots", Figure{float64(x.lots), ""}}, {"edges", Figure{float64(len(x.pairs)), ""}}, {"lots reached", Figure{float64(len(want)), ""}}}

	r.Say("the same in SQLite")
	q, err := newQuery(ctx, r.sub("edges.db"), x.pairs)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, q.close()) }()
	var table times
	for range r.Rounds {
		n := 0
		if err := table.try(func() (err error) { n, err = q.count(ctx, start); return err }); err != nil {
			return nil, err
		}
		if n != len(want) {
			return nil, fmt.Errorf("the query reaches %d lots, the bare walk %d", n, len(want))
		}
	}
	if got, err := q.all(ctx, start); err != nil || !slices.Equal(got, want) {
		return nil, errors.Join(err, fmt.Errorf("the query reaches %d lots, the bare walk %d, or others", len(got), len(want)))
	}
	what := "trace with shares"
	rows = []Row{
		{Name: "trace-query", What: what, Ours: seconds(ours.best()), Peer: "SQLite, recursive", Theirs: seconds(table.best()), Ratio: over(table.best(), ours.best()), Limit: &Limit{Least: 20}, Also: also},
		{Name: "trace-walk", What: what, Ours: seconds(ours.best()), Peer: "a bare walk", Theirs: seconds(bare.best()), Ratio: over(ours.best(), bare.best()), Limit: &Limit{Most: 3}},
	}
	if x.lots > gonumMost {
		return rows, nil
	}
	r.Say("the same with gonum")
	gn := newGonum(x.lots, x.pairs)
	var breadth, depth times
	for range r.Rounds {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		var b, d []int32
		breadth.take(func() { b = gn.breadth(start) })
		depth.take(func() { d = gn.depth(start) })
		if !slices.Equal(sorted(b), want) || !slices.Equal(sorted(d), want) {
			return nil, fmt.Errorf("gonum reaches %d and %d lots, the bare walk %d, or others", len(b), len(d), len(want))
		}
	}
	rows = append(rows, Row{Name: "trace-gonum", What: what, Ours: seconds(ours.best()), Peer: "gonum's walk", Theirs: seconds(breadth.best()), Ratio: over(breadth.best(), ours.best()),
		Also: []Also{{"depth-first", seconds(depth.best())}}})
	return rows, nil
}

// times are those of something done again and again.
type times []time.Duration

func (t *times) take(do func()) {
	begun := time.Now()
	do()
	*t = append(*t, time.Since(begun))
}

func (t *times) try(do func() error) (err error) {
	t.take(func() { err = do() })
	return err
}

func (t times) best() time.Duration { return slices.Min(t) }

func sorted(lots []int32) []int32 {
	out := slices.Clone(lots)
	slices.Sort(out)
	return out
}
