package calendar

import (
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"
	"pgregory.net/rapid"
)

// mustDate reads a date that the test itself wrote.
func mustDate(text string) Date {
	d, err := ParseDate(text)
	if err != nil {
		panic(err)
	}
	return d
}

func mustClock(text string) Clock {
	c, err := ParseClock(text)
	if err != nil {
		panic(err)
	}
	return c
}

func mustRule(text string) Rule {
	r, err := ParseRule(text)
	if err != nil {
		panic(err)
	}
	return r
}

func TestDateDayNumbers(t *testing.T) {
	for text, want := range map[string]Date{
		"1970-01-01": 0,
		"1969-12-31": -1,
		"2000-02-29": 11016, // POSIX: 951782400 s / 86400
		"2001-09-09": 11574, // the day of the Unix second 1,000,000,000
		"2038-01-19": 24855, // the day of the Unix second 2^31-1
		"0001-01-01": FirstDate,
		"9999-12-31": LastDate,
	} {
		got, err := ParseDate(text)
		if err != nil || got != want {
			t.Errorf("ParseDate(%s) = %d, %v; want %d", text, got, err, want)
		}
		if want.String() != text {
			t.Errorf("Date(%d).String() = %s; want %s", want, want, text)
		}
	}
	if got := mustDate("2026-10-01").Weekday(); got != time.Thursday {
		t.Errorf("1 October 2026 is a %v; want Thursday", got)
	}
}

// Every date of the calendar is written and read back, and follows the day before
// by the rules of the Gregorian calendar, counted here by hand.
func TestDateEveryDay(t *testing.T) {
	y, m, day := 1, 1, 1
	for d := FirstDate; d <= LastDate; d++ {
		if gy, gm, gd := d.Civil(); gy != y || int(gm) != m || gd != day {
			t.Fatalf("Date(%d) is %d-%d-%d; want %d-%d-%d", d, gy, gm, gd, y, m, day)
		}
		if back, err := NewDate(y, time.Month(m), day); err != nil || back != d {
			t.Fatalf("NewDate(%d, %d, %d) = %d, %v; want %d", y, m, day, back, err, d)
		}
		if y%100 == 0 { // writing all 3.6 million is slow; leap rules change by century
			if back, err := ParseDate(d.String()); err != nil || back != d {
				t.Fatalf("ParseDate(%s) = %d, %v; want %d", d, back, err, d)
			}
		}
		length := []int{31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31}[m-1]
		if m == 2 && (y%4 == 0 && y%100 != 0 || y%400 == 0) {
			length = 29
		}
		if day++; day > length {
			day, m = 1, m+1
		}
		if m > 12 {
			m, y = 1, y+1
		}
	}
}

func TestDateRefusals(t *testing.T) {
	for text, want := range map[string]string{
		"2026-02-30":  "February 2026 has days 1 to 28",
		"2024-02-30":  "February 2024 has days 1 to 29",
		"1900-02-29":  "February 1900 has days 1 to 28",
		"2026-04-31":  "April 2026 has days 1 to 30",
		"2026-00-10":  "month 0",
		"2026-13-01":  "month 13",
		"2026-01-00":  "does not exist",
		"0000-01-01":  "year 0",
		"2026-3-08":   "ten characters",
		"2026-03-8":   "ten characters",
		"20260308":    "ten characters",
		"2026/03/08":  "ten characters",
		" 2026-03-08": "ten characters",
		"2026-03-08 ": "ten characters",
		"+026-03-08":  "ten characters",
		"2026-+3-08":  "ten characters",
		"٢٠٢٦-03-08":  "ten characters",
		"":            "ten characters",
	} {
		if got, err := ParseDate(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("ParseDate(%q) = %v, %v; want an error with %q", text, got, err, want)
		}
	}
	for _, d := range []Date{FirstDate - 1, LastDate + 1, math.MinInt32, math.MaxInt32} {
		if text, err := d.MarshalText(); err == nil {
			t.Errorf("Date(%d) was written as %s; want an error", d, text)
		}
	}
}

func TestDateArithmeticStopsAtTheEnds(t *testing.T) {
	d := mustDate("2026-03-08")
	for _, n := range []int{math.MaxInt, math.MaxInt32, int(LastDate-d) + 1} {
		if d.AddDays(n) != LastDate || d.AddMonths(n) != LastDate {
			t.Errorf("adding %d: days %v, months %v; want %v", n, d.AddDays(n), d.AddMonths(n), LastDate)
		}
	}
	for _, n := range []int{math.MinInt, math.MinInt32, int(FirstDate-d) - 1} {
		if d.AddDays(n) != FirstDate || d.AddMonths(n) != FirstDate {
			t.Errorf("adding %d: days %v, months %v; want %v", n, d.AddDays(n), d.AddMonths(n), FirstDate)
		}
	}
	if got := mustDate("9999-11-30").AddMonths(1); got != mustDate("9999-12-30") {
		t.Errorf("the last month is not reached: %v", got)
	}
	if got := mustDate("0001-02-28").AddMonths(-1); got != mustDate("0001-01-28") {
		t.Errorf("the first month is not reached: %v", got)
	}
}

