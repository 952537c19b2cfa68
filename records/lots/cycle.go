package lots

// cycles notes each lot that, by what was written, was made from itself: directly, or from what was made from it. Most
// journals have none, which taking away, again and again, all that was made from nothing left shows quickly.
func (f *folder) cycles() {
	waits := make([]int, len(f.Lots)) // steps that made the lot and are still there
	inputs := make([]int, len(f.Steps))
	var free []int
	for i, l := range f.Lots {
		if waits[i] = len(l.Made); waits[i] == 0 {
			free = append(free, i)
		}
		for _, s := range l.Spent {
			inputs[s]++
		}
	}
	away := func(step int) {
		for _, o := range distinct(f.Steps[step].Out, func(o Made) int { return o.Lot }) {
			if waits[o]--; waits[o] == 0 {
				free = append(free, o)
			}
		}
	}
	for s, n := range inputs {
		if n == 0 {
			away(s) // made from nothing that is known
		}
	}
	left := len(f.Lots)
	for ; len(free) > 0; left-- {
		lot := free[len(free)-1]
		free = free[:len(free)-1]
		for _, s := range f.Lots[lot].Spent {
			if inputs[s]--; inputs[s] == 0 {
				away(s)
			}
		}
	}
	if left == 0 {
		return
	}
	// Some lie on a cycle, the rest behind one. The step that closes it is the first by which a lot reaches itself.
	told := map[int]bool{}
	for s := range f.Steps {
		for _, o := range distinct(f.Steps[s].Out, func(o Made) int { return o.Lot }) {
			if waits[o] > 0 && !told[o] && f.reaches(o, s) {
				told[o] = true
				f.assume(f.Steps[s].Record, "cycle", f.Lots[o].Code, Place{}, 0)
			}
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
			if s > step {
				break
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

func distinct[T any](list []T, key func(T) int) (out []int) {
	seen := map[int]bool{}
	for _, x := range list {
		if k := key(x); !seen[k] {
			seen[k] = true
			out = append(out, k)
		}
	}
	return out
}
