package calendar

// WorkingDays says on which dates people work: the days of the week that are
// worked, less the dates on which the place is closed. Time limits such as the 7
// working days for reviewing records in 21 CFR 117.165(a)(4)(i) are counted on it.
type WorkingDays struct {
	Weekdays [7]bool       // indexed by time.Weekday; true where the day is worked
	Closed   map[Date]bool // dates not worked although their weekday is; read only
}

// Works says whether d is a working day.
func (w WorkingDays) Works(d Date) bool { return w.Weekdays[d.Weekday()] && !w.Closed[d] }

// Add is the n-th working day after d, or before it when n is negative; d itself
// is never counted, worked or not, and n of 0 answers d.
//
// When no weekday is worked at all there is no such day. Add then counts every
// date as if it were worked: a time limit that comes too early is noticed and put
// right, one that never comes hides every late record. At the ends of the
// calendar it stops at FirstDate or LastDate.
func (w WorkingDays) Add(d Date, n int) Date {
	if w.Weekdays == [7]bool{} {
		return d.AddDays(n)
	}
	step, end := 1, LastDate
	if n < 0 {
		step, end = -1, FirstDate
	}
	for n != 0 && d != end {
		d = d.AddDays(step)
		if w.Works(d) {
			n -= step
		}
	}
	return d
}
