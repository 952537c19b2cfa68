package trace

import "slices"

// shares are the expected shares of the lots of a walk, beside Walk.Lots; see the package comment.
type shares struct {
	of        []float64
	estimated []bool // rests on what a mixed station is computed to have given out
}

// mix is what is known of a lot so far, side by side because they are read together.
type mix struct{ in, subject float64 }

// arrival is mass received from outside into a lot that steps also made, before a step.
type arrival struct {
	lot  int32
	step int32 // the first step that comes after it
	mass float64
}

// sharesForward goes along the steps in the order in which they happened. A lot is taken as mixed, at each step, as all that
// had entered it by then. Arrivals are what was received into lots that steps made as well.
func (g *Graph) sharesForward(w *Walk, subject []int32, arrivals []arrival) shares {
	steps := w.ordered()
	lot := make([]mix, g.Lots) // what entered each lot so far, and how much of it was subject goods
	estimated, fixed := newSet(g.Lots), newSet(g.Lots)
	for _, l := range subject {
		fixed.add(l)
		lot[l] = mix{1, 1}
	}
	for _, l := range w.Lots {
		if fixed.has(l) {
			continue
		}
		// Made by steps that took nothing of the subject: mixed in at their time, as if received.
		from, to := g.MadeBy.of(l)
		for k := from; k < to; k++ {
			if s := g.MadeBy.To[k]; !w.steps.has(s) {
				arrivals = append(arrivals, arrival{l, s, float64(g.MadeBy.Mass[k])})
			}
		}
	}
	slices.SortStableFunc(arrivals, func(a, b arrival) int { return int(a.step) - int(b.step) })
	arrive := func(before int32) {
		for len(arrivals) > 0 && arrivals[0].step <= before {
			if a := arrivals[0]; !fixed.has(a.lot) {
				lot[a.lot].in += a.mass
			}
			arrivals = arrivals[1:]
		}
	}
	for _, s := range steps {
		arrive(s)
		var mass, ours float64
		est := false
		from, to := g.Took.of(s)
		for k := from; k < to; k++ {
			l, m := g.Took.To[k], float64(g.Took.Mass[k])
			mass += m
			if x := lot[l]; x.in > 0 && x.subject > 0 {
				ours += float64(m * (x.subject / x.in))
				est = est || g.Took.Estimated[k] || estimated.has(l)
			} else if g.Took.Estimated[k] {
				est = true // how much of the others came out decides the share as well
			}
		}
		share := 0.0
		if mass > 0 {
			share = ours / mass
		}
		from, to = g.Gave.of(s)
		for k := from; k < to; k++ {
			l, m := g.Gave.To[k], float64(g.Gave.Mass[k])
			if fixed.has(l) {
				continue
			}
			lot[l].in += m
			lot[l].subject += float64(m * share)
			if est {
				estimated.add(l)
			}
		}
	}
	arrive(int32(g.Steps))
	out := shares{make([]float64, len(w.Lots)), make([]bool, len(w.Lots))}
	for i, l := range w.Lots {
		if m := lot[l]; m.in > 0 {
			out.of[i] = min(m.subject/m.in, 1)
		}
		out.estimated[i] = estimated.has(l)
	}
	return out
}

// sharesBack goes along the steps against the order in which they happened: how much of each lot is expected to have gone
// into the subject.
func (g *Graph) sharesBack(w *Walk, subject []int32, entered func(int32) float64) shares {
	steps := w.ordered()
	slices.Reverse(steps)
	went := make([]float64, g.Lots) // of each lot: mass that went into the subject
	estimated, fixed := newSet(g.Lots), newSet(g.Lots)
	for _, l := range subject {
		fixed.add(l)
	}
	share := func(l int32) float64 {
		if fixed.has(l) {
			return 1
		}
		if e := entered(l); e > 0 {
			return min(went[l]/e, 1)
		}
		return 0
	}
	for _, s := range steps {
		var mass, into float64
		est := false
		from, to := g.Gave.of(s)
		for k := from; k < to; k++ {
			l, m := g.Gave.To[k], float64(g.Gave.Mass[k])
			mass += m
			into += float64(m * share(l))
			est = est || estimated.has(l) && !fixed.has(l)
		}
		if mass <= 0 {
			continue
		}
		part := into / mass
		from, to = g.Took.of(s)
		for k := from; k < to; k++ {
			l := g.Took.To[k]
			went[l] += float64(float64(g.Took.Mass[k]) * part)
			if (est || g.Took.Estimated[k]) && !fixed.has(l) {
				estimated.add(l)
			}
		}
	}
	out := shares{make([]float64, len(w.Lots)), make([]bool, len(w.Lots))}
	for i, l := range w.Lots {
		out.of[i], out.estimated[i] = share(l), estimated.has(l)
	}
	return out
}

// Expected is, for each lot of a forward walk from some lots, how much of it is expected to be goods of those lots, by mass, when all that
// entered a lot came out of steps: 0 to 1, beside w.Lots.
func (g *Graph) Expected(w *Walk, from []int32) []float64 { return g.sharesForward(w, from, nil).of }