// The spreadsheet functions EDATE and WORKDAY.INTL, computed by a library we did
// not write, are the outside check of month and working-day arithmetic. Excel
// counts days from 30 December 1899 for dates after February 1900.
func sheetDate(t *testing.T, f *excelize.File, formula string) Date {
	t.Helper()
	if err := f.SetCellFormula("Sheet1", "A1", formula); err != nil {
		t.Fatal(err)
	}
	text, err := f.CalcCellValue("Sheet1", "A1", excelize.Options{RawCellValue: true})
	if err != nil {
		t.Fatalf("%s: %v", formula, err)
	}
	n, err := strconv.Atoi(text)
	if err != nil {
		t.Fatalf("%s = %q: %v", formula, text, err)
	}
	return mustDate("1899-12-30").AddDays(n)
}

func serial(d Date) int { return int(d - mustDate("1899-12-30")) }

func TestAddMonths(t *testing.T) {
	f := excelize.NewFile()
	defer f.Close()
	check := func(d Date, n int, want Date) {
		t.Helper()
		if got := d.AddMonths(n); got != want {
			t.Errorf("%v.AddMonths(%d) = %v; want %v", d, n, got, want)
		}
	}
	check(mustDate("2026-08-31"), 6, mustDate("2027-02-28"))
	check(mustDate("2027-08-31"), 6, mustDate("2028-02-29"))
	check(mustDate("2028-02-29"), 12, mustDate("2029-02-28"))
	check(mustDate("2026-03-31"), -1, mustDate("2026-02-28"))
	check(mustDate("2026-01-31"), 0, mustDate("2026-01-31"))
	for d := mustDate("2023-12-20"); d < mustDate("2024-04-05"); d += 3 {
		for _, n := range []int{-25, -12, -1, 1, 2, 6, 11, 12, 18, 24, 120} {
			check(d, n, sheetDate(t, f, fmt.Sprintf("EDATE(%d,%d)", serial(d), n)))
		}
	}
}

func TestDateJSON(t *testing.T) {
	type lot struct {
		BestBy Date         `json:"best_by"`
		Closed map[Date]int `json:"closed"`
		Opens  Clock        `json:"opens"`
	}
	in := lot{mustDate("2027-02-28"), map[Date]int{mustDate("2026-12-25"): 1}, mustClock("05:30")}
	text, err := json.Marshal(in)
	if want := `{"best_by":"2027-02-28","closed":{"2026-12-25":1},"opens":"05:30"}`; err != nil || string(text) != want {
		t.Fatalf("got %s, %v; want %s", text, err, want)
	}
	var out lot
	if err := json.Unmarshal(text, &out); err != nil || out.BestBy != in.BestBy || out.Opens != in.Opens || out.Closed[mustDate("2026-12-25")] != 1 {
		t.Fatalf("got %+v, %v; want %+v", out, err, in)
	}
	if err := json.Unmarshal([]byte(`{"best_by":"2027-02-29"}`), &out); err == nil {
		t.Error("29 February 2027 was read")
	}
	if err := json.Unmarshal([]byte(`{"opens":"5:30"}`), &out); err == nil {
		t.Error("5:30 was read")
	}
}

func TestClock(t *testing.T) {
	for text, want := range map[string]Clock{"00:00": 0, "05:30": 19800, "23:59": 86340, "23:59:59": 86399, "00:00:01": 1} {
		got, err := ParseClock(text)
		if err != nil || got != want || got.String() != text {
			t.Errorf("ParseClock(%s) = %d (%v), %v; want %d", text, got, got, err, want)
		}
	}
	for text, want := range map[string]string{
		"24:00": "00:00 of the next date", "5:30": "such as 05:30", "05:60": "23:59", "25:00": "23:59", "05:30:60": "23:59",
		"05:30:00": "no seconds", "": "such as", "05-30": "such as", "05:30 ": "such as", "+5:30": "such as", "0530": "such as", "05:30:": "such as",
	} {
		if got, err := ParseClock(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("ParseClock(%q) = %v, %v; want an error with %q", text, got, err, want)
		}
	}
	for _, c := range []Clock{-1, secondsPerDay} {
		if text, err := c.MarshalText(); err == nil {
			t.Errorf("Clock(%d) was written as %s; want an error", c, text)
		}
	}
}

