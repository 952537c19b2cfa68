package audit

import (
	"math"
	"slices"
	"time"

	"grainward/records"
	"grainward/records/state"
)

// past is the part of a duty's work that lies far enough back to be settled: every window that opened before a cut, the
// sign-offs before it, and what there is to find about them. A duty has thousands of windows and a new sign-off touches the last
// few, so the rest is judged once and gone on from.
//
// The cut is made where no window reaches across. A sign-off goes to a window that is open when it happens, so sign-offs before
// the cut can only have gone to windows before it, and those after to windows after. That is all the matching knows of order; the
// two parts can be judged apart. A sign-off that arrives late, from before the cut, is not in signoffs, and everything is judged again.
type past struct {
	cut       records.Instant // beginning when nothing is settled
	touches   bool            // a window before the cut lapses at that very instant
	from, to  records.Instant // the moments for which it holds: from <= at < to
	others    []uint64        // versions of what else it was judged by
	signoffs  []*state.Record // the duty's, before the cut
	windows   []Judged
	unplanned []*state.Record
	findings  []*Finding // of windows before the cut, and of sign-offs a day and more before it
	fresh     bool       // nobody has gone on from it yet, so what has room behind it may be filled
}

// Variables for tests only: what is settled sooner is cut more often.
var (
	settledAfter = 7 * 24 * time.Hour  // sign-offs of the last week may still come in from a device that was off the network
	longestTail  = 28 * 24 * time.Hour // then a new cut is made
)

// roomAhead is for the windows of the days ahead, up to three of them; more cost a copy.
const roomAhead = 16

// beginning is before everything; a day can be taken from it.
const beginning = records.Instant(math.MinInt64 / 2)

// holds says whether the past is still what it was. in are the duty's inputs, its own sign-offs first.
func (p *past) holds(in []state.Timeline, at records.Instant) bool {
	return p != nil && p.from <= at && at < p.to && p.cut.Add(longestTail) > at && !(p.touches && signedAt(in[0], p.cut)) && unchanged(p.others, in[1:]) && slices.Equal(p.signoffs, in[0].Until(p.cut-1))
}

func signedAt(own state.Timeline, at records.Instant) bool { return len(own.Between(at, at)) > 0 }

// settle judges a duty up to the last cut that lies a week before the moment.
func settle(st *state.State, d state.Duty, in []state.Timeline, exc []excuse, at records.Instant) *past {
	p := &past{cut: beginning, from: at, to: forever, fresh: true}
	ws := windows(st, d, at, beginning, at)
	n, cut, touches := lastCut(ws, in[0], at.Add(-settledAfter))
	if cut == beginning {
		return p
	}
	for _, tl := range in[1:] {
		p.others = append(p.others, tl.Version())
		if later := tl.Between(at+1, forever); len(later) > 0 {
			p.to = min(p.to, later[0].Happened) // written ahead of its time; it counts from then on
		}
	}
	p.cut, p.touches, p.signoffs = cut, touches, in[0].Until(cut-1)
	signoffs := checkAll(st, d, p.signoffs)
	w := judgeWindows(d, ws[:n], len(ws)-n+roomAhead, signoffs, exc, at)
	p.windows, p.unplanned = w.Windows, w.Unplanned
	p.findings = append(dueFindings(&w), signoffFindings(st, d, signoffs, w.Unplanned, beginning, cut.Add(-repeatWithin), at)...)
	return p
}

// lastCut is the latest opening by an instant that no earlier window reaches; n windows come before it. A window may lapse at the
// very instant of the cut as long as no sign-off happened then. A duty without windows can be cut anywhere.
func lastCut(ws []Window, own state.Timeline, by records.Instant) (n int, cut records.Instant, touches bool) {
	if len(ws) == 0 {
		return 0, by, false
	}
	cut = beginning
	reach := beginning
	for i := range ws {
		opens := ws[i].Opens
		if opens > by {
			break
		}
		if i > 0 && ws[i-1].Opens < opens && (reach < opens || reach == opens && !signedAt(own, opens)) {
			n, cut, touches = i, opens, reach == opens
		}
		reach = max(reach, ws[i].Lapses)
	}
	return n, cut, touches
}

// goOn judges what comes after the cut and puts the past before it.
func (p *past) goOn(st *state.State, d state.Duty, exc []excuse, at records.Instant) (Work, []*Finding) {
	// Failures of the last day before the cut may have been put right after it, so those sign-offs are looked at again.
	since := beginning
	if p.cut > beginning {
		since = p.cut.Add(-repeatWithin)
	}
	signoffs := checkAll(st, d, st.Signoffs(d).Between(since, at))
	n := slices.IndexFunc(signoffs, func(s signed) bool { return s.rec.Happened >= p.cut })
	if n < 0 {
		n = len(signoffs)
	}
	w := judgeWindows(d, windows(st, d, at, p.cut, expandUntil(at)), 0, signoffs[n:], exc, at)
	before, judged, unplanned := p.findings, p.windows, p.unplanned
	if !p.fresh {
		before, judged, unplanned = slices.Clip(before), slices.Clip(judged), slices.Clip(unplanned)
	}
	p.fresh = false
	found := append(before, dueFindings(&w)...)
	w.Windows, w.Unplanned = append(judged, w.Windows...), append(unplanned, w.Unplanned...)
	return w, append(found, signoffFindings(st, d, signoffs, w.Unplanned, since, forever, at)...)
}
