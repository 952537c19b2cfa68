package audit

import (
	"slices"

	"grainward/records"
	"grainward/records/state"
)

// Result is what became of a window.
type Result string

const (
	Done     Result = "done"
	Late     Result = "late"
	PutRight Result = "put right"
	Failed   Result = "failed"
	Missed   Result = "missed"
	Excused  Result = "excused"
	Coming   Result = "coming"
	Open     Result = "open"
	Overdue  Result = "overdue"
)

// Judged is a window with the sign-offs that went to it, in order; the last one passed if any did.
type Judged struct {
	Window
	Result   Result
	Signoffs []*state.Record
}

// Last is the sign-off that decided the window, or nil.
func (j *Judged) Last() *state.Record {
	if len(j.Signoffs) == 0 {
		return nil
	}
	return j.Signoffs[len(j.Signoffs)-1]
}

// Waiting says whether the window can still be answered at a moment.
func (j *Judged) Waiting(at records.Instant) bool {
	return j.fits(at) && j.Result != Done && j.Result != Late && j.Result != PutRight
}

// match puts windows, in the order in which they open, behind those of a duty's work and gives them sign-offs, in the order in which
// they happened; checks are those of the sign-offs. It returns the windows with what was answered of them, and notes which
// sign-offs fit none.
func (j *dutyJudge) match(w *Work, ws []Window, signed []*state.Record, checks []signed) []Judged {
	first := len(w.Windows)
	for i := range ws {
		w.Windows = append(w.Windows, Judged{Window: ws[i]})
	}
	judged := w.Windows[first:]
	next := 0                // the first window that has not opened yet
	waiting := j.waiting[:0] // windows that have opened, have not lapsed, and have no passing sign-off
	for i, r := range signed {
		for next < len(ws) && ws[next].Opens <= r.Happened {
			waiting, next = append(waiting, next), next+1
		}
		lapsed := func(i int) bool { return ws[i].Lapses < r.Happened }
		if slices.ContainsFunc(waiting, lapsed) {
			waiting = slices.DeleteFunc(waiting, lapsed)
		}
		// An entry that opened a window is not what the window asks for.
		at := slices.IndexFunc(waiting, func(i int) bool { return ws[i].opener != r })
		if at < 0 {
			checks[i].unplanned, w.Unplanned = true, append(w.Unplanned, r)
			continue
		}
		if named := checks[i].window; named != 0 {
			at = max(at, slices.IndexFunc(waiting, func(i int) bool { return ws[i].Opens == named && ws[i].opener != r }))
		}
		to := &judged[waiting[at]]
		if to.Signoffs == nil {
			to.Signoffs = signed[i : i+1 : i+1] // most windows have one
		} else {
			to.Signoffs = append(to.Signoffs, r)
		}
		to.Result = Failed
		if checks[i].checked.Passes {
			to.pass()
			waiting = slices.Delete(waiting, at, at+1)
		}
	}
	j.waiting = waiting
	return judged
}

// pass says what became of a window whose last sign-off passed.
func (j *Judged) pass() {
	switch {
	case len(j.Signoffs) > 1:
		j.Result = PutRight
	case j.Last().Happened <= j.Due:
		j.Result = Done
	default:
		j.Result = Late
	}
}

// settle says what became, by the moment, of a window no sign-off went to.
func (j *dutyJudge) settle(d state.Duty, w *Judged) {
	if w.Result == "" {
		w.settle(j.at, cover(j.exc, d, &w.Window))
	}
}

func (j *Judged) settle(at records.Instant, excused bool) {
	switch {
	case j.Rest || excused:
		j.Result = Excused
	case at > j.Lapses:
		j.Result = Missed
	case at > j.Due:
		j.Result = Overdue
	case at >= j.Opens:
		j.Result = Open
	default:
		j.Result = Coming
	}
}
