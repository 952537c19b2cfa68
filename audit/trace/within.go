package trace

import "grainward/records"

// Within is a trace cut to the lots no further than some steps from the subject, either way, and to a number of lots at most: the nearest
// ones. left is how many it leaves out. Only the lots and the paths between them are fewer; what is said of the whole, such as
// the account, stays that of the whole.
func (t *Trace) Within(steps, most int) (near *Trace, left int) {
	cut := *t
	cut.Lots, cut.Paths = nil, nil
	kept := map[records.LotCode]bool{}
	for far := 0; far <= steps; far++ {
		for _, l := range t.Lots {
			if (l.Up == far || l.Down == far) && !kept[l.Code] && len(kept) < most {
				kept[l.Code] = true
			}
		}
	}
	for _, l := range t.Lots {
		if kept[l.Code] {
			cut.Lots = append(cut.Lots, l)
		}
	}
	for _, p := range t.Paths {
		if kept[p.From] && kept[p.To] {
			cut.Paths = append(cut.Paths, p)
		}
	}
	return &cut, len(t.Lots) - len(cut.Lots)
}
