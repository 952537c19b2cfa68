package calendar

import "fmt"

// Clock is a time of day on the wall: seconds since midnight, 0 to 86,399. It is
// what the dial shows, not time elapsed; on the days of a clock change the two
// differ.
type Clock int32

// ParseClock reads a time of day as String writes it: 05:30, or 05:30:15 when
// there are seconds. One moment of the day has one spelling, so 5:30 and 05:30:00
// are refused, and so is 24:00, which is 00:00 of the next date.
func ParseClock(text string) (Clock, error) {
	var h, m, s int
	ok := (len(text) == 5 || len(text) == 8) && digits(text[:2], &h) && text[2] == ':' && digits(text[3:5], &m)
	if ok && len(text) == 8 {
		ok = text[5] == ':' && digits(text[6:], &s) && s != 0
	}
	if !ok {
		return 0, fmt.Errorf("time of day %q: want hours and minutes, such as 05:30 (or 05:30:15; no seconds when they are zero)", text)
	}
	if h == 24 && m == 0 && s == 0 {
		return 0, fmt.Errorf("time of day %q: the end of a day is written 00:00 of the next date", text)
	}
	if h > 23 || m > 59 || s > 59 {
		return 0, fmt.Errorf("time of day %q: want 00:00 to 23:59, seconds to 59", text)
	}
	return Clock(h*3600 + m*60 + s), nil
}

// String is 05:30, or 05:30:15 when there are seconds.
func (c Clock) String() string {
	if c%60 != 0 {
		return fmt.Sprintf("%02d:%02d:%02d", c/3600, c/60%60, c%60)
	}
	return fmt.Sprintf("%02d:%02d", c/3600, c/60%60)
}

// MarshalText writes the form of String, and refuses a number of seconds that is
// no time of day.
func (c Clock) MarshalText() ([]byte, error) {
	if c < 0 || c >= secondsPerDay {
		return nil, fmt.Errorf("time of day: %d seconds after midnight: want 0 to %d", int32(c), secondsPerDay-1)
	}
	return []byte(c.String()), nil
}

// UnmarshalText reads the form ParseClock does.
func (c *Clock) UnmarshalText(text []byte) error {
	v, err := ParseClock(string(text))
	if err != nil {
		return err
	}
	*c = v
	return nil
}
