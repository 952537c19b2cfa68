package state

import (
	"slices"

	"grainward/records"
)

// Stretch is a stretch of time, both ends included.
type Stretch struct{ From, To records.Instant }

// Count is how many records happened in a stretch of time; what it costs hardly grows with the timeline.
func (t Timeline) Count(s Stretch) int {
	if s.To < s.From {
		return 0
	}
	return t.after(s.To).records() - t.before(s.From).records()
}

// records is how many come before a place.
func (p place) records() int { return p.base + p.added - p.removed }

// before is the place in front of the records with Happened >= at.
func (t Timeline) before(at records.Instant) place {
	if at == earliest {
		return place{}
	}
	return t.after(at - 1)
}

const (
	earliest = records.Instant(-1 << 63)
	latest   = records.Instant(1<<63 - 1)
)

// Newest are records of several timelines taken together, the newest first: of those in stretches of time, which are in order and do not
// overlap, at most so many after skipping so many. Neither the length of the timelines nor how many are skipped says what it costs.
func Newest(lines []Timeline, of []Stretch, skip, most int) (out []*Record) {
	for _, s := range slices.Backward(of) {
		n := count(lines, s)
		if skip >= n {
			skip -= n
			continue
		}
		out = append(out, newest(lines, s, skip, min(most-len(out), n-skip))...)
		if skip = 0; len(out) == most {
			break
		}
	}
	return out
}

func count(lines []Timeline, s Stretch) (n int) {
	for _, t := range lines {
		n += t.Count(s)
	}
	return n
}

// newest is Newest of one stretch that has as many. By halving it, it is made shorter until it has those that are wanted and only such
// others as happened at the same instants.
func newest(lines []Timeline, s Stretch, skip, most int) (out []*Record) {
	if most <= 0 {
		return nil
	}
	from, to := latest, earliest // of what there is, so that halving begins close to it
	for _, t := range lines {
		if t.Len() > 0 {
			from, to = min(from, t.First().Happened), max(to, t.Last(latest).Happened)
		}
	}
	s = Stretch{max(s.From, from), min(s.To, to)}
	later := func(at records.Instant) int { return count(lines, Stretch{at, s.To}) } // how many happened then or later
	upTo := firstAt(s, func(at records.Instant) bool { return at == s.To || later(at+1) <= skip })
	since := firstAt(s, func(at records.Instant) bool { return at == s.To || later(at+1) < skip+most })
	if upTo < s.To {
		skip -= later(upTo + 1)
	}
	for _, t := range lines {
		out = append(out, t.Between(since, upTo)...)
	}
	slices.SortFunc(out, func(a, b *Record) int { return order(b, a) })
	return out[skip : skip+most]
}

// firstAt is the first instant of a stretch at which something is so that is so ever after, and at its end.
func firstAt(s Stretch, is func(records.Instant) bool) records.Instant {
	for s.From < s.To {
		if mid := s.From + (s.To-s.From)/2; is(mid) {
			s.To = mid
		} else {
			s.From = mid + 1
		}
	}
	return s.To
}
