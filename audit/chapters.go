package audit

import (
	"cmp"
	"math"
	"slices"
	"time"

	"grainward/records"
	"grainward/records/state"
)

// chapter is a stretch of a duty's work from one cut to the next: the windows that open in it, the sign-offs of that time, and what
// there is to find about them. A duty has thousands of windows and a sign-off, new or late, touches a few of them, so only those
// chapters are judged again that it can have changed.
//
// A cut is made where no window reaches across. A sign-off goes to a window that is open when it happens, so sign-offs before
// a cut can only go to windows before it, and those after to windows after. That is all the matching knows of order; what lies
// between two cuts can be judged apart. The last chapter has no end and is judged each time; it is cut where it has become long,
// as far as it lies long enough back.
type chapter struct {
	from    records.Instant // its cut; beginning for the first
	touches bool            // a window before it lapses at that very instant, so this is a cut only as long as nobody signed then
	seen    []*state.Record // the duty's sign-offs it was judged by: its own, and those after it that can repeat one of them

	windows, unplanned, findings int // where its own begin in the work's lists and the memo's
}

// Variables for tests only: what is settled sooner is cut more often.
var (
	settledAfter   = 7 * 24 * time.Hour  // sign-offs of the last week may still come in from a device that was off the network
	longestChapter = 28 * 24 * time.Hour // then a cut is made as soon as there can be one
)

// beginning is before everything; a day can be taken from it.
const beginning = records.Instant(math.MinInt64 / 2)

// author judges a duty and writes its chapters into a memo.
type author struct {
	*dutyJudge
	own  []*state.Record // the duty's sign-offs by the moment
	memo *dutyMemo
}

// goOn keeps those chapters of an older memo that stand and writes the others again. Where a cut does not stand, what lies on both sides
// of it is one stretch. Since some instant, which may be forever, windows and what sign-offs rely on may be others.
func (a *author) goOn(old *dutyMemo, since records.Instant) {
	m := a.memo
	m.work.chapters = make([]chapter, 0, len(old.work.chapters)+1)
	m.work.Windows = make([]Judged, 0, len(old.work.Windows)+roomAhead)
	m.findings = make([]*Finding, 0, len(old.findings)+roomAhead)
	for i, next, chapters := 0, 0, old.work.chapters; i < len(chapters); i = next {
		next = i + 1
		for next < len(chapters) && !(chapters[next].from < since && a.cuts(&chapters[next])) {
			next++
		}
		c, end := chapters[i], forever
		if next < len(chapters) {
			end = chapters[next].from
		}
		if seen := a.seen(c.from, end); next == i+1 && end < forever && slices.Equal(seen, c.seen) {
			to := chapters[next]
			m.begin(c.from, c.touches, seen) // not c.seen, of a list that may be kept for nothing else
			m.work.Windows = append(m.work.Windows, old.work.Windows[c.windows:to.windows]...)
			m.work.Unplanned = append(m.work.Unplanned, old.work.Unplanned[c.unplanned:to.unplanned]...)
			m.findings = append(m.findings, old.findings[c.findings:to.findings]...)
			continue
		}
		a.write(c.from, end, c.touches)
	}
}

// roomAhead is for what has come since the older memo; more costs a copy.
const roomAhead = 16

// cuts says whether a chapter's cut still stands, or does already, should the moment lie before the one when it was made.
func (a *author) cuts(c *chapter) bool {
	return c.from <= a.settled() && !(c.touches && len(during(a.own, c.from, c.from+1)) > 0)
}

func (a *author) settled() records.Instant { return a.at.Add(-settledAfter) }

// seen are the sign-offs that what lies between two cuts is judged by.
func (a *author) seen(from, end records.Instant) []*state.Record {
	if end < forever {
		end = end.Add(repeatWithin)
	}
	return during(a.own, from, end)
}

// during is what happened from one instant until before another.
func during(rs []*state.Record, from, end records.Instant) []*state.Record {
	before := func(r *state.Record, at records.Instant) int {
		if r.Happened < at {
			return -1
		}
		return 1
	}
	i, _ := slices.BinarySearchFunc(rs, from, before)
	n, _ := slices.BinarySearchFunc(rs[i:], end, before)
	return rs[i : i+n]
}

