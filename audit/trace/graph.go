package trace

import (
	"math/bits"
	"slices"

	"grainward/records"
	"grainward/records/lots"
)

// Graph is the lots of a floor joined by its steps, as flat arrays. Lots and steps have the indexes they have in the floor.
// It is made once for a floor and may be read by any number of goroutines.
type Graph struct {
	Lots, Steps int
	Into        Edges // lot -> steps it went into
	Gave        Edges // step -> lots it made
	MadeBy      Edges // lot -> steps it came out of
	Took        Edges // step -> lots that went into it
}

// Edges are the edges of all nodes, one after the other: those of node n are To[First[n]:First[n+1]], with the mass of each
// beside it.
type Edges struct {
	First     []int32
	To        []int32
	Mass      []records.Micrograms
	Estimated []bool // the mass is a share of a mixed station; of edges that touch an input
}

// of is the range of a node's edges.
func (e *Edges) of(n int32) (from, to int32) { return e.First[n], e.First[n+1] }

// edge is one edge while a graph is being built.
type edge struct {
	lot, step int32
	mass      records.Micrograms
	estimated bool
}

// Build makes the graph of a floor. A lot that went into one step more than once has one edge to it, with the sum.
func Build(f *lots.Floor) *Graph {
	var in, out []edge
	for s := range f.Steps {
		step := f.Steps[s]
		first := len(in)
		for _, p := range step.In {
			in = join(in, first, edge{int32(p.Lot), int32(s), p.Mass, p.Estimated})
		}
		first = len(out)
		for _, o := range step.Out {
			out = join(out, first, edge{int32(o.Lot), int32(s), o.Mass, false})
		}
	}
	return build(len(f.Lots), len(f.Steps), in, out)
}

func join(es []edge, first int, e edge) []edge {
	for i := first; i < len(es); i++ {
		if es[i].lot == e.lot {
			es[i].mass += e.mass
			es[i].estimated = es[i].estimated || e.estimated
			return es
		}
	}
	return append(es, e)
}

func build(nLots, nSteps int, in, out []edge) *Graph {
	return &Graph{Lots: nLots, Steps: nSteps,
		Into: pack(nLots, in, false), Gave: pack(nSteps, out, true), MadeBy: pack(nLots, out, false), Took: pack(nSteps, in, true)}
}

// pack sorts edges by their near node, keeping their order, by counting.
func pack(nodes int, es []edge, fromStep bool) Edges {
	e := Edges{First: make([]int32, nodes+1), To: make([]int32, len(es)), Mass: make([]records.Micrograms, len(es)), Estimated: make([]bool, len(es))}
	near := func(x *edge) (near, far int32) {
		if fromStep {
			return x.step, x.lot
		}
		return x.lot, x.step
	}
	for i := range es {
		n, _ := near(&es[i])
		e.First[n+1]++
	}
	for n := range nodes {
		e.First[n+1] += e.First[n]
	}
	next := slices.Clone(e.First)
	for i := range es {
		n, far := near(&es[i])
		k := next[n]
		next[n]++
		e.To[k], e.Mass[k], e.Estimated[k] = far, es[i].mass, es[i].estimated
	}
	return e
}

// Walk is what is reached from some lots: each lot once, in order of distance, those it started from first.
type Walk struct {
	Lots     []int32
	Distance []int32 // beside Lots: steps between
	Steps    []int32 // that lie on the way, each once

	lots, steps set
}

// ordered are the steps of the walk in order of index, which is the order in which they happened.
func (w *Walk) ordered() []int32 {
	out := make([]int32, 0, len(w.Steps))
	if len(w.Steps) < 16*len(w.steps) {
		out = append(out, w.Steps...)
		slices.Sort(out)
		return out
	}
	for i, word := range w.steps { // of many, reading off the bits is far faster than sorting
		for ; word != 0; word &= word - 1 {
			out = append(out, int32(i*64+bits.TrailingZeros64(word)))
		}
	}
	return out
}

// Forward walks to all that was made of lots; Back to all they were made of. Indexes that are not in the graph are passed over.
func (g *Graph) Forward(from []int32) *Walk { return g.walk(from, &g.Into, &g.Gave) }

// Back is the mirror image of Forward.
func (g *Graph) Back(from []int32) *Walk { return g.walk(from, &g.MadeBy, &g.Took) }

func (g *Graph) walk(from []int32, toStep, toLot *Edges) *Walk {
	w := &Walk{lots: newSet(g.Lots), steps: newSet(g.Steps)}
	seenLot, seenStep := w.lots, w.steps
	reached, steps := make([]int32, 0, max(64, len(from))), make([]int32, 0, 64)
	for _, l := range from {
		if l >= 0 && int(l) < g.Lots && seenLot.add(l) {
			reached = append(reached, l)
		}
	}
	// The list of what was reached is also the queue; ends are where in it each distance ends.
	ends := []int{len(reached)}
	for i := 0; i < len(reached); i++ {
		if i == ends[len(ends)-1] {
			ends = append(ends, len(reached))
		}
		reached, steps = roomy(reached, g.Lots), roomy(steps, g.Steps)
		l := reached[i]
		for _, s := range toStep.To[toStep.First[l]:toStep.First[l+1]] {
			if !seenStep.add(s) {
				continue
			}
			steps = append(steps, s)
			for _, next := range toLot.To[toLot.First[s]:toLot.First[s+1]] {
				if seenLot.add(next) {
					reached = append(reached, next)
				}
			}
		}
	}
	w.Lots, w.Steps, w.Distance = reached, steps, make([]int32, len(reached))
	begin := 0
	for d, end := range append(ends, len(reached)) {
		for i := begin; i < end; i++ {
			w.Distance[i] = int32(d)
		}
		begin = max(begin, end)
	}
	return w
}

// roomy gives a list that has grown long room for all it could hold, instead of growing it many times over.
func roomy(list []int32, most int) []int32 {
	const long = 4096
	if len(list) < long || cap(list) >= most {
		return list
	}
	return slices.Grow(list, most-len(list))
}

// set is a set of small numbers, a bit each: a million lots are 125 kB, which stays near the processor.
type set []uint64

func newSet(n int) set { return make(set, (n+63)/64) }

func (s set) add(i int32) bool {
	word, bit := &s[uint32(i)/64], uint64(1)<<(uint32(i)%64)
	if *word&bit != 0 {
		return false
	}
	*word |= bit
	return true
}

func (s set) has(i int32) bool { return s[uint32(i)/64]&(1<<(uint32(i)%64)) != 0 }
