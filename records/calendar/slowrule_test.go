package calendar

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// spec is a recurrence rule as a test draws it: plain lists, no Rule.
type spec struct {
	freq                                               string
	interval, count                                    int
	until                                              string // 20261231, or ""
	wkst                                               time.Weekday
	byMonth, byWeekNo, byYearDay, byMonthDay, bySetPos []int
	byDay                                              []ordinalDay
}

type ordinalDay struct {
	n  int // 0: every one
	wd time.Weekday
}

func (s spec) text() string {
	parts := []string{"FREQ=" + s.freq}
	add := func(name, value string) {
		if value != "" {
			parts = append(parts, name+"="+value)
		}
	}
	numbers := func(list []int) string {
		return strings.Trim(strings.ReplaceAll(fmt.Sprint(list), " ", ","), "[]")
	}
	add("INTERVAL", fmt.Sprint(s.interval))
	if s.count > 0 {
		add("COUNT", fmt.Sprint(s.count))
	}
	add("UNTIL", s.until)
	add("WKST", weekdays[s.wkst])
	add("BYMONTH", numbers(s.byMonth))
	add("BYWEEKNO", numbers(s.byWeekNo))
	add("BYYEARDAY", numbers(s.byYearDay))
	add("BYMONTHDAY", numbers(s.byMonthDay))
	var days []string
	for _, d := range s.byDay {
		if d.n == 0 {
			days = append(days, weekdays[d.wd])
		} else {
			days = append(days, fmt.Sprint(d.n)+weekdays[d.wd])
		}
	}
	add("BYDAY", strings.Join(days, ","))
	add("BYSETPOS", numbers(s.bySetPos))
	return strings.Join(parts, ";")
}

// drawer is the little of rapid.T and of a seeded generator that drawing needs.
type drawer interface {
	pick(low, high int) int
}

type rapidDrawer struct{ t *rapid.T }

func (d rapidDrawer) pick(low, high int) int { return rapid.IntRange(low, high).Draw(d.t, "n") }

func drawSpec(t *rapid.T) spec { return specFrom(rapidDrawer{t}) }

// specFrom draws a rule of any shape that ParseRule takes.
func specFrom(d drawer) spec {
	s := spec{freq: frequencies[d.pick(1, 4)], interval: d.pick(1, 5), wkst: time.Weekday(d.pick(0, 6))}
	switch d.pick(0, 3) {
	case 0:
		s.count = d.pick(1, 40)
	case 1:
		s.until = strings.ReplaceAll(Date(d.pick(0, 32000)).String(), "-", "")
	}
	list := func(max int, signed bool) []int {
		var out []int
		for range d.pick(1, 4) {
			n := d.pick(1, max)
			if signed && d.pick(0, 2) == 0 {
				n = -n
			}
			if !slices.Contains(out, n) {
				out = append(out, n)
			}
		}
		return out
	}
	some := func() bool { return d.pick(0, 2) == 0 }
	if some() {
		s.byMonth = list(12, false)
	}
	if s.freq == "YEARLY" && some() {
		s.byWeekNo = list(53, true)
	}
	if s.freq == "YEARLY" && some() {
		s.byYearDay = list(366, true)
	}
	if s.freq != "WEEKLY" && some() {
		s.byMonthDay = list(31, true)
	}
	if d.pick(0, 1) == 0 {
		for range d.pick(1, 5) {
			day := ordinalDay{wd: time.Weekday(d.pick(0, 6))}
			if (s.freq == "MONTHLY" || s.freq == "YEARLY") && s.byWeekNo == nil && some() {
				day.n = d.pick(1, 5)
				if s.freq == "YEARLY" && s.byMonth == nil {
					day.n = d.pick(1, 53)
				}
				if some() {
					day.n = -day.n
				}
			}
			if !slices.Contains(s.byDay, day) {
				s.byDay = append(s.byDay, day)
			}
		}
	}
	if some() && len(s.byMonth)+len(s.byWeekNo)+len(s.byYearDay)+len(s.byMonthDay)+len(s.byDay) > 0 {
		s.bySetPos = list(6, true)
	}
	return s
}

