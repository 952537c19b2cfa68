package lineage

import (
	"cmp"
	"slices"

	"grainward/records"
)

// Sizes of the drawing, in pixels.
const (
	boxWidth   = 196.0
	boxHeight  = 76.0 // at least; a box with many edges is higher
	laneHeight = 20.0 // for an edge that passes a column
	rowGap     = 16.0
	gapMin     = 172.0 // between columns: room for the masses written at the edges
	portGap    = 15.0  // between edges at a box's side: a line of small text
)

// node is a lot's box, or the place where an edge passes a column (lot < 0).
type node struct {
	lot   int
	band  int
	layer int
	order float64 // by which a column is sorted, while that goes on
	y, h  float64 // upper edge and height
	in    []*link
	out   []*link
}

// link is an edge of one column's width. Links of one edge follow each other.
type link struct {
	from, to *node
	edge     *drawn
	y0, y1   float64 // where it leaves and arrives
}

// drawn is one edge between two lots: all steps between them, as one line.
type drawn struct {
	from, to  int
	mass      Kg // of the first lot
	estimated bool
	backward  bool // against the layers: part of a cycle
	crossing  int  // which change of hands between plants, from 1; 0 for a way within one
	links     []*link
}

// layout places lots in columns from left to right, so that all edges go right but those of a cycle, and nothing overlaps:
// columns by longest way (as in K. Sugiyama's method, 1981), with a lane kept free in every column an edge passes; rows by the middle of
// the neighbours, a few times to and fro. Lots of several plants lie in bands, one below the other; only edges between plants leave one.
type layout struct {
	nodes  []*node // boxes by lot, then lanes
	edges  []*drawn
	layers [][]*node
	bands  []band
	x      []float64 // of each layer's left edge
	w, h   float64
}

// band is where the lots of one plant lie.
type band struct{ y, h float64 }

// between is how far bands are apart: room for a frame, and the plant's name in it.
const (
	bandHead = 58.0 // above the first box
	bandFoot = 14.0 // below the last
	between  = bandHead + bandFoot + 18
)

// arrange lays out one plant's lots.
func arrange(f *Form) *layout {
	l := &layout{}
	l.add(f, 0)
	l.lay()
	return l
}

// add takes in the lots of a form, in a band, and the ways between them. It gives the number of its first lot.
func (l *layout) add(f *Form, band int) (first int) {
	first = len(l.nodes)
	index := map[records.LotCode]int{}
	for i := range f.Lots {
		index[f.Lots[i].Code] = first + i
		l.nodes = append(l.nodes, &node{lot: first + i, band: band, h: boxHeight})
	}
	type pair struct{ a, b int }
	seen := map[pair]*drawn{}
	last := map[pair]records.Position{}
	for i := range f.Paths {
		p := &f.Paths[i]
		k := pair{index[p.From], index[p.To]}
		e := seen[k]
		if e == nil {
			e = &drawn{from: k.a, to: k.b}
			seen[k] = e
			l.edges = append(l.edges, e)
		} else if last[k] == p.Entry {
			continue
		}
		last[k] = p.Entry
		e.mass += p.In
		e.estimated = e.estimated || p.Estimated
	}
	return first
}

// lay places what was taken in.
func (l *layout) lay() {
	l.rank()
	l.lanes()
	l.sort()
	l.place()
}

// rank finds each lot's column. Edges that close a cycle are turned round for it.
func (l *layout) rank() {
	out := make([][]*drawn, len(l.nodes))
	for _, e := range l.edges {
		out[e.from] = append(out[e.from], e)
	}
	const fresh, open, done = 0, 1, 2
	state := make([]int, len(l.nodes))
	type frame struct{ n, at int }
	var topo []int // in reverse
	for start := range l.nodes {
		if state[start] != fresh {
			continue
		}
		state[start] = open
		stack := []frame{{start, 0}}
		for len(stack) > 0 {
			f := &stack[len(stack)-1]
			if f.at == len(out[f.n]) {
				state[f.n] = done
				topo = append(topo, f.n)
				stack = stack[:len(stack)-1]
				continue
			}
			e := out[f.n][f.at]
			f.at++
			switch state[e.to] {
			case fresh:
				state[e.to] = open
				stack = append(stack, frame{e.to, 0})
			case open:
				e.backward = true
			}
		}
	}
	for i := len(topo) - 1; i >= 0; i-- {
		n := topo[i]
		for _, e := range out[n] {
			if !e.backward {
				l.nodes[e.to].layer = max(l.nodes[e.to].layer, l.nodes[n].layer+1)
			}
		}
	}
	// A lot that only gives stands just before what it gave to, not at the far left.
	in := make([]int, len(l.nodes))
	for _, e := range l.edges {
		in[e.to]++
	}
	for n, es := range out {
		if in[n] > 0 || len(es) == 0 {
			continue
		}
		nearest := -1
		for _, e := range es {
			if to := l.nodes[e.to].layer; nearest < 0 || to < nearest {
				nearest = to
			}
		}
		l.nodes[n].layer = max(0, nearest-1)
	}
}

// lanes splits edges into links of one column each.
func (l *layout) lanes() {
	for _, e := range l.edges {
		from, to := l.nodes[e.from], l.nodes[e.to]
		if e.backward {
			from, to = to, from
		}
		if from == to { // a lot made of itself at once: said in its box
			continue
		}
		for from.layer+1 < to.layer {
			lane := &node{lot: -1, band: from.band, layer: from.layer + 1, h: laneHeight}
			l.nodes = append(l.nodes, lane)
			l.link(e, from, lane)
			from = lane
		}
		l.link(e, from, to)
	}
	for _, n := range l.nodes {
		for len(l.layers) <= n.layer {
			l.layers = append(l.layers, nil)
		}
		l.layers[n.layer] = append(l.layers[n.layer], n)
		if n.lot >= 0 {
			n.h = max(boxHeight, portGap*float64(max(len(n.in), len(n.out))+1))
		}
	}
}

