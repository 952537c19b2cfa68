package records

import (
	"fmt"
	"regexp"
	"time"
)

// Instant is a moment in milliseconds since 1970-01-01T00:00:00Z, without a zone. The plant's zone belongs to the
// plan and is applied only when something is shown or a civil date is needed. Milliseconds are what a phone's clock
// gives, and eight bytes keep a million entries small.
type Instant int64

// instantLayout is RFC 3339 in UTC with exactly three decimals, so that one instant has one spelling.
const instantLayout = "2006-01-02T15:04:05.000Z"

// InstantOf rounds t down to the millisecond.
func InstantOf(t time.Time) Instant { return Instant(t.UnixMilli()) }

// Time gives the instant in UTC.
func (i Instant) Time() time.Time { return time.UnixMilli(int64(i)).UTC() }

// Add moves the instant by d, rounded toward zero to the millisecond.
func (i Instant) Add(d time.Duration) Instant { return i + Instant(d.Milliseconds()) }

// Sub is the time from other to i; beyond 292 years, which a Duration can not hold, it is the longest one.
func (i Instant) Sub(other Instant) time.Duration { return i.Time().Sub(other.Time()) }

// String is the canonical spelling, such as 2026-03-08T07:30:00.000Z.
func (i Instant) String() string { return i.Time().Format(instantLayout) }

// rfc3339 is the grammar of RFC 3339 section 5.6. time.Parse alone also lets a one-digit hour, a decimal comma and an
// offset of 24 hours or 60 minutes pass.
var rfc3339 = regexp.MustCompile(`^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]([01]\d|2[0-3]):[0-5]\d)$`)

// ParseInstant reads any RFC 3339 time with an offset ("2026-03-08T02:30:00-05:00"). Years outside 1900 to 2199 are
// refused: in a plant's journal they are a typing mistake.
func ParseInstant(text string) (Instant, error) {
	t, err := time.Parse(time.RFC3339Nano, text)
	if err != nil || !rfc3339.MatchString(text) {
		return 0, fmt.Errorf("%q is not a time like 2026-03-08T07:30:00Z or 2026-03-08T02:30:00-05:00", clip(text))
	}
	if y := t.UTC().Year(); y < 1900 || y > 2199 {
		return 0, fmt.Errorf("the year of %q is outside 1900 to 2199", clip(text))
	}
	return InstantOf(t), nil
}

// MarshalText writes the canonical spelling.
func (i Instant) MarshalText() ([]byte, error) { return i.AppendText(nil) }

// AppendText appends the canonical spelling.
func (i Instant) AppendText(b []byte) ([]byte, error) {
	return i.Time().AppendFormat(b, instantLayout), nil
}

// UnmarshalText is ParseInstant, with a short way for the canonical spelling, which replaying a journal reads twice
// an entry.
func (i *Instant) UnmarshalText(text []byte) error {
	if fast, ok := parseCanonical(text); ok {
		*i = fast
		return nil
	}
	parsed, err := ParseInstant(string(text))
	if err != nil {
		return err
	}
	*i = parsed
	return nil
}

// parseCanonical reads exactly instantLayout; anything else is left to ParseInstant and its errors.
func parseCanonical(b []byte) (Instant, bool) {
	if len(b) != len(instantLayout) || b[4] != '-' || b[7] != '-' || b[10] != 'T' || b[13] != ':' || b[16] != ':' || b[19] != '.' || b[23] != 'Z' {
		return 0, false
	}
	num := func(from, to int) int {
		n := 0
		for _, c := range b[from:to] {
			if c < '0' || c > '9' {
				return -1 << 20
			}
			n = n*10 + int(c-'0')
		}
		return n
	}
	y, mo, d, h, mi, s, ms := num(0, 4), num(5, 7), num(8, 10), num(11, 13), num(14, 16), num(17, 19), num(20, 23)
	if y < 1900 || y > 2199 || mo < 1 || mo > 12 || d < 1 || d > 31 || h < 0 || h > 23 || mi < 0 || mi > 59 || s < 0 || s > 59 || ms < 0 {
		return 0, false
	}
	t := time.Date(y, time.Month(mo), d, h, mi, s, ms*1e6, time.UTC)
	return Instant(t.UnixMilli()), t.Day() == d // time.Date makes 2 March of 30 February
}