// slowBetween expands a rule the long way: from the first period, one period at a
// time, building for each BY part the days it stands for, with the standard
// library's calendar. It jumps nowhere and shares no code with Rule.
func slowBetween(s spec, start, to time.Time) []time.Time {
	const day = 24 * time.Hour
	var until time.Time
	if s.until != "" {
		until, _ = time.Parse("20060102", s.until)
	}
	weekBegin := func(t time.Time) time.Time {
		for t.Weekday() != s.wkst {
			t = t.Add(-day)
		}
		return t
	}
	var out []time.Time
	counted := 0
	for k := 0; ; k += s.interval {
		var first, next time.Time // the period: from first up to next
		y, m, _ := start.Date()
		switch s.freq {
		case "DAILY":
			first = start.AddDate(0, 0, k)
			next = first.Add(day)
		case "WEEKLY":
			first = weekBegin(start).AddDate(0, 0, 7*k)
			next = first.AddDate(0, 0, 7)
		case "MONTHLY":
			first = time.Date(y, m+time.Month(k), 1, 0, 0, 0, 0, time.UTC)
			next = first.AddDate(0, 1, 0)
		case "YEARLY":
			first = time.Date(y+k, 1, 1, 0, 0, 0, 0, time.UTC)
			next = first.AddDate(1, 0, 0)
		}
		if first.After(to) {
			return out
		}
		for _, t := range s.slowSet(start, first, next) {
			if t.Before(start) || t.After(to) || !until.IsZero() && t.After(until) {
				continue
			}
			if counted++; s.count == 0 || counted <= s.count {
				out = append(out, t)
			}
		}
	}
}

// slowSet is the set of one period, in order, with BYSETPOS applied.
func (s spec) slowSet(start, first, next time.Time) []time.Time {
	const day = 24 * time.Hour
	between := func(from, to time.Time) (days []time.Time) {
		for t := from; t.Before(to); t = t.Add(day) {
			days = append(days, t)
		}
		return days
	}
	// at is the n-th of a list, or from its end; nothing when there is no such one.
	at := func(list []time.Time, n int) []time.Time {
		switch {
		case n > 0 && n <= len(list):
			return list[n-1 : n]
		case n < 0 && -n <= len(list):
			return list[len(list)+n : len(list)+n+1]
		}
		return nil
	}
	var months [][]time.Time // the calendar months the period touches, each whole
	for t := time.Date(first.Year(), first.Month(), 1, 0, 0, 0, 0, time.UTC); t.Before(next); t = t.AddDate(0, 1, 0) {
		if len(s.byMonth) == 0 || slices.Contains(s.byMonth, int(t.Month())) {
			months = append(months, between(t, t.AddDate(0, 1, 0)))
		}
	}
	set := between(first, next)
	keep := func(days []time.Time) {
		set = slices.DeleteFunc(set, func(t time.Time) bool { return !slices.Contains(days, t) })
	}
	keep(slices.Concat(months...))
	if s.byWeekNo != nil {
		var days []time.Time
		for y := first.Year() - 1; y <= first.Year()+1; y++ {
			days = append(days, s.slowWeeks(y)...)
		}
		keep(days)
	}
	if s.byYearDay != nil {
		var days []time.Time
		for _, n := range s.byYearDay {
			days = append(days, at(between(first, next), n)...)
		}
		keep(days)
	}
	monthDays := s.byMonthDay
	bare := s.byDay == nil && s.byMonthDay == nil && s.byYearDay == nil
	if bare && (s.freq == "MONTHLY" || s.freq == "YEARLY" && s.byWeekNo == nil) {
		monthDays = []int{start.Day()}
		if s.freq == "YEARLY" && s.byMonth == nil {
			months = [][]time.Time{between(time.Date(first.Year(), start.Month(), 1, 0, 0, 0, 0, time.UTC), time.Date(first.Year(), start.Month()+1, 1, 0, 0, 0, 0, time.UTC))}
		}
	}
	if monthDays != nil {
		var days []time.Time
		for _, month := range months {
			for _, n := range monthDays {
				days = append(days, at(month, n)...)
			}
		}
		keep(days)
	}
	weekDays := s.byDay
	if bare && (s.freq == "WEEKLY" || s.freq == "YEARLY" && s.byWeekNo != nil) {
		weekDays = []ordinalDay{{0, start.Weekday()}}
	}
	if weekDays != nil {
		scopes := months
		if s.freq == "YEARLY" && s.byMonth == nil {
			scopes = [][]time.Time{between(first, next)}
		}
		var days []time.Time
		for _, scope := range scopes {
			for _, d := range weekDays {
				those := slices.DeleteFunc(slices.Clone(scope), func(t time.Time) bool { return t.Weekday() != d.wd })
				if d.n != 0 {
					those = at(those, d.n)
				}
				days = append(days, those...)
			}
		}
		keep(days)
	}
	if s.bySetPos == nil {
		return set
	}
	var days []time.Time
	for _, n := range s.bySetPos {
		days = append(days, at(set, n)...)
	}
	keep(days)
	return set
}

