package calendar

import "time"

// Between lists the instances of the rule from from to to, both included, oldest
// first. The rule runs from start: it has no instance before it, COUNT counts
// from it, and INTERVAL, and the parts the rule leaves open (the weekday of a
// bare FREQ=WEEKLY, the day of a bare FREQ=MONTHLY), are taken from it.
//
// Three readings of RFC 5545 are fixed here. A start that does not match the rule
// is not an instance and is not counted; the RFC leaves that undefined. A date
// that does not exist is skipped, not moved: FREQ=MONTHLY from 31 January has no
// instance in April. And BYWEEKNO chooses among the days of the calendar year the
// rule is in, so the days of week 1 that lie in December belong to the year that
// is ending; this matters only to INTERVAL and BYSETPOS.
//
// It always ends, at LastDate at the latest, also for a rule that matches nothing.
// The work is in proportion to the time from from to to; with COUNT, from start
// to to, as instances have to be counted.
func (r Rule) Between(start, from, to Date) []Date {
	if r.IsZero() {
		return nil
	}
	r.complete(start)
	from, to = max(from, start, FirstDate), min(to, r.until, LastDate)
	if from > to {
		return nil
	}
	// Periods have running numbers, so a rule without COUNT is entered at the last
	// of its periods that begins by from, however long ago it started.
	n := r.period(start)
	if r.count == 0 {
		n += (r.period(from) - n) / r.interval * r.interval
	}
	var out, set []Date
	counted := 0
	for ; n <= r.period(to); n += r.interval {
		first, last := r.span(n)
		if r.bySetPos.len == 0 { // positions need the whole period
			first, last = max(first, start), min(last, to)
			if r.count == 0 {
				first = max(first, from)
			}
		}
		set = r.choose(r.matching(set[:0], first, last))
		for _, d := range set {
			if d < start {
				continue
			}
			if counted++; r.count > 0 && counted > r.count || d > to {
				return out
			}
			if d >= from {
				out = append(out, d)
			}
		}
	}
	return out
}

// complete fills in what the rule leaves open from its start, as RFC 5545 section
// 3.3.10 asks. A rule with BYWEEKNO and no day takes the start's weekday, not all
// seven days of the week: the start is one day, and so is each instance.
func (r *Rule) complete(start Date) {
	_, m, day := start.Civil()
	if r.days > 0 || r.byMonthDay.len > 0 || r.byYearDay.len > 0 {
		return
	}
	switch {
	case r.freq == weekly, r.freq == yearly && r.byWeekNo.len > 0:
		r.byDay[start.Weekday()].add(0)
		r.days = 1
	case r.freq == yearly && r.byMonth.len == 0:
		r.byMonth.add(int(m))
		r.byMonthDay.add(day)
	case r.freq == yearly, r.freq == monthly:
		r.byMonthDay.add(day)
	}
}

// period numbers the day, week, month or year that d lies in.
func (r *Rule) period(d Date) int {
	switch y, m, _ := d.Civil(); r.freq {
	case weekly:
		// 1970 began on a Thursday; shift so that week boundaries fall on WKST.
		return floorDiv(int(d)+(int(time.Thursday)-int(r.wkst)+7)%7, 7)
	case monthly:
		return 12*y + int(m) - 1
	case yearly:
		return y
	default:
		return int(d)
	}
}

// span is the first and last day of period n. A week may reach over the ends of
// the calendar; Between cuts that off.
func (r *Rule) span(n int) (first, last Date) {
	switch r.freq {
	case weekly:
		first = Date(7*n - (int(time.Thursday)-int(r.wkst)+7)%7)
		return first, first + 6
	case monthly:
		return civil(n/12, time.Month(n%12+1), 1), civil(n/12, time.Month(n%12+1), daysIn(n/12, time.Month(n%12+1)))
	case yearly:
		return civil(n, time.January, 1), civil(n, time.December, 31)
	default:
		return Date(n), Date(n)
	}
}

func (r *Rule) matching(set []Date, first, last Date) []Date {
	for d := first; d <= last; d++ {
		if r.matches(d) {
			set = append(set, d)
		}
	}
	return set
}

// matches says whether d fits every BY part but BYSETPOS. The RFC describes the
// parts as expanding or limiting in turn; once complete has filled in the gaps,
// for dates the outcome is that a day of the period is in the set exactly when it
// passes each part, so no order of evaluation is needed. The tests hold this
// against an expansion in the RFC's own order.
func (r *Rule) matches(d Date) bool {
	t := d.utc()
	y, m, day := t.Date()
	if r.byMonth.len > 0 && !r.byMonth.has(int(m)) {
		return false
	}
	if r.byMonthDay.len > 0 && !r.byMonthDay.has(day) && !r.byMonthDay.has(day-daysIn(y, m)-1) {
		return false
	}
	if r.byYearDay.len > 0 && !r.byYearDay.has(t.YearDay()) && !r.byYearDay.has(t.YearDay()-daysInYear(y)-1) {
		return false
	}
	return (r.days == 0 || r.matchesDay(t)) && (r.byWeekNo.len == 0 || r.matchesWeek(d))
}

// matchesDay tests BYDAY. Ordinals count within the month for MONTHLY and when
// BYMONTH is given, else within the year.
func (r *Rule) matchesDay(t time.Time) bool {
	set := &r.byDay[t.Weekday()]
	if set.len == 0 || set.has(0) {
		return set.len > 0
	}
	y, m, at := t.Date()
	length := daysIn(y, m)
	if r.freq == yearly && r.byMonth.len == 0 {
		at, length = t.YearDay(), daysInYear(y)
	}
	return set.has((at-1)/7+1) || set.has(-((length-at)/7 + 1))
}

// matchesWeek tests BYWEEKNO: ISO 8601 weeks, but beginning on WKST. A week
// belongs to the year that has its fourth day, and is numbered by that day.
func (r *Rule) matchesWeek(d Date) bool {
	fourth := (d - Date((int(d.Weekday())-int(r.wkst)+7)%7) + 3).utc()
	week := (fourth.YearDay()-1)/7 + 1
	left := (daysInYear(fourth.Year()) - fourth.YearDay()) / 7 // weeks of that year still to come
	return r.byWeekNo.has(week) || r.byWeekNo.has(-left-1)
}

// choose applies BYSETPOS to the set of one period, in place.
func (r *Rule) choose(set []Date) []Date {
	if r.bySetPos.len == 0 {
		return set
	}
	chosen := set[:0]
	for i, d := range set {
		if r.bySetPos.has(i+1) || r.bySetPos.has(i-len(set)) {
			chosen = append(chosen, d)
		}
	}
	return chosen
}
