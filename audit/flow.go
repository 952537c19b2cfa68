package audit

import "grainward/records/lots"

// flow is what a lot takes over from what it was made from. It comes down the steps in the order in which they happened, so it
// depends on nothing but the lots upstream and what was received into them.
type flow struct {
	origin  origin // the one receipt it goes back to
	behind  behind // dry matter of grain
	receipt part   // how much of it goes back to a receipt
	organic part   // how much of it is organic
	shelf   *shelf
	broken  *Broken
}

// spring is a lot's flow before any step made it.
func (a *goodsAuditor) spring(i int) flow {
	l := a.f.Lots[i]
	w := flow{origin: none, behind: received(a.st.PlanAt(l.Begins), l), broken: a.own(i)}
	for _, t := range l.Handed {
		if t := a.f.Transfers[t]; t.Receipt != nil {
			for _, portion := range t.Portions {
				w.organic.add(portion.Mass, receivedShare(t.Receipt.Status))
			}
		}
	}
	if l.Receipt != nil {
		w.origin, w.receipt = origin(i), wholly()
	}
	return w
}

// pour takes what went into a step on to what came out of it, as far as that is wanted: the flows of the other lots are known.
func (a *goodsAuditor) pour(s int, wanted func(lot int) bool) {
	step := a.f.Steps[s]
	for _, in := range step.In {
		for _, o := range step.Out {
			if wanted(o.Lot) {
				a.flows[o.Lot].origin = a.flows[o.Lot].origin.with(a.flows[in.Lot].origin)
			}
		}
	}
	spread(a.f, step, func(lot int) **Broken { return &a.flows[lot].broken }, wanted)
	handOn(a.f, s, func(lot int) *behind { return &a.flows[lot].behind }, wanted)
	goesBack(step, func(lot int) *part { return &a.flows[lot].receipt }, wanted)
	shelve(a.st.PlanAt(step.Record.Happened), a.f, step, a.shelf, wanted)
	a.composed.set(s, a.j.of(func() { a.j.compose(step, func(lot int) *part { return &a.flows[lot].organic }, wanted) }))
}

func (a *goodsAuditor) shelf(lot int) **shelf { return &a.flows[lot].shelf }

// flood works out the flows of lots anew. What went into a step is the lot as it was by then, so a lot upstream that more was made of then or
// since is worked out anew too.
func (a *goodsAuditor) flood(anew *marks) (steps []int) {
	var taken marks
	for k := 0; k < len(anew.list); k++ { // it grows on the way
		for _, s := range a.f.Lots[anew.list[k]].Made {
			if taken.has(s) {
				continue
			}
			taken.add(s)
			for _, in := range a.f.Steps[s].In {
				if made := a.f.Lots[in.Lot].Made; len(made) > 0 && made[len(made)-1] >= s {
					anew.add(in.Lot)
				}
			}
		}
	}
	for _, i := range anew.list {
		a.flows[i] = a.spring(i)
	}
	for _, s := range taken.sorted() {
		a.pour(s, anew.has)
	}
	return taken.list
}

// trait is what a lot is, for those who look through all of them.
type trait uint8

const (
	byProduct trait = 1 << iota
	discarded
	present    // it is at a station
	turnedDown // it stands rejected
)

func (a *goodsAuditor) trait(l *lots.Lot) (t trait) {
	if a.j.isByProduct(l) {
		t |= byProduct
	}
	if disposal(l) != nil {
		t |= discarded
	}
	if l.Here > 0 {
		t |= present
	}
	if l.Rejected != nil {
		t |= turnedDown
	}
	return t
}