func TestWorkingDays(t *testing.T) {
	week := WorkingDays{Weekdays: [7]bool{false, true, true, true, true, true, false}}
	// Thursday 2 July 2026, the Friday kept as Independence Day: by hand on a paper
	// calendar the 7th working day is Tuesday 14 July.
	week.Closed = map[Date]bool{mustDate("2026-07-03"): true}
	if got := week.Add(mustDate("2026-07-02"), 7); got != mustDate("2026-07-14") {
		t.Errorf("7 working days after 2 July 2026: %v; want 2026-07-14", got)
	}
	// The outside check: the spreadsheet function, over the turn of a year.
	f := excelize.NewFile()
	defer f.Close()
	week.Closed = map[Date]bool{mustDate("2026-12-25"): true, mustDate("2027-01-01"): true}
	for i, d := range []Date{mustDate("2026-12-25"), mustDate("2027-01-01")} {
		if err := f.SetCellInt("Sheet1", fmt.Sprintf("B%d", i+1), int64(serial(d))); err != nil {
			t.Fatal(err)
		}
	}
	// Backwards it is asked without closed days only: counting back over a holiday,
	// excelize 2.11.1 answers 1 January 2027 itself, which is on the list it was given.
	open := WorkingDays{Weekdays: week.Weekdays}
	for d := mustDate("2026-12-15"); d <= mustDate("2027-01-08"); d++ {
		for _, n := range []int{1, 2, 5, 7, 10} {
			want := sheetDate(t, f, fmt.Sprintf(`WORKDAY.INTL(%d,%d,"0000011",B1:B2)`, serial(d), n))
			if got := week.Add(d, n); got != want {
				t.Errorf("Add(%v, %d) = %v; the spreadsheet says %v", d, n, got, want)
			}
			want = sheetDate(t, f, fmt.Sprintf(`WORKDAY.INTL(%d,%d,"0000011")`, serial(d), -n))
			if got := open.Add(d, -n); got != want {
				t.Errorf("Add(%v, %d) = %v; the spreadsheet says %v", d, -n, got, want)
			}
		}
	}
}

func TestWorkingDaysSlow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := WorkingDays{Closed: map[Date]bool{}}
		for i := range w.Weekdays {
			w.Weekdays[i] = rapid.Bool().Draw(t, "works")
		}
		if w.Weekdays == [7]bool{} {
			w.Weekdays[3] = true
		}
		d := Date(rapid.IntRange(20000, 21000).Draw(t, "d"))
		for _, off := range rapid.SliceOfN(rapid.IntRange(-40, 40), 0, 30).Draw(t, "closed") {
			w.Closed[d+Date(off)] = true
		}
		n := rapid.IntRange(1, 20).Draw(t, "n")
		// The n-th working day after d is the one working day with n of them in (d, it].
		worked := func(from, to Date) (k int) {
			for x := from; x <= to; x++ {
				if w.Works(x) {
					k++
				}
			}
			return k
		}
		if got := w.Add(d, n); !w.Works(got) || worked(d+1, got) != n {
			t.Fatalf("Add(%v, %d) = %v, worked %d", d, n, got, worked(d+1, got))
		}
		if got := w.Add(d, -n); !w.Works(got) || worked(got, d-1) != n {
			t.Fatalf("Add(%v, %d) = %v, worked %d", d, -n, got, worked(got, d-1))
		}
		if got := w.Add(d, 0); got != d {
			t.Fatalf("Add(%v, 0) = %v", d, got)
		}
	})
}

func TestWorkingDaysStops(t *testing.T) {
	d := mustDate("2026-07-02")
	if got := (WorkingDays{}).Add(d, 7); got != d+7 {
		t.Errorf("no day worked: %v; want %v, every date counted", got, d+7)
	}
	mondays := WorkingDays{Weekdays: [7]bool{time.Monday: true}}
	if got := mondays.Add(d, math.MaxInt); got != LastDate {
		t.Errorf("too many: %v; want %v", got, LastDate)
	}
	if got := mondays.Add(d, math.MinInt); got != FirstDate {
		t.Errorf("too many back: %v; want %v", got, FirstDate)
	}
	if got := mondays.Add(LastDate, 1); got != LastDate {
		t.Errorf("past the end: %v; want %v", got, LastDate)
	}
	closed := WorkingDays{Weekdays: mondays.Weekdays, Closed: map[Date]bool{}}
	for i := range 1000 {
		closed.Closed[d+Date(i)] = true
	}
	if got := closed.Add(d, 1); got != mustDate("2029-04-02") {
		t.Errorf("after 1000 closed days: %v; want Monday 2029-04-02", got)
	}
}

func FuzzParseDate(f *testing.F) {
	for _, s := range []string{"2026-03-08", "2024-02-29", "0001-01-01", "9999-12-31", "2026-02-30", "-026-01-01"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if d, err := ParseDate(s); err == nil && (d.String() != s || d < FirstDate || d > LastDate) {
			t.Errorf("%q was read as %d, written %s", s, d, d)
		}
	})
}

func FuzzParseClock(f *testing.F) {
	for _, s := range []string{"05:30", "23:59:59", "24:00", "00:00", "05:30:00"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if c, err := ParseClock(s); err == nil && (c.String() != s || c < 0 || c >= secondsPerDay) {
			t.Errorf("%q was read as %d, written %s", s, c, c)
		}
	})
}