func (l *layout) link(e *drawn, from, to *node) {
	k := &link{from: from, to: to, edge: e}
	e.links = append(e.links, k)
	from.out, to.in = append(from.out, k), append(to.in, k)
}

// sort orders each column by the middle of its neighbours, to and fro.
func (l *layout) sort() {
	for _, col := range l.layers {
		for i, n := range col {
			n.order = float64(i)
		}
	}
	sweep := func(col []*node, near func(*node) []*link, far func(*link) *node) {
		want := map[*node]float64{}
		for _, n := range col {
			ks := near(n)
			if len(ks) == 0 {
				want[n] = n.order
				continue
			}
			for _, k := range ks {
				want[n] += far(k).order / float64(len(ks))
			}
		}
		slices.SortStableFunc(col, func(a, b *node) int { return cmp.Or(a.band-b.band, cmp.Compare(want[a], want[b])) })
		for i, n := range col {
			n.order = float64(i)
		}
	}
	for range 6 {
		for i := 1; i < len(l.layers); i++ {
			sweep(l.layers[i], func(n *node) []*link { return n.in }, func(k *link) *node { return k.from })
		}
		for i := len(l.layers) - 2; i >= 0; i-- {
			sweep(l.layers[i], func(n *node) []*link { return n.out }, func(k *link) *node { return k.to })
		}
	}
}

// place gives every node its height on the paper and every link its ends, band by band. A column gap grows with the links that cross it,
// so that they stay apart.
func (l *layout) place() {
	x, bands := 0.0, 0
	for _, col := range l.layers {
		links := 0
		for _, n := range col {
			links += len(n.out)
			bands = max(bands, n.band)
		}
		l.x = append(l.x, x)
		l.w = x + boxWidth
		x += boxWidth + gapMin + min(float64(links)*1.5, 120)
	}
	l.bands = make([]band, max(bands+1, len(l.bands)))
	for b := range l.bands {
		if b > 0 {
			l.h += between
		}
		h := l.placeBand(b, l.h)
		l.bands[b] = band{l.h, h}
		l.h += h
	}
	for _, n := range l.nodes {
		slices.SortStableFunc(n.in, func(a, b *link) int { return cmp.Compare(a.from.y, b.from.y) })
		slices.SortStableFunc(n.out, func(a, b *link) int { return cmp.Compare(a.to.y, b.to.y) })
		for i, k := range n.in {
			k.y1 = n.port(i, len(n.in))
		}
		for i, k := range n.out {
			k.y0 = n.port(i, len(n.out))
		}
	}
}

// placeBand places the nodes of one band below y. The tallest column is packed; going out from it, the nodes of each other column stand at the
// middle of their neighbours as far as they do not overlap.
func (l *layout) placeBand(b int, y float64) (height float64) {
	cols := make([][]*node, len(l.layers))
	widest := 0
	for i, col := range l.layers {
		h := 0.0
		for _, n := range col {
			if n.band == b {
				cols[i] = append(cols[i], n)
				n.y = h
				h += n.h + rowGap
			}
		}
		if h > height {
			height, widest = h, i
		}
	}
	for i := widest - 1; i >= 0; i-- {
		align(cols[i], func(n *node) []*link { return n.out }, func(k *link) *node { return k.to })
	}
	for i := widest + 1; i < len(cols); i++ {
		align(cols[i], func(n *node) []*link { return n.in }, func(k *link) *node { return k.from })
	}
	top := 0.0
	for _, n := range slices.Concat(cols...) {
		top = min(top, n.y)
	}
	for _, n := range slices.Concat(cols...) {
		n.y += y - top
		height = max(height, n.y-y+n.h+rowGap)
	}
	if height == 0 && len(l.bands) > 1 {
		height = rowGap // room to say that there is nothing
	}
	return height
}

// align moves a column's nodes, in their order and without overlap, as near as can be to the middle of their neighbours: least
// squares, by pooling neighbours that would be too close (M. Ayer and others, 1955).
func align(col []*node, near func(*node) []*link, far func(*link) *node) {
	type pool struct {
		sum float64 // of where its nodes want to be, each less what stands above it in the column
		n   int
	}
	var pools []pool
	above := make([]float64, len(col))
	for i, n := range col {
		if i > 0 {
			above[i] = above[i-1] + col[i-1].h + rowGap
		}
		want := n.y
		if ks := slices.DeleteFunc(slices.Clone(near(n)), func(k *link) bool { return far(k).band != n.band }); len(ks) > 0 {
			want = -n.h / 2
			for _, k := range ks {
				m := far(k)
				want += (m.y + m.h/2) / float64(len(ks))
			}
		}
		pools = append(pools, pool{want - above[i], 1})
		for last := len(pools) - 1; last > 0; last-- {
			a, b := pools[last-1], pools[last]
			if a.sum/float64(a.n) < b.sum/float64(b.n) {
				break
			}
			pools[last-1] = pool{a.sum + b.sum, a.n + b.n}
			pools = pools[:last]
		}
	}
	i := 0
	for _, p := range pools {
		for range p.n {
			col[i].y = p.sum/float64(p.n) + above[i]
			i++
		}
	}
}

// port is where the i-th of n links meets a node's side.
func (n *node) port(i, of int) float64 { return n.y + n.h*float64(i+1)/float64(of+1) }
