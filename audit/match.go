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

// match gives sign-offs, in the order in which they happened, to windows in the order in which they open. Both must
// be sorted. It returns the windows with their sign-offs, and the sign-offs that fit none. room is
// for how many more windows the list of those answered is to have room.
func match(ws []Window, signoffs []signed, room int) (judged []Judged, unplanned []*state.Record) {
	judged = make([]Judged, len(ws), len(ws)+room)
	for i, w := range ws {
		judged[i].Window = w
	}
	answered := make([]bool, len(ws))
	recs := make([]*state.Record, len(signoffs)) // most windows have one sign-off; each takes its stretch of this list, not one of its own
	next := 0                                    // the first window that has not opened yet
	var waiting []int                            // windows that have opened, have not lapsed, and have no passing sign-off
	for i := range signoffs {
		r := signoffs[i].rec
		recs[i] = r
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
			unplanned = append(unplanned, r)
			continue
		}
		if named := signoffs[i].fact.Window; named != 0 {
			at = max(at, slices.IndexFunc(waiting, func(i int) bool { return ws[i].Opens == named && ws[i].opener != r }))
		}
		w := waiting[at]
		if j := &judged[w]; j.Signoffs == nil {
			j.Signoffs = recs[i : i+1 : i+1]
		} else {
			j.Signoffs = append(j.Signoffs, r)
		}
		if signoffs[i].checked.Passes {
			answered[w] = true
			waiting = slices.Delete(waiting, at, at+1)
		}
	}
	for i := range judged {
		j := &judged[i]
		switch n := len(j.Signoffs); {
		case answered[i] && n > 1:
			j.Result = PutRight
		case answered[i] && j.Signoffs[0].Happened <= j.Due:
			j.Result = Done
		case answered[i]:
			j.Result = Late
		case n > 0:
			j.Result = Failed
		}
	}
	return judged, unplanned
}

// settle says what became, by the moment, of a window no sign-off went to.
func (j *Judged) settle(at records.Instant, excused bool) {
	if j.Result != "" {
		return
	}
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
