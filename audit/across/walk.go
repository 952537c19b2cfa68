package across

import (
	"cmp"
	"slices"

	"grainward/audit/trace"
	"grainward/records"
	"grainward/records/company"
	"grainward/records/lots"
)

// Trace is what the records of all plants say about a subject of one of them.
type Trace struct {
	Plant   company.PlantCode
	Subject trace.Subject
	Dir     trace.Direction
	Legs    []Leg // the subject's plant first, then in the order in which the walk came to them
	Joins   []*Join
	Sent    []*Sent // from lots of the trace, forward
	Got     []*Got  // into lots of the trace, back

	c *Company
}

// Leg is what lies at one plant.
type Leg struct {
	Plant company.PlantCode
	Lots  []Lot // by plants and steps away, back first, then by code

	starts trace.Starts // the lots by which the trace comes into it
}

// Detail is all that a trace within the leg's plant tells of it: the ways between lots, movements, contacts, documents. What it says of steps,
// shares and the account is counted from the lots by which the trace comes into the plant.
func (t *Trace) Detail(leg *Leg) *trace.Trace {
	p := t.c.Plant(leg.Plant)
	return trace.MakeFrom(p.State, p.Floor, p.Graph, t.Subject, t.Dir, leg.starts)
}

// Lot is one lot of a trace.
type Lot struct {
	*lots.Lot
	// Hops and Steps say how far it is from the subject: plants between, and of the ways with the fewest, steps within plants. Up is against
	// the way of the goods, Down along it; -1 when it does not lie that way.
	Up, Down Far
}

// Far is a distance.
type Far struct{ Hops, Steps int }

var nowhere = Far{-1, -1}

// Is says whether the lot lies that way at all.
func (f Far) Is() bool { return f.Hops >= 0 }

// Subject says whether the trace starts from the lot.
func (l *Lot) Subject() bool { return l.Up == Far{} || l.Down == Far{} }

// Trace follows a subject of one plant through all. Its errors are those of trace.Resolve.
func (c *Company) Trace(at company.PlantCode, s trace.Subject, dir trace.Direction) (*Trace, error) {
	i, ok := c.index[at]
	if !ok || c.Plants[i].Floor == nil {
		return nil, &records.Error{Kind: records.NotFound, What: "there is no plant " + string(at) + " whose records can be looked at here"}
	}
	s, start, err := trace.Resolve(c.Plants[i].State, c.Plants[i].Floor, s)
	if err != nil {
		return nil, err
	}
	t := &Trace{Plant: at, Subject: s, Dir: dir, c: c}
	w := &walker{c: c, far: [2]map[node]Far{{}, {}}, starts: map[int]*trace.Starts{i: {Subject: start}}, joins: map[int]bool{}}
	if dir != trace.Forward {
		w.walk(i, start, 0)
	}
	if dir != trace.Back {
		w.walk(i, start, 1)
	}
	w.legs(t, i)
	for k := range c.Joins {
		if w.joins[k] {
			t.Joins = append(t.Joins, &c.Joins[k])
		}
	}
	slices.SortStableFunc(t.Joins, func(x, y *Join) int { return cmp.Compare(x.Receipt.Record.Happened, y.Receipt.Record.Happened) })
	w.loose(t)
	return t, nil
}

// walker walks over all plants: within one by its graph, from one to another by joins.
type walker struct {
	c      *Company
	far    [2]map[node]Far // back, forward
	order  []int           // plants in the order the walk came to them
	starts map[int]*trace.Starts
	joins  map[int]bool
}

// walk goes plant by plant, fewest plants between first. way is 0 back, 1 forward.
func (w *walker) walk(plant int, start []int32, way int) {
	far := w.far[way]
	next := map[int]map[int32]int{plant: {}} // plant -> lots to start from, and steps behind them
	for _, l := range start {
		next[plant][l] = 0
	}
	for hops := 0; len(next) > 0; hops++ {
		now := next
		next = map[int]map[int32]int{}
		for _, p := range sortedKeys(now) {
			if !slices.Contains(w.order, p) {
				w.order = append(w.order, p)
			}
			w.startFrom(p, now[p], way)
			for _, reached := range w.within(p, now[p], far, hops, way) {
				w.over(reached, way, func(join, to, lot int) {
					w.joins[join] = true
					n := node{to, lot}
					if _, seen := far[n]; seen {
						return
					}
					if next[to] == nil {
						next[to] = map[int32]int{}
					}
					steps := far[reached].Steps
					if was, there := next[to][int32(lot)]; !there || steps < was {
						next[to][int32(lot)] = steps
					}
				})
			}
		}
	}
}

