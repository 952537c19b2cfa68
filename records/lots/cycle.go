package lots

// cycles notes each lot that, by what was written, a step made from itself: directly, or from what was made from it. The step that
// closes a cycle is the first by which a lot reaches itself. A lot that nothing was made of yet can not, which is nearly all.
func (f *folder) cycles(step int) {
	for _, o := range f.Steps[step].Out {
		if l := f.Lots[o.Lot]; len(l.Spent) > 0 && !l.cycle && f.reaches(o.Lot, step) {
			f.own(o.Lot).cycle = true
			f.assume(f.Steps[step].Record, "cycle", l.Code, Place{}, 0)
		}
	}
}

// reaches says whether a lot came to be an input of a step, by steps up to it.
func (f *folder) reaches(lot, step int) bool {
	seen := map[int]bool{lot: true}
	for next := []int{lot}; len(next) > 0; {
		l := f.Lots[next[len(next)-1]]
		next = next[:len(next)-1]
		for _, s := range l.Spent {
			if s == step {
				return true
			}
			for _, o := range f.Steps[s].Out {
				if !seen[o.Lot] {
					seen[o.Lot] = true
					next = append(next, o.Lot)
				}
			}
		}
	}
	return false
}
