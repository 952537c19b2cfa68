package trace

import "slices"

// Cycles are the groups of lots that were made from themselves, directly or through others: each group in order of index,
// the groups by their first. Grain can not have been made from itself, so it is a slip in the records, or a lot code used twice;
// walks do not mind.
//
// Method: strongly connected components by R. Tarjan's algorithm (1972), with a stack of its own instead of recursion. A lot
// and a step are two nodes, so a component with two nodes is a lot that went into a step that made more of it.
func (g *Graph) Cycles() [][]int {
	c := &components{g: g, index: make([]int32, g.Lots+g.Steps), low: make([]int32, g.Lots+g.Steps), onStack: newSet(g.Lots + g.Steps)}
	for n := range int32(g.Lots) {
		if c.index[n] == 0 {
			c.visit(n)
		}
	}
	for _, group := range c.groups {
		slices.Sort(group)
	}
	slices.SortFunc(c.groups, func(a, b []int) int { return a[0] - b[0] })
	return c.groups
}

type components struct {
	g       *Graph
	index   []int32 // order of discovery from 1; 0 not yet seen
	low     []int32
	onStack set
	stack   []int32
	next    int32
	groups  [][]int
}

// frame is a node being visited and its next edge.
type frame struct{ node, at, end int32 }

func (c *components) enter(n int32) frame {
	c.next++
	c.index[n], c.low[n] = c.next, c.next
	c.stack = append(c.stack, n)
	c.onStack.add(n)
	if n < int32(c.g.Lots) {
		from, to := c.g.Into.of(n)
		return frame{n, from, to}
	}
	from, to := c.g.Gave.of(n - int32(c.g.Lots))
	return frame{n, from, to}
}

func (c *components) target(n, at int32) int32 {
	if n < int32(c.g.Lots) {
		return c.g.Into.To[at] + int32(c.g.Lots)
	}
	return c.g.Gave.To[at]
}

func (c *components) visit(root int32) {
	frames := []frame{c.enter(root)}
	for len(frames) > 0 {
		f := &frames[len(frames)-1]
		if f.at < f.end {
			to := c.target(f.node, f.at)
			f.at++
			switch {
			case c.index[to] == 0:
				frames = append(frames, c.enter(to))
			case c.onStack.has(to):
				c.low[f.node] = min(c.low[f.node], c.index[to])
			}
			continue
		}
		n := f.node
		frames = frames[:len(frames)-1]
		if len(frames) > 0 {
			up := frames[len(frames)-1].node
			c.low[up] = min(c.low[up], c.low[n])
		}
		if c.low[n] == c.index[n] {
			c.close(n)
		}
	}
}

// close takes a component off the stack, and keeps its lots when there is more than the one node.
func (c *components) close(n int32) {
	at := len(c.stack) - 1
	for c.stack[at] != n {
		at--
	}
	if len(c.stack)-at > 1 {
		var group []int
		for _, m := range c.stack[at:] {
			if m < int32(c.g.Lots) {
				group = append(group, int(m))
			}
		}
		c.groups = append(c.groups, group)
	}
	for _, m := range c.stack[at:] {
		c.onStack[uint32(m)/64] &^= 1 << (uint32(m) % 64)
	}
	c.stack = c.stack[:at]
}