// begin begins the next chapter.
func (m *dutyMemo) begin(from records.Instant, touches bool, seen []*state.Record) {
	m.work.chapters = append(m.work.chapters, chapter{from, touches, seen, len(m.work.Windows), len(m.work.Unplanned), len(m.findings)})
}

// write judges what lies between two cuts, and makes the cuts that can be made there.
func (a *author) write(from, end records.Instant, touches bool) {
	m := a.memo
	ws := a.expander.windows(m.work.Duty, from, min(end-1, expandUntil(a.at)))
	signed := slices.Clone(during(a.own, from, end)) // windows keep stretches of it, which is no reason to keep the timeline's list
	m.work.Windows = slices.Grow(m.work.Windows, len(ws))
	for {
		n, cut, touching := nextCut(ws, signed, from, min(end-1, a.settled()))
		if n < 0 {
			a.chapter(from, end, touches, ws, signed)
			return
		}
		its := len(during(signed, from, cut))
		a.chapter(from, cut, touches, ws[:n], signed[:its])
		ws, signed, from, touches = ws[n:], signed[its:], cut, touching
	}
}

// chapter writes one.
func (a *author) chapter(from, end records.Instant, touches bool, ws []Window, signed []*state.Record) {
	m, d := a.memo, a.memo.work.Duty
	seen := a.seen(from, end)
	m.begin(from, touches, seen)
	checks := a.check(d, seen)
	judged := a.match(&m.work, ws, signed, checks)
	for i := range judged {
		a.settle(d, &judged[i])
	}
	m.findings = dueFindings(m.findings, d, judged)
	m.findings = signoffFindings(m.findings, a.st, checks, len(signed), a.at)
}

// nextCut is the first place for a cut by an instant that leaves a chapter of the usual length; n of the windows come before it. It is
// -1 when there is none. A window may lapse at the very instant of the cut as long as no sign-off happened then.
func nextCut(ws []Window, signed []*state.Record, from, by records.Instant) (n int, cut records.Instant, touches bool) {
	first := forever // before which there is nothing to make a chapter of
	if len(ws) > 0 {
		first = ws[0].Opens
	}
	if len(signed) > 0 {
		first = min(first, signed[0].Happened)
	}
	if first > by {
		return -1, 0, false
	}
	long := max(from, first).Add(longestChapter)
	reach := beginning
	for i := range ws {
		opens := ws[i].Opens
		if opens > by {
			break
		}
		if opens >= long {
			if reach < opens {
				break
			}
			if reach == opens && len(during(signed, opens, opens+1)) == 0 {
				return i, opens, true
			}
		}
		n, reach = i+1, max(reach, ws[i].Lapses)
	}
	if cut = max(long, reach+1); cut > by {
		return -1, 0, false
	}
	return n, cut, false
}

// Since is what of a duty's work reaches to an instant or beyond it; see Between.
func (w *Work) Since(from records.Instant) (windows []Judged, unplanned []*state.Record) {
	return w.Between(from, forever)
}

// Between is what of a duty's work a stretch of time can have to do with, its end not included: the windows that lapse after its beginning
// or at it and open before its end, with which go all that are due or were signed in it; and the sign-offs in it that answer none. Some
// windows that lapsed before are among them, but only of a chapter or two, however long the journal: those who show a day or ask what
// waits need not go through years.
func (w *Work) Between(from, to records.Instant) (windows []Judged, unplanned []*state.Record) {
	// What opens before a cut has lapsed by then, perhaps at that very instant.
	k, _ := slices.BinarySearchFunc(w.chapters, from, func(c chapter, at records.Instant) int { return cmp.Compare(c.from, at) })
	first := 0
	if k > 0 {
		first = w.chapters[k-1].windows
	}
	end, _ := slices.BinarySearchFunc(w.Windows, to, func(j Judged, at records.Instant) int { return cmp.Compare(j.Opens, at) })
	return w.Windows[min(first, end):end], during(w.Unplanned, from, to)
}
