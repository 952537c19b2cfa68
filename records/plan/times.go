package plan

import (
	"fmt"
	"strconv"
	"strings"

	"grainward/records/calendar"
)

const (
	maxSpanDays    = 36_600 // a hundred years: past any retention
	maxDayTimeDays = 366
)

var spanUnits = []struct {
	letter  string
	seconds int64
}{{"d", 86_400}, {"h", 3_600}, {"m", 60}}

// ParseSpan reads days, hours and minutes, largest first, one space between: "45m", "6h", "1d 12h". A part may pass
// the next unit ("90m"); a needless zero part, a sign or a fraction is refused. "0m" is no time at all.
func ParseSpan(text string) (Span, error) {
	bad := func() (Span, error) {
		return 0, fmt.Errorf("write a length of time in days, hours and minutes, such as 45m, 6h, 2d or 1d 12h")
	}
	if text == "0m" {
		return 0, nil
	}
	var total int64
	unit := 0
	for part := range strings.SplitSeq(text, " ") {
		if len(part) < 2 || len(part) > 9 || part[0] < '1' || part[0] > '9' {
			return bad()
		}
		for unit < len(spanUnits) && spanUnits[unit].letter != part[len(part)-1:] {
			unit++
		}
		n, err := strconv.ParseUint(part[:len(part)-1], 10, 32)
		if err != nil || unit == len(spanUnits) {
			return bad()
		}
		total += int64(n) * spanUnits[unit].seconds
		unit++
	}
	if total > maxSpanDays*86_400 {
		return 0, fmt.Errorf("at most %dd", maxSpanDays)
	}
	return Span(total), nil
}

// String is the span's one canonical spelling, in the form of ParseSpan.
func (s Span) String() string {
	if s == 0 {
		return "0m"
	}
	var parts []string
	rest := int64(s)
	for _, u := range spanUnits {
		if n := rest / u.seconds; n > 0 {
			parts = append(parts, strconv.FormatInt(n, 10)+u.letter)
			rest -= n * u.seconds
		}
	}
	return strings.Join(parts, " ")
}

// MarshalText writes the form of String, and refuses what ParseSpan could not read back.
func (s Span) MarshalText() ([]byte, error) {
	if s < 0 || s%60 != 0 || s > maxSpanDays*86_400 {
		return nil, fmt.Errorf("span: %d seconds: want whole minutes from 0m to %dd", int64(s), maxSpanDays)
	}
	return []byte(s.String()), nil
}

// UnmarshalText is ParseSpan.
func (s *Span) UnmarshalText(text []byte) error {
	v, err := ParseSpan(string(text))
	if err != nil {
		return err
	}
	*s = v
	return nil
}

// ParseDayTime reads a time of day, and after a space the number of days later: "05:30", "06:00 +1".
func ParseDayTime(text string) (DayTime, error) {
	bad := func() (DayTime, error) {
		return DayTime{}, fmt.Errorf("write a time of day such as 05:30, or 06:00 +1 for the day after")
	}
	clock, days, later := strings.Cut(text, " ")
	c, err := calendar.ParseClock(clock)
	if err != nil {
		return bad()
	}
	d := DayTime{Clock: c}
	if !later {
		return d, nil
	}
	n, err := strconv.Atoi(strings.TrimPrefix(days, "+"))
	if err != nil || n < 1 || days != "+"+strconv.Itoa(n) {
		return bad()
	}
	if n > maxDayTimeDays {
		return DayTime{}, fmt.Errorf("at most +%d days", maxDayTimeDays)
	}
	d.Days = n
	return d, nil
}

// String is the form of ParseDayTime.
func (d DayTime) String() string {
	if d.Days == 0 {
		return d.Clock.String()
	}
	return d.Clock.String() + " +" + strconv.Itoa(d.Days)
}

// MarshalText writes the form of String, and refuses what ParseDayTime could not read back.
func (d DayTime) MarshalText() ([]byte, error) {
	if d.Days < 0 || d.Days > maxDayTimeDays {
		return nil, fmt.Errorf("day time: %d days later: want 0 to %d", d.Days, maxDayTimeDays)
	}
	if _, err := d.Clock.MarshalText(); err != nil {
		return nil, err
	}
	return []byte(d.String()), nil
}

// UnmarshalText is ParseDayTime.
func (d *DayTime) UnmarshalText(text []byte) error {
	v, err := ParseDayTime(string(text))
	if err != nil {
		return err
	}
	*d = v
	return nil
}
