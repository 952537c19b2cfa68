package calendar

import (
	"fmt"
	"time"
)

// Date is a civil date: days since 1 January 1970, proleptic Gregorian, no zone.
type Date int32

// The ends of the calendar. They are the dates that four digits of year can
// write, so every Date in between survives being written and read.
const (
	FirstDate Date = -719162 // 0001-01-01
	LastDate  Date = 2932896 // 9999-12-31
)

const secondsPerDay = 86400

// NewDate gives the date of a year (1 to 9999), month and day of the month. It
// refuses days that do not exist rather than moving them as time.Date does: 30
// February in a plan is a mistake to be told, not 2 March.
func NewDate(y int, m time.Month, d int) (Date, error) {
	switch {
	case y < 1 || y > 9999:
		return 0, fmt.Errorf("date: year %d: want a year from 1 to 9999", y)
	case m < time.January || m > time.December:
		return 0, fmt.Errorf("date: month %d: want a month from 1 to 12", int(m))
	case d < 1 || d > daysIn(y, m):
		return 0, fmt.Errorf("date: %04d-%02d-%02d does not exist: %s %d has days 1 to %d", y, int(m), d, m, y, daysIn(y, m))
	}
	return civil(y, m, d), nil
}

// ParseDate reads the form String writes, 2026-03-08, and nothing else.
func ParseDate(text string) (Date, error) {
	var n [3]int
	for i, part := range [3]struct{ from, to int }{{0, 4}, {5, 7}, {8, 10}} {
		if len(text) != 10 || text[4] != '-' || text[7] != '-' || !digits(text[part.from:part.to], &n[i]) {
			return 0, fmt.Errorf("date %q: want year-month-day with ten characters, such as 2026-03-08", text)
		}
	}
	return NewDate(n[0], time.Month(n[1]), n[2])
}

// String is the ISO 8601 calendar date, 2026-03-08.
func (d Date) String() string {
	y, m, day := d.Civil()
	return fmt.Sprintf("%04d-%02d-%02d", y, int(m), day)
}

// Civil is the year, month and day of the month.
func (d Date) Civil() (y int, m time.Month, day int) { return d.utc().Date() }

// Weekday is the day of the week.
func (d Date) Weekday() time.Weekday { return d.utc().Weekday() }

// AddDays is the date n days later, or earlier when n is negative.
func (d Date) AddDays(n int) Date {
	switch {
	case n > int(LastDate)-int(d):
		return LastDate
	case n < int(FirstDate)-int(d):
		return FirstDate
	}
	return d + Date(n)
}

// AddMonths is the same day of the month n months later, or earlier when n is
// negative, clamped to the last day the month has: 31 August and six months is
// the last of February. This is how best-by dates are counted; recurrence rules
// skip a month without the day instead.
func (d Date) AddMonths(n int) Date {
	y, m, day := d.Civil()
	first, last := 12, 12*9999+11 // January of year 1, December of year 9999, as months
	at := 12*y + int(m) - 1
	switch {
	case n > last-at:
		return LastDate
	case n < first-at:
		return FirstDate
	}
	y, m = (at+n)/12, time.Month((at+n)%12+1)
	return civil(y, m, min(day, daysIn(y, m)))
}

// MarshalText writes the form of String, and refuses a number outside the
// calendar, which ParseDate could not read back.
func (d Date) MarshalText() ([]byte, error) {
	if d < FirstDate || d > LastDate {
		return nil, fmt.Errorf("date: day number %d is outside the calendar, %v to %v", int32(d), FirstDate, LastDate)
	}
	return []byte(d.String()), nil
}

// UnmarshalText reads the form ParseDate does.
func (d *Date) UnmarshalText(text []byte) error {
	v, err := ParseDate(string(text))
	if err != nil {
		return err
	}
	*d = v
	return nil
}

// utc is the date's midnight in UTC, where every day has 86,400 seconds: a place
// to do calendar arithmetic, never a moment to show.
func (d Date) utc() time.Time { return time.Unix(int64(d)*secondsPerDay, 0).UTC() }

// civil is NewDate for a date known to exist.
func civil(y int, m time.Month, d int) Date {
	return Date(floorDiv(int(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix()), secondsPerDay))
}

func daysIn(y int, m time.Month) int { return time.Date(y, m+1, 0, 0, 0, 0, 0, time.UTC).Day() }

func daysInYear(y int) int { return time.Date(y, time.December, 31, 0, 0, 0, 0, time.UTC).YearDay() }

// floorDiv divides rounding down, so that the second before 1970 is the day
// before 1970.
func floorDiv(a, b int) int {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// digits reads text made of ASCII digits only into n. strconv.Atoi also takes a
// sign, which none of the strict forms here have.
func digits(text string, n *int) bool {
	*n = 0
	for i := range len(text) {
		c := text[i]
		if c < '0' || c > '9' {
			return false
		}
		*n = *n*10 + int(c-'0')
	}
	return text != ""
}
