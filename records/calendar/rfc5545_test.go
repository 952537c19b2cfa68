package calendar

import (
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// The examples of RFC 5545 section 3.8.5.3, in its order, all in America/New_York
// at 09:00. The answers are its printed dates with the zone it prints beside them,
// so that each row tests the rule and the wall time. "more" is its "...": the
// printed dates are then the first ones only. An UNTIL printed as a UTC moment is
// written here as the last date whose 09:00 in New York is not after it.
var rfcExamples = []struct {
	title, start, rule, want string
	more                     bool
}{
	{"daily for 10 occurrences", "1997-09-02", "FREQ=DAILY;COUNT=10", "1997 EDT 9/2-11", false},
	// UNTIL=19971224T000000Z is 19:00 on 23 December in New York.
	{"daily until 24 December", "1997-09-02", "FREQ=DAILY;UNTIL=19971223", "1997 EDT 9/2-30 10/1-25 EST 10/26-31 11/1-30 12/1-23", false},
	{"every other day", "1997-09-02", "FREQ=DAILY;INTERVAL=2", "1997 EDT 9/2,4,6,8,10,12,14,16,18,20,22,24,26,28,30 10/2,4,6,8,10,12,14,16,18,20,22,24 EST 10/26,28,30 11/1,3,5,7,9,11,13,15,17,19,21,23,25,27,29 12/1,3", true},
	{"every 10 days", "1997-09-02", "FREQ=DAILY;INTERVAL=10;COUNT=5", "1997 EDT 9/2,12,22 10/2,12", false},
	// UNTIL=20000131T140000Z is 09:00 in New York, the last instance itself.
	{"every day in January", "1998-01-01", "FREQ=YEARLY;UNTIL=20000131;BYMONTH=1;BYDAY=SU,MO,TU,WE,TH,FR,SA", "1998 EST 1/1-31 1999 1/1-31 2000 1/1-31", false},
	{"every day in January, or", "1998-01-01", "FREQ=DAILY;UNTIL=20000131;BYMONTH=1", "1998 EST 1/1-31 1999 1/1-31 2000 1/1-31", false},
	{"weekly for 10 occurrences", "1997-09-02", "FREQ=WEEKLY;COUNT=10", "1997 EDT 9/2,9,16,23,30 10/7,14,21 EST 10/28 11/4", false},
	{"weekly until 24 December", "1997-09-02", "FREQ=WEEKLY;UNTIL=19971223", "1997 EDT 9/2,9,16,23,30 10/7,14,21 EST 10/28 11/4,11,18,25 12/2,9,16,23", false},
	{"every other week", "1997-09-02", "FREQ=WEEKLY;INTERVAL=2;WKST=SU", "1997 EDT 9/2,16,30 10/14 EST 10/28 11/11,25 12/9,23 1998 1/6,20 2/3,17", true},
	// UNTIL=19971007T000000Z is 20:00 on 6 October in New York.
	{"Tuesday and Thursday", "1997-09-02", "FREQ=WEEKLY;UNTIL=19971006;WKST=SU;BYDAY=TU,TH", "1997 EDT 9/2,4,9,11,16,18,23,25,30 10/2", false},
	{"Tuesday and Thursday, or", "1997-09-02", "FREQ=WEEKLY;COUNT=10;WKST=SU;BYDAY=TU,TH", "1997 EDT 9/2,4,9,11,16,18,23,25,30 10/2", false},
	{"every other week on three days", "1997-09-01", "FREQ=WEEKLY;INTERVAL=2;UNTIL=19971223;WKST=SU;BYDAY=MO,WE,FR", "1997 EDT 9/1,3,5,15,17,19,29 10/1,3,13,15,17 EST 10/27,29,31 11/10,12,14,24,26,28 12/8,10,12,22", false},
	{"every other week on two days", "1997-09-02", "FREQ=WEEKLY;INTERVAL=2;COUNT=8;WKST=SU;BYDAY=TU,TH", "1997 EDT 9/2,4,16,18,30 10/2,14,16", false},
	{"first Friday", "1997-09-05", "FREQ=MONTHLY;COUNT=10;BYDAY=1FR", "1997 EDT 9/5 10/3 EST 11/7 12/5 1998 1/2 2/6 3/6 4/3 EDT 5/1 6/5", false},
	{"first Friday until", "1997-09-05", "FREQ=MONTHLY;UNTIL=19971223;BYDAY=1FR", "1997 EDT 9/5 10/3 EST 11/7 12/5", false},
	{"first and last Sunday", "1997-09-07", "FREQ=MONTHLY;INTERVAL=2;COUNT=10;BYDAY=1SU,-1SU", "1997 EDT 9/7,28 EST 11/2,30 1998 1/4,25 3/1,29 EDT 5/3,31", false},
	{"second-to-last Monday", "1997-09-22", "FREQ=MONTHLY;COUNT=6;BYDAY=-2MO", "1997 EDT 9/22 10/20 EST 11/17 12/22 1998 1/19 2/16", false},
	{"third-to-last day", "1997-09-28", "FREQ=MONTHLY;BYMONTHDAY=-3", "1997 EDT 9/28 EST 10/29 11/28 12/29 1998 1/29 2/26", true},
	{"2nd and 15th", "1997-09-02", "FREQ=MONTHLY;COUNT=10;BYMONTHDAY=2,15", "1997 EDT 9/2,15 10/2,15 EST 11/2,15 12/2,15 1998 1/2,15", false},
	{"first and last day", "1997-09-30", "FREQ=MONTHLY;COUNT=10;BYMONTHDAY=1,-1", "1997 EDT 9/30 10/1 EST 10/31 11/1,30 12/1,31 1998 1/1,31 2/1", false},
	{"every 18 months", "1997-09-10", "FREQ=MONTHLY;INTERVAL=18;COUNT=10;BYMONTHDAY=10,11,12,13,14,15", "1997 EDT 9/10-15 1999 EST 3/10-13", false},
	{"Tuesdays every other month", "1997-09-02", "FREQ=MONTHLY;INTERVAL=2;BYDAY=TU", "1997 EDT 9/2,9,16,23,30 EST 11/4,11,18,25 1998 1/6,13,20,27 3/3,10,17,24,31", true},
	{"June and July", "1997-06-10", "FREQ=YEARLY;COUNT=10;BYMONTH=6,7", "1997 EDT 6/10 7/10 1998 6/10 7/10 1999 6/10 7/10 2000 6/10 7/10 2001 6/10 7/10", false},
	{"every other year", "1997-03-10", "FREQ=YEARLY;INTERVAL=2;COUNT=10;BYMONTH=1,2,3", "1997 EST 3/10 1999 1/10 2/10 3/10 2001 1/10 2/10 3/10 2003 1/10 2/10 3/10", false},
	{"1st, 100th and 200th day", "1997-01-01", "FREQ=YEARLY;INTERVAL=3;COUNT=10;BYYEARDAY=1,100,200", "1997 EST 1/1 EDT 4/10 7/19 2000 EST 1/1 EDT 4/9 7/18 2003 EST 1/1 EDT 4/10 7/19 2006 EST 1/1", false},
	{"20th Monday of the year", "1997-05-19", "FREQ=YEARLY;BYDAY=20MO", "1997 EDT 5/19 1998 5/18 1999 5/17", true},
	{"Monday of week 20", "1997-05-12", "FREQ=YEARLY;BYWEEKNO=20;BYDAY=MO", "1997 EDT 5/12 1998 5/11 1999 5/17", true},
	{"Thursdays in March", "1997-03-13", "FREQ=YEARLY;BYMONTH=3;BYDAY=TH", "1997 EST 3/13,20,27 1998 3/5,12,19,26 1999 3/4,11,18,25", true},
	{"Thursdays in summer", "1997-06-05", "FREQ=YEARLY;BYDAY=TH;BYMONTH=6,7,8", "1997 EDT 6/5,12,19,26 7/3,10,17,24,31 8/7,14,21,28 1998 6/4,11,18,25 7/2,9,16,23,30 8/6,13,20,27 1999 6/3,10,17,24 7/1,8,15,22,29 8/5,12,19,26", true},
	// The RFC takes the start out with EXDATE; here a start off the rule is no instance.
	{"Friday the 13th", "1997-09-02", "FREQ=MONTHLY;BYDAY=FR;BYMONTHDAY=13", "1998 EST 2/13 3/13 11/13 1999 EDT 8/13 2000 10/13", true},
	{"Saturday after the first Sunday", "1997-09-13", "FREQ=MONTHLY;BYDAY=SA;BYMONTHDAY=7,8,9,10,11,12,13", "1997 EDT 9/13 10/11 EST 11/8 12/13 1998 1/10 2/7 3/7 EDT 4/11 5/9 6/13", true},
	{"US presidential election day", "1996-11-05", "FREQ=YEARLY;INTERVAL=4;BYMONTH=11;BYDAY=TU;BYMONTHDAY=2,3,4,5,6,7,8", "1996 EST 11/5 2000 11/7 2004 11/2", true},
	{"third of Tuesday to Thursday", "1997-09-04", "FREQ=MONTHLY;COUNT=3;BYDAY=TU,WE,TH;BYSETPOS=3", "1997 EDT 9/4 10/7 EST 11/6", false},
	{"second-to-last weekday", "1997-09-29", "FREQ=MONTHLY;BYDAY=MO,TU,WE,TH,FR;BYSETPOS=-2", "1997 EDT 9/29 EST 10/30 11/27 12/30 1998 1/29 2/26 3/30", true},
	{"week start Monday", "1997-08-05", "FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=MO", "1997 EDT 8/5,10,19,24", false},
	{"week start Sunday", "1997-08-05", "FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=SU", "1997 EDT 8/5,17,19,31", false},
	// Printed without a zone per date but "EST"/"EDT": 11 March 2007 was the change.
	{"invalid dates ignored", "2007-01-15", "FREQ=MONTHLY;BYMONTHDAY=15,30;COUNT=5", "2007 EST 1/15,30 2/15 EDT 3/15,30", false},
}

type rfcDay struct {
	date Date
	zone string
}

// readRFC reads the compact form of the table: a year, a zone, month/days.
func readRFC(t *testing.T, text string) []rfcDay {
	t.Helper()
	number := func(s string) int {
		n, err := strconv.Atoi(s)
		if err != nil {
			t.Fatalf("%q in %q: %v", s, text, err)
		}
		return n
	}
	var out []rfcDay
	year, zone := 0, ""
	for _, word := range strings.Fields(text) {
		month, days, ok := strings.Cut(word, "/")
		switch {
		case word == "EST" || word == "EDT":
			zone = word
		case !ok:
			year = number(word)
		default:
			for _, item := range strings.Split(days, ",") {
				from, to, isRange := strings.Cut(item, "-")
				if !isRange {
					to = from
				}
				for day := number(from); day <= number(to); day++ {
					d, err := NewDate(year, time.Month(number(month)), day)
					if err != nil {
						t.Fatal(err)
					}
					out = append(out, rfcDay{d, zone})
				}
			}
		}
	}
	return out
}

func TestRFC5545Examples(t *testing.T) {
	newYork := mustZone(t, "America/New_York")
	for _, e := range rfcExamples {
		t.Run(e.title, func(t *testing.T) {
			want := readRFC(t, e.want)
			to := mustDate("2030-12-31")
			if e.more {
				to = want[len(want)-1].date
			}
			start := mustDate(e.start)
			var got []rfcDay
			for _, d := range mustRule(e.rule).Between(start, start, to) {
				at := At(d, mustClock("09:00"), newYork)
				got = append(got, rfcDay{d, at.Format("MST")})
			}
			if !slices.Equal(got, want) {
				t.Errorf("%s from %s:\n got %v\nwant %v", e.rule, e.start, got, want)
			}
		})
	}
}

// Not printed in the RFC, but its rule that invalid dates are ignored (section
// 3.3.10) applied to a bare month: January, March, May, July.
func TestMonthsWithoutThe31stAreSkipped(t *testing.T) {
	start := mustDate("2026-01-31")
	got := mustRule("FREQ=MONTHLY").Between(start, start, mustDate("2026-07-31"))
	want := []Date{start, mustDate("2026-03-31"), mustDate("2026-05-31"), mustDate("2026-07-31")}
	if !slices.Equal(got, want) {
		t.Errorf("got %v; want %v", got, want)
	}
}

// The examples by the hour and the minute, among them the one that erratum 3883
// corrects, are not dates and are refused; so is UNTIL in the form the RFC prints.
func TestRFC5545ExamplesRefused(t *testing.T) {
	for rule, want := range map[string]string{
		"FREQ=HOURLY;INTERVAL=3;UNTIL=19970902T170000Z":                       "FREQ=HOURLY: want DAILY",
		"FREQ=MINUTELY;INTERVAL=15;COUNT=6":                                   "FREQ=MINUTELY: want DAILY",
		"FREQ=MINUTELY;INTERVAL=90;COUNT=4":                                   "FREQ=MINUTELY: want DAILY",
		"FREQ=DAILY;BYHOUR=9,10,11,12,13,14,15,16;BYMINUTE=0,20,40":           "BYHOUR=9,10,11,12,13,14,15,16: a rule says which dates",
		"FREQ=MINUTELY;INTERVAL=20;BYHOUR=9,10,11,12,13,14,15,16":             "FREQ=MINUTELY: want DAILY",
		"FREQ=YEARLY;INTERVAL=2;BYMONTH=1;BYDAY=SU;BYHOUR=8,9;\n BYMINUTE=30": "BYHOUR=8,9", // section 3.3.10
		"FREQ=DAILY;UNTIL=19971224T000000Z":                                   "UNTIL=19971224T000000Z: want the last date alone, such as 19971224",
	} {
		if _, err := ParseRule(rule); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("ParseRule(%s): %v; want an error with %q", rule, err, want)
		}
	}
}

