package trace

import (
	"slices"
	"testing"

	"gonum.org/v1/gonum/graph/simple"
	"gonum.org/v1/gonum/graph/topo"
	"gonum.org/v1/gonum/graph/traverse"
	"pgregory.net/rapid"

	gonum "gonum.org/v1/gonum/graph"

	"grainward/records"
)

// drawGraph draws any graph of lots and steps, cycles and all, and the same for gonum: lots are nodes 0 to nLots-1, steps follow.
func drawGraph(t *rapid.T) (*Graph, *simple.DirectedGraph) {
	nLots, nSteps := rapid.IntRange(1, 25).Draw(t, "lots"), rapid.IntRange(0, 15).Draw(t, "steps")
	d := simple.NewDirectedGraph()
	for i := range nLots + nSteps {
		d.AddNode(simple.Node(i))
	}
	var in, out []edge
	for s := range nSteps {
		for _, l := range rapid.SliceOfNDistinct(rapid.IntRange(0, nLots-1), 0, 3, rapid.ID[int]).Draw(t, "in") {
			in = append(in, edge{int32(l), int32(s), records.Micrograms(rapid.IntRange(0, 1000).Draw(t, "mass")), rapid.Bool().Draw(t, "estimated")})
			d.SetEdge(d.NewEdge(simple.Node(l), simple.Node(nLots+s)))
		}
		for _, l := range rapid.SliceOfNDistinct(rapid.IntRange(0, nLots-1), 0, 3, rapid.ID[int]).Draw(t, "out") {
			out = append(out, edge{int32(l), int32(s), records.Micrograms(rapid.IntRange(0, 1000).Draw(t, "mass")), false})
			d.SetEdge(d.NewEdge(simple.Node(nLots+s), simple.Node(l)))
		}
	}
	return build(nLots, nSteps, in, out), d
}

// reached are the lots that gonum's breadth-first walk reaches (gonum.org/v1/gonum v0.17.0, graph/traverse), and how many
// steps away.
func reached(d *simple.DirectedGraph, from []int32, nLots int, back bool) map[int32]int32 {
	out := map[int32]int32{}
	var g traverse.Graph = d
	if back {
		g = reversed{d}
	}
	for _, start := range from {
		var bf traverse.BreadthFirst
		bf.Walk(g, simple.Node(start), func(n gonum.Node, depth int) bool {
			if id := n.ID(); id < int64(nLots) {
				if have, ok := out[int32(id)]; !ok || int32(depth/2) < have {
					out[int32(id)] = int32(depth / 2) // a lot and a step are a node each
				}
			}
			return false
		})
	}
	return out
}

type reversed struct{ *simple.DirectedGraph }

func (r reversed) From(id int64) gonum.Nodes      { return r.DirectedGraph.To(id) }
func (r reversed) Edge(uid, vid int64) gonum.Edge { return r.DirectedGraph.Edge(vid, uid) }

func TestClosuresAgreeWithGonum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g, d := drawGraph(t)
		from := rapid.SliceOfN(rapid.Int32Range(0, int32(g.Lots-1)), 0, 3).Draw(t, "from")
		for _, back := range []bool{false, true} {
			w := g.Forward(from)
			if back {
				w = g.Back(from)
			}
			want := reached(d, from, g.Lots, back)
			if len(want) != len(w.Lots) {
				t.Fatalf("back %v: %d lots, gonum reaches %d", back, len(w.Lots), len(want))
			}
			for i, l := range w.Lots {
				if have, ok := want[l]; !ok || have != w.Distance[i] {
					t.Fatalf("back %v: lot %d at %d, gonum says %d, %v", back, l, w.Distance[i], have, ok)
				}
				if i > 0 && w.Distance[i] < w.Distance[i-1] {
					t.Fatal("not in order of distance")
				}
			}
		}
	})
}

func TestForwardAndBackAreMirrorImages(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g, _ := drawGraph(t)
		for a := range int32(g.Lots) {
			forward := g.Forward([]int32{a}).Lots
			for b := range int32(g.Lots) {
				if slices.Contains(forward, b) != slices.Contains(g.Back([]int32{b}).Lots, a) {
					t.Fatalf("%d is forward of %d, but not the other way round", b, a)
				}
			}
		}
	})
}

func TestCyclesAgreeWithGonum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g, d := drawGraph(t)
		want := [][]int{}
		for _, comp := range topo.TarjanSCC(d) { // gonum.org/v1/gonum v0.17.0, graph/topo
			if len(comp) < 2 {
				continue
			}
			var lotsOf []int
			for _, n := range comp {
				if n.ID() < int64(g.Lots) {
					lotsOf = append(lotsOf, int(n.ID()))
				}
			}
			slices.Sort(lotsOf)
			want = append(want, lotsOf)
		}
		slices.SortFunc(want, func(a, b []int) int { return a[0] - b[0] })
		if got := g.Cycles(); !slices.EqualFunc(got, want, slices.Equal) {
			t.Fatalf("cycles %v, gonum says %v", got, want)
		}
	})
}

// TestCyclesOfALongChain: a chain of a hundred thousand lots that closes on itself must not exhaust a stack.
func TestCyclesOfALongChain(t *testing.T) {
	const n = 100_000
	in, out := make([]edge, n), make([]edge, n)
	for i := range int32(n) {
		in[i], out[i] = edge{lot: i, step: i}, edge{lot: (i + 1) % n, step: i}
	}
	g := build(n, n, in, out)
	if c := g.Cycles(); len(c) != 1 || len(c[0]) != n {
		t.Fatalf("%d groups", len(c))
	}
	if w := g.Forward([]int32{7}); len(w.Lots) != n {
		t.Fatalf("%d lots reached", len(w.Lots))
	}
}
