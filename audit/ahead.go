package audit

import "grainward/records"

// Ahead is the duties with their windows that open after Until, the end of Work, and by a later moment: what the plan in force
// asks for further on, by task and station. Windows that follow an entry are not among them: the entry has yet to come.
func (r *Report) Ahead(until records.Instant) (out []*Work) {
	if until <= r.Until {
		return nil
	}
	exc := excuses(r.State, r.At)
	for _, d := range allDuties(r.State) {
		w := &Work{Duty: d}
		for _, x := range windows(r.State, d, r.At, r.Until+1, until) {
			j := Judged{Window: x}
			j.settle(r.At, cover(exc, d, &j.Window))
			w.Windows = append(w.Windows, j)
		}
		if len(w.Windows) > 0 {
			out = append(out, w)
		}
	}
	return out
}
