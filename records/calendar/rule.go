package calendar

import (
	"errors"
	"strconv"
	"strings"
	"time"
)

// Rule is a recurrence rule of RFC 5545 section 3.3.10 over dates: which days,
// never which time of day. Make one with ParseRule; the zero Rule has no
// instances. Rules are compared with ==, and two that were written differently
// but say the same part for part (order, case, INTERVAL=1, WKST=MO) are equal.
type Rule struct {
	freq     frequency
	interval int
	count    int  // 0: no COUNT
	until    Date // LastDate: no UNTIL
	wkst     time.Weekday

	byMonth, byWeekNo, byYearDay, byMonthDay, bySetPos numbers

	byDay [7]numbers // by time.Weekday; 0 in the set means every one of that weekday
	days  int        // how many entries byDay has over all weekdays
}

type frequency int8

const (
	daily frequency = iota + 1
	weekly
	monthly
	yearly
)

var frequencies = []string{daily: "DAILY", weekly: "WEEKLY", monthly: "MONTHLY", yearly: "YEARLY"}

func (f frequency) String() string { return frequencies[f] }

// weekdays are the RFC's two letters, indexed by time.Weekday.
var weekdays = []string{"SU", "MO", "TU", "WE", "TH", "FR", "SA"}

// numbers is a set of integers from -widest to widest. It is an array and not a
// slice so that a Rule can be compared with == and shares no memory.
type numbers struct {
	bits [(2*widest + 64) / 64]uint64
	len  int
}

const widest = 366

func (s *numbers) has(n int) bool { n += widest; return s.bits[n/64]>>(n%64)&1 == 1 }

// add reports whether n is new to the set.
func (s *numbers) add(n int) bool {
	if s.has(n) {
		return false
	}
	n += widest
	s.bits[n/64] |= 1 << (n % 64)
	s.len++
	return true
}

// list is the set in one fixed order: 1, 2, 3 and then -3, -2, -1.
func (s *numbers) list() []int {
	out := make([]int, 0, s.len)
	for _, span := range [2][2]int{{0, widest}, {-widest, -1}} {
		for n := span[0]; n <= span[1]; n++ {
			if s.has(n) {
				out = append(out, n)
			}
		}
	}
	return out
}

// texts are the set's numbers, each followed by suffix; 0 has no number to write.
func (s *numbers) texts(suffix string) []string {
	var out []string
	for _, n := range s.list() {
		if n == 0 {
			out = append(out, suffix)
		} else {
			out = append(out, strconv.Itoa(n)+suffix)
		}
	}
	return out
}

// IsZero reports whether the rule is the zero Rule, which says nothing.
func (r Rule) IsZero() bool { return r.freq == 0 }

// String is the rule's one canonical spelling, in upper case, without the parts
// that only repeat a default. ParseRule reads it back to an equal rule.
func (r Rule) String() string {
	if r.IsZero() {
		return ""
	}
	var b strings.Builder
	part := func(name, value string) { b.WriteString(";" + name + "=" + value) }
	if r.interval > 1 {
		part("INTERVAL", strconv.Itoa(r.interval))
	}
	if r.count > 0 {
		part("COUNT", strconv.Itoa(r.count))
	}
	if r.until != LastDate {
		part("UNTIL", strings.ReplaceAll(r.until.String(), "-", ""))
	}
	for _, p := range r.lists() {
		if p.set.len > 0 {
			part(p.name, strings.Join(p.set.texts(""), ","))
		}
	}
	if r.days > 0 {
		part("BYDAY", strings.Join(r.dayNames(), ","))
	}
	if r.wkst != time.Monday {
		part("WKST", weekdays[r.wkst])
	}
	return "FREQ=" + r.freq.String() + b.String()
}

// dayNames are the entries of BYDAY, Monday first.
func (r *Rule) dayNames() []string {
	var out []string
	for i := range 7 {
		wd := (int(time.Monday) + i) % 7
		out = append(out, r.byDay[wd].texts(weekdays[wd])...)
	}
	return out
}

// MarshalText writes the form of String. The zero Rule cannot be written: read
// back as text it would be an error.
func (r Rule) MarshalText() ([]byte, error) {
	if r.IsZero() {
		return nil, errors.New("recurrence rule: none given: want a rule such as FREQ=WEEKLY;BYDAY=MO")
	}
	return []byte(r.String()), nil
}

// UnmarshalText reads the form ParseRule does.
func (r *Rule) UnmarshalText(text []byte) error {
	v, err := ParseRule(string(text))
	if err != nil {
		return err
	}
	*r = v
	return nil
}