// startFrom notes by which lots the walk comes into a plant, in order.
func (w *walker) startFrom(p int, from map[int32]int, way int) {
	s := w.starts[p]
	if s == nil {
		s = &trace.Starts{}
		w.starts[p] = s
	}
	if way == 0 {
		s.Back = append(s.Back, sortedKeys(from)...)
	} else {
		s.Ahead = append(s.Ahead, sortedKeys(from)...)
	}
}

func sortedKeys[K cmp.Ordered, V any](m map[K]V) (out []K) {
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

// within walks inside a plant from lots, those with the fewest steps behind them first, and gives what was not reached before.
func (w *walker) within(p int, from map[int32]int, far map[node]Far, hops, way int) (reached []node) {
	g := w.c.Plants[p].Graph
	walk := g.Back
	if way == 1 {
		walk = g.Forward
	}
	byBehind := map[int][]int32{}
	for lot, behind := range from {
		byBehind[behind] = append(byBehind[behind], lot)
	}
	for _, behind := range sortedKeys(byBehind) {
		found := walk(byBehind[behind])
		for k, lot := range found.Lots {
			n, here := node{p, int(lot)}, Far{hops, behind + int(found.Distance[k])}
			was, seen := far[n]
			if !seen {
				reached = append(reached, n)
			}
			if !seen || was.Hops == hops && here.Steps < was.Steps {
				far[n] = here
			}
		}
	}
	slices.SortFunc(reached, func(a, b node) int { return cmp.Compare(a.lot, b.lot) })
	return reached
}

// over visits the joins of a lot that lead on, with the plant and lot at their other end.
func (w *walker) over(n node, way int, visit func(join, plant, lot int)) {
	if way == 1 {
		for _, k := range w.c.from[n] {
			if j := &w.c.Joins[k]; j.got >= 0 {
				visit(k, w.c.index[j.To], j.got)
			}
		}
		return
	}
	for _, k := range w.c.to[n] {
		j := &w.c.Joins[k]
		for _, lot := range j.gave {
			visit(k, w.c.index[j.From], lot)
		}
	}
}

// legs gathers what was reached by plant.
func (w *walker) legs(t *Trace, first int) {
	if !slices.Contains(w.order, first) {
		w.order = append(w.order, first)
	}
	by := map[int][]Lot{}
	for i, p := range w.c.Plants {
		if p.Floor == nil {
			continue
		}
		for k, lot := range p.Floor.Lots {
			up, isUp := w.far[0][node{i, k}]
			down, isDown := w.far[1][node{i, k}]
			if !isUp && !isDown {
				continue
			}
			l := Lot{lot, nowhere, nowhere}
			if isUp {
				l.Up = up
			}
			if isDown {
				l.Down = down
			}
			by[i] = append(by[i], l)
		}
	}
	for _, i := range w.order {
		ls := by[i]
		slices.SortFunc(ls, func(a, b Lot) int {
			return cmp.Or(first3(a, b), cmp.Compare(a.Code, b.Code))
		})
		leg := Leg{Plant: w.c.Plants[i].Code, Lots: ls}
		if s := w.starts[i]; s != nil {
			leg.starts = *s
		}
		t.Legs = append(t.Legs, leg)
	}
}

// first3 orders the farthest upstream first, then the subject, then the farthest downstream last.
func first3(a, b Lot) int {
	rank := func(l Lot) (int, int) {
		switch {
		case l.Subject():
			return 0, 0
		case l.Down.Is():
			return l.Down.Hops, l.Down.Steps
		}
		return -l.Up.Hops, -l.Up.Steps
	}
	ah, as := rank(a)
	bh, bs := rank(b)
	return cmp.Or(cmp.Compare(ah, bh), cmp.Compare(as, bs))
}

// loose are the handovers and receipts of lots on the way that lead to no other plant although they should.
func (w *walker) loose(t *Trace) {
	for i := range w.c.Sent {
		s := &w.c.Sent[i]
		p := w.c.index[s.From]
		for _, lot := range w.c.Plants[p].given(s.Handover) {
			if _, on := w.far[1][node{p, lot}]; on {
				t.Sent = append(t.Sent, s)
				break
			}
		}
	}
	for i := range w.c.Got {
		g := &w.c.Got[i]
		p := w.c.index[g.To]
		if _, on := w.far[0][node{p, w.c.Plants[p].Floor.Index(g.Lot)}]; on {
			t.Got = append(t.Got, g)
		}
	}
}