// slowWeeks lists the days of BYWEEKNO's weeks of year y. Week 1 is the first with
// four days in the year, so it is the one with 4 January in it.
func (s spec) slowWeeks(y int) (days []time.Time) {
	var begins []time.Time
	t := time.Date(y, 1, 4, 0, 0, 0, 0, time.UTC)
	for t.Weekday() != s.wkst {
		t = t.AddDate(0, 0, -1)
	}
	end := time.Date(y+1, 1, 4, 0, 0, 0, 0, time.UTC)
	for end.Weekday() != s.wkst {
		end = end.AddDate(0, 0, -1)
	}
	for ; t.Before(end); t = t.AddDate(0, 0, 7) {
		begins = append(begins, t)
	}
	for _, n := range s.byWeekNo {
		if n < 0 {
			n += len(begins) + 1
		}
		if n >= 1 && n <= len(begins) {
			for i := range 7 {
				days = append(days, begins[n-1].AddDate(0, 0, i))
			}
		}
	}
	return days
}

func TestBetweenAgainstSlow(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) { compareSlow(rt, rapidDrawer{rt}) })
}

// rapid's default hundred rules are too few to meet every pair of parts with an
// instance to show for it; these are plain random ones, a new set each run.
func TestBetweenAgainstSlowMany(t *testing.T) {
	seed := rand.Uint64()
	t.Logf("seed %d", seed)
	d := seededDrawer{rand.New(rand.NewPCG(seed, 0))}
	some := 0
	for range 3000 {
		if compareSlow(t, d) > 0 {
			some++
		}
	}
	if some < 500 {
		t.Errorf("only %d of the drawn rules had an instance", some)
	}
}

func compareSlow(t interface{ Fatalf(string, ...any) }, d drawer) (instances int) {
	s, start := specFrom(d), Date(d.pick(0, 30000))
	to := start + Date(d.pick(0, 4000))
	var want []Date
	for _, day := range slowBetween(s, start.utc(), to.utc()) {
		want = append(want, civil(day.Date()))
	}
	if got := mustRule(s.text()).Between(start, start, to); !slices.Equal(got, want) {
		t.Fatalf("%s from %v to %v:\n got %v\nwant %v", s.text(), start, to, got, want)
	}
	return len(want)
}

// The turn of the year under every week start, where random rules seldom go: each
// of the first and last weeks, both ways of counting, through 12 years that begin
// on each weekday, leap years among them.
func TestWeekNumbersAtTheTurnOfTheYear(t *testing.T) {
	start, to := mustDate("2015-01-01"), mustDate("2027-12-31")
	for wkst := time.Sunday; wkst <= time.Saturday; wkst++ {
		for _, n := range []int{1, 2, 51, 52, 53, -1, -2, -51, -52, -53} {
			s := spec{freq: "YEARLY", interval: 1, wkst: wkst, byWeekNo: []int{n}}
			for wd := time.Sunday; wd <= time.Saturday; wd++ {
				s.byDay = append(s.byDay, ordinalDay{0, wd})
			}
			var want []Date
			for _, day := range slowBetween(s, start.utc(), to.utc()) {
				want = append(want, civil(day.Date()))
			}
			if got := mustRule(s.text()).Between(start, start, to); !slices.Equal(got, want) {
				t.Errorf("%s:\n got %v\nwant %v", s.text(), got, want)
			}
		}
	}
}