// What section 3.3.10 says in its text with figures.
func TestRFC5545Prose(t *testing.T) {
	year := func(rule, start, from, to string) []Date {
		return mustRule(rule).Between(mustDate(start), mustDate(from), mustDate(to))
	}
	// Day -306 of a year is 1 March, in leap years too.
	for _, from := range []string{"2023", "2024"} {
		got := year("FREQ=YEARLY;BYYEARDAY=-306", "2020-01-01", from+"-01-01", from+"-12-31")
		if !slices.Equal(got, []Date{mustDate(from + "-03-01")}) {
			t.Errorf("day -306 of %s: %v", from, got)
		}
	}
	// Its note: week 53 exists only when 1 January is a Thursday, or a Wednesday in
	// a leap year.
	start := mustDate("1990-01-01")
	for y := 1990; y <= 2060; y++ {
		first := civil(y, time.January, 1)
		want := first.Weekday() == time.Thursday || first.Weekday() == time.Wednesday && daysInYear(y) == 366
		// The Thursday of a week lies in the year the week is numbered in.
		got := mustRule("FREQ=YEARLY;BYWEEKNO=53;BYDAY=TH").Between(start, first, civil(y, time.December, 31))
		if (len(got) == 1) != want || len(got) > 1 {
			t.Errorf("week 53 of %d: %v; want one: %v", y, got, want)
		}
	}
}
