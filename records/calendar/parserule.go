package calendar

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// Bounds that RFC 5545 does not set. They keep arithmetic far from overflow and
// are wider than a plan's use: 27 years of daily work, 99,999 instances.
const (
	maxInterval = 9_999
	maxCount    = 99_999
)

// ParseRule reads a recurrence rule such as "FREQ=WEEKLY;INTERVAL=2;BYDAY=TU,TH",
// in either case, its parts in any order, with or without a leading "RRULE:".
//
// It takes RFC 5545's DAILY, WEEKLY, MONTHLY and YEARLY with every part that
// concerns dates, and is stricter than the RFC where leniency would hide a
// mistake: a part or a value given twice, an ordinal that no month can reach
// (6MO in a month) and BYSETPOS with nothing to choose from are refused. The
// hours, minutes and seconds of the RFC are refused because the time of day is
// written beside the rule. UNTIL is a date, included in the rule: the RFC wants
// UNTIL to be of the kind the start is, and the start here is a date; a UTC
// moment would end the rule on one date in the plant's zone and on another
// elsewhere.
//
// An error names the part, its value, and what would be right.
func ParseRule(text string) (Rule, error) {
	r := Rule{interval: 1, until: LastDate, wkst: time.Monday}
	body := strings.TrimPrefix(strings.Map(upper, text), "RRULE:")
	seen := map[string]bool{}
	for _, part := range strings.Split(body, ";") {
		name, value, ok := strings.Cut(part, "=")
		if !ok {
			return Rule{}, fmt.Errorf("recurrence rule: part %q: want NAME=VALUE parts with ';' between them, such as FREQ=WEEKLY;BYDAY=MO", part)
		}
		if seen[name] {
			return Rule{}, fmt.Errorf("recurrence rule: %s=%s: %s is given twice: want it once", name, value, name)
		}
		seen[name] = true
		if err := r.readPart(name, value); err != nil {
			return Rule{}, fmt.Errorf("recurrence rule: %s=%s: %w", name, value, err)
		}
	}
	if err := r.check(seen); err != nil {
		return Rule{}, fmt.Errorf("recurrence rule: %w", err)
	}
	return r, nil
}

func (r *Rule) readPart(name, value string) error {
	for _, p := range r.lists() {
		if p.name == name {
			return p.read(value)
		}
	}
	var err error
	switch name {
	case "FREQ":
		i := slices.Index(frequencies, value)
		if i < int(daily) {
			return fmt.Errorf("want DAILY, WEEKLY, MONTHLY or YEARLY%s", subDaily(value))
		}
		r.freq = frequency(i)
	case "INTERVAL":
		r.interval, err = readNumber(value, 1, maxInterval)
	case "COUNT":
		r.count, err = readNumber(value, 1, maxCount)
	case "UNTIL":
		r.until, err = readUntil(value)
	case "WKST":
		i := slices.Index(weekdays, value)
		if i < 0 {
			return fmt.Errorf("want one of MO, TU, WE, TH, FR, SA, SU")
		}
		r.wkst = time.Weekday(i)
	case "BYDAY":
		return r.readDays(value)
	case "BYHOUR", "BYMINUTE", "BYSECOND":
		return fmt.Errorf("a rule says which dates: leave it out and write the time of day beside the rule")
	default:
		return fmt.Errorf("unknown part: want FREQ, INTERVAL, COUNT, UNTIL, BYDAY, BYMONTHDAY, BYYEARDAY, BYWEEKNO, BYMONTH, BYSETPOS or WKST")
	}
	return err
}

// upper is for ASCII only. strings.ToUpper would turn a dotless i into the I of
// DAILY, and the text kept in the plan would then be one nobody else can read.
func upper(c rune) rune {
	if 'a' <= c && c <= 'z' {
		return c - 'a' + 'A'
	}
	return c
}

func subDaily(freq string) string {
	switch freq {
	case "HOURLY", "MINUTELY", "SECONDLY":
		return "; a rule says which dates, and each time of day is written beside a rule of its own"
	}
	return ""
}

// listPart is a part whose value is a list of numbers.
type listPart struct {
	name   string
	set    *numbers
	max    int
	signed bool // negative numbers count from the end
}

// lists are the list parts in the order of the canonical spelling.
func (r *Rule) lists() [5]listPart {
	return [5]listPart{
		{"BYMONTH", &r.byMonth, 12, false},
		{"BYWEEKNO", &r.byWeekNo, 53, true},
		{"BYYEARDAY", &r.byYearDay, 366, true},
		{"BYMONTHDAY", &r.byMonthDay, 31, true},
		{"BYSETPOS", &r.bySetPos, 366, true},
	}
}

func (p listPart) read(value string) error {
	for _, item := range strings.Split(value, ",") {
		sign, bare := 1, item
		if p.signed {
			sign, bare = readSign(item)
		}
		n, err := readNumber(bare, 1, p.max)
		if err != nil {
			also := ""
			if p.signed {
				also = fmt.Sprintf(", or -%d to -1 to count from the end", p.max)
			}
			return fmt.Errorf("%q: %w%s", item, err, also)
		}
		if !p.set.add(sign * n) {
			return fmt.Errorf("%q is given twice: want it once", item)
		}
	}
	return nil
}

func (r *Rule) readDays(value string) error {
	for _, item := range strings.Split(value, ",") {
		cut := max(0, len(item)-2)
		wd := slices.Index(weekdays, item[cut:])
		if wd < 0 {
			return fmt.Errorf("%q: want one of MO, TU, WE, TH, FR, SA, SU, or with an ordinal such as 1MO or -1FR", item)
		}
		n := 0
		if cut > 0 {
			sign, bare := readSign(item[:cut])
			ordinal, err := readNumber(bare, 1, 53)
			if err != nil {
				return fmt.Errorf("%q: ordinal: %w, or -53 to -1 to count from the end", item, err)
			}
			n = sign * ordinal
		}
		if !r.byDay[wd].add(n) {
			return fmt.Errorf("%q is given twice: want it once", item)
		}
		r.days++
	}
	return nil
}

// readUntil reads UNTIL's DATE form, 20261231.
func readUntil(value string) (Date, error) {
	var y, m, d int
	if len(value) == 8 && digits(value[:4], &y) && digits(value[4:6], &m) && digits(value[6:], &d) {
		return NewDate(y, time.Month(m), d)
	}
	if len(value) > 8 && value[8] == 'T' {
		return 0, fmt.Errorf("want the last date alone, such as %s, as the rule starts on a date and not at a moment", value[:8])
	}
	return 0, fmt.Errorf("want the last date as year, month, day, such as 20261231")
}

// readSign takes off a sign that RFC 5545 allows, and says which it was.
func readSign(text string) (sign int, bare string) {
	switch {
	case strings.HasPrefix(text, "-"):
		return -1, text[1:]
	case strings.HasPrefix(text, "+"):
		return 1, text[1:]
	}
	return 1, text
}

func readNumber(text string, low, high int) (int, error) {
	var n int
	if len(text) > 6 || !digits(text, &n) || n < low || n > high {
		return 0, fmt.Errorf("want a number from %d to %d", low, high)
	}
	return n, nil
}
