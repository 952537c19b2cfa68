package calendar

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestParseRuleRefusals(t *testing.T) {
	for text, want := range map[string]string{
		"":                                      "NAME=VALUE",
		"FREQ":                                  "NAME=VALUE",
		"FREQ=DAILY;":                           "NAME=VALUE",
		"INTERVAL=2":                            "FREQ is missing",
		"FREQ=":                                 "FREQ=: want DAILY, WEEKLY, MONTHLY or YEARLY",
		"FREQ=FORTNIGHTLY":                      "FREQ=FORTNIGHTLY: want DAILY, WEEKLY, MONTHLY or YEARLY",
		"FREQ=HOURLY":                           "each time of day is written beside a rule of its own",
		"FREQ=MINUTELY":                         "FREQ=MINUTELY",
		"FREQ=SECONDLY":                         "FREQ=SECONDLY",
		"FREQ=DAILY;BYHOUR=9":                   "BYHOUR=9: a rule says which dates",
		"FREQ=DAILY;BYMINUTE=9":                 "BYMINUTE=9",
		"FREQ=DAILY;BYSECOND=9":                 "BYSECOND=9",
		"FREQ=DAILY;INTERVAL=0":                 "INTERVAL=0: want a number from 1",
		"FREQ=DAILY;INTERVAL=-1":                "INTERVAL=-1: want a number from 1",
		"FREQ=DAILY;INTERVAL=+1":                "INTERVAL=+1: want a number from 1",
		"FREQ=DAILY;INTERVAL=10000":             "INTERVAL=10000: want a number from 1 to 9999",
		"FREQ=DAILY;COUNT=0":                    "COUNT=0: want a number from 1",
		"FREQ=DAILY;COUNT=18446744073709551617": "COUNT=18446744073709551617: want a number",
		"FREQ=DAILY;COUNT=3;UNTIL=20260103":     "COUNT with UNTIL",
		"FREQ=DAILY;UNTIL=2026-01-03":           "UNTIL=2026-01-03: want the last date as year, month, day",
		"FREQ=DAILY;UNTIL=20260230":             "February 2026 has days 1 to 28",
		"FREQ=DAILY;UNTIL=20260103T090000":      "the last date alone, such as 20260103",
		"FREQ=DAILY;FREQ=DAILY":                 "FREQ is given twice",
		"FREQ=DAILY;BYMONTH=1;BYMONTH=2":        "BYMONTH=2: BYMONTH is given twice",
		"FREQ=WEEKLY;BYDAY=MO,TU,MO":            `"MO" is given twice`,
		"FREQ=MONTHLY;BYDAY=1MO,+1MO":           `"+1MO" is given twice`,
		"FREQ=MONTHLY;BYMONTHDAY=1,01":          `"01" is given twice`,
		"FREQ=WEEKLY;BYDAY=MONDAY":              `"MONDAY": want one of MO`,
		"FREQ=WEEKLY;BYDAY=M":                   `"M": want one of MO`,
		"FREQ=WEEKLY;BYDAY=":                    `"": want one of MO`,
		"FREQ=WEEKLY;BYDAY=MO,":                 `"": want one of MO`,
		"FREQ=WEEKLY;BYDAY=MO, TU":              `" TU": ordinal`,
		"FREQ=MONTHLY;BYDAY=0MO":                `"0MO": ordinal: want a number from 1 to 53, or -53 to -1`,
		"FREQ=YEARLY;BYDAY=54MO":                `"54MO": ordinal`,
		"FREQ=YEARLY;BYDAY=--1MO":               `"--1MO": ordinal`,
		"FREQ=MONTHLY;BYDAY=6MO":                "beyond 5 in a month",
		"FREQ=YEARLY;BYMONTH=3;BYDAY=-6MO":      "beyond 5 in a month",
		"FREQ=WEEKLY;BYDAY=1MO":                 "BYDAY with an ordinal and FREQ=WEEKLY",
		"FREQ=DAILY;BYDAY=1MO":                  "BYDAY with an ordinal and FREQ=DAILY",
		"FREQ=YEARLY;BYWEEKNO=20;BYDAY=1MO":     "BYDAY with an ordinal and BYWEEKNO",
		"FREQ=MONTHLY;BYMONTHDAY=32":            `"32": want a number from 1 to 31, or -31 to -1`,
		"FREQ=MONTHLY;BYMONTHDAY=0":             `"0": want a number from 1 to 31`,
		"FREQ=MONTHLY;BYMONTHDAY=-32":           `"-32": want a number from 1 to 31`,
		"FREQ=WEEKLY;BYMONTHDAY=3":              "BYMONTHDAY with FREQ=WEEKLY",
		"FREQ=YEARLY;BYYEARDAY=367":             `"367": want a number from 1 to 366`,
		"FREQ=DAILY;BYYEARDAY=3":                "BYYEARDAY with FREQ=DAILY: want FREQ=YEARLY",
		"FREQ=MONTHLY;BYYEARDAY=3":              "BYYEARDAY with FREQ=MONTHLY",
		"FREQ=YEARLY;BYWEEKNO=54":               `"54": want a number from 1 to 53`,
		"FREQ=MONTHLY;BYWEEKNO=3":               "BYWEEKNO with FREQ=MONTHLY: want FREQ=YEARLY",
		"FREQ=YEARLY;BYMONTH=13":                `"13": want a number from 1 to 12`,
		"FREQ=YEARLY;BYMONTH=-1":                `"-1": want a number from 1 to 12`,
		"FREQ=MONTHLY;BYSETPOS=1":               "BYSETPOS alone",
		"FREQ=MONTHLY;BYDAY=MO;BYSETPOS=0":      `"0": want a number from 1 to 366`,
		"FREQ=MONTHLY;BYDAY=MO;BYSETPOS=-367":   `"-367": want a number from 1 to 366`,
		"FREQ=WEEKLY;WKST=1":                    "WKST=1: want one of MO",
		"FREQ=WEEKLY;BYEASTER=1":                "BYEASTER=1: unknown part: want FREQ",
		"FREQ=WEEKLY;SKIP=OMIT":                 "SKIP=OMIT: unknown part", // RFC 7529, not taken up
		"FREQ=WEEKLY; BYDAY=MO":                 " BYDAY=MO: unknown part",
		"RRULE:RRULE:FREQ=WEEKLY":               "RRULE:FREQ=WEEKLY: unknown part",
		"FREQ=DA\u0131LY":                       "want DAILY", // a dotless i, whose capital is I
	} {
		if r, err := ParseRule(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("ParseRule(%q) = %v, %v; want an error with %q", text, r, err, want)
		} else if !r.IsZero() {
			t.Errorf("ParseRule(%q) gave the rule %v beside its error", text, r)
		}
	}
}

func TestRuleCanonical(t *testing.T) {
	for text, want := range map[string]string{
		"freq=daily":                          "FREQ=DAILY",
		"rrule:Freq=Daily;interval=1;wkst=mo": "FREQ=DAILY",
		"RRULE:BYDAY=-1FR,+2tu,MO;INTERVAL=02;FREQ=MONTHLY;BYMONTHDAY=-1,31,7":        "FREQ=MONTHLY;INTERVAL=2;BYMONTHDAY=7,31,-1;BYDAY=MO,2TU,-1FR",
		"WKST=SU;BYDAY=SU,TU;UNTIL=20261231;FREQ=WEEKLY":                              "FREQ=WEEKLY;UNTIL=20261231;BYDAY=TU,SU;WKST=SU",
		"FREQ=YEARLY;COUNT=3;BYSETPOS=-1,1;BYWEEKNO=53,-1;BYMONTH=12,1;BYYEARDAY=366": "FREQ=YEARLY;COUNT=3;BYMONTH=1,12;BYWEEKNO=53,-1;BYYEARDAY=366;BYSETPOS=1,-1",
	} {
		r, err := ParseRule(text)
		if err != nil || r.String() != want {
			t.Errorf("ParseRule(%s) is %v, %v; want %s", text, r, err, want)
		}
		if r != mustRule(want) {
			t.Errorf("%s and %s differ", text, want)
		}
	}
}

func TestRuleJSON(t *testing.T) {
	type task struct {
		When Rule `json:"when"`
	}
	var in task
	if err := json.Unmarshal([]byte(`{"when":"freq=weekly;byday=mo"}`), &in); err != nil {
		t.Fatal(err)
	}
	if text, err := json.Marshal(in); err != nil || string(text) != `{"when":"FREQ=WEEKLY;BYDAY=MO"}` {
		t.Errorf("got %s, %v", text, err)
	}
	if err := json.Unmarshal([]byte(`{"when":""}`), &in); err == nil {
		t.Error("an empty rule was read")
	}
	if text, err := json.Marshal(task{}); err == nil {
		t.Errorf("no rule was written as %s", text)
	}
}

func TestBetweenAlwaysStops(t *testing.T) {
	start := mustDate("2026-01-31")
	for text, want := range map[string]int{
		"FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30":                    0,
		"FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30;COUNT=3":            0,
		"FREQ=MONTHLY;INTERVAL=12;BYMONTHDAY=-31;BYMONTH=4":      0,
		"FREQ=DAILY;BYMONTH=4;BYMONTHDAY=31;COUNT=1":             0,
		"FREQ=MONTHLY;BYDAY=MO;BYSETPOS=6":                       0,
		"FREQ=YEARLY;INTERVAL=2;BYMONTH=2;BYMONTHDAY=29;COUNT=5": 5,
		"FREQ=YEARLY;INTERVAL=9999":                              1,
	} {
		r := mustRule(text)
		if got := r.Between(start, start, LastDate); len(got) != want {
			t.Errorf("%s has %d instances; want %d", text, len(got), want)
		}
	}
	if got := (Rule{}).Between(start, start, LastDate); got != nil {
		t.Errorf("the zero rule has %v", got)
	}
}

func TestBetweenEnds(t *testing.T) {
	start, r := mustDate("2026-03-02"), mustRule("FREQ=WEEKLY;BYDAY=MO")
	for _, c := range []struct {
		from, to string
		want     []Date
	}{
		{"2026-01-01", "2026-03-09", []Date{start, start + 7}}, // nothing before start
		{"2026-03-09", "2026-03-09", []Date{start + 7}},        // both ends belong
		{"2026-03-10", "2026-03-15", nil},
		{"2026-03-10", "2026-03-09", nil},
		{"2025-01-01", "2026-03-01", nil},
		{"9999-12-20", "9999-12-31", []Date{mustDate("9999-12-20"), mustDate("9999-12-27")}},
	} {
		if got := r.Between(start, mustDate(c.from), mustDate(c.to)); !slices.Equal(got, c.want) {
			t.Errorf("from %s to %s: %v; want %v", c.from, c.to, got, c.want)
		}
	}
	// A start that does not match is neither an instance nor counted.
	got := mustRule("FREQ=WEEKLY;BYDAY=WE;COUNT=2").Between(start, start, LastDate)
	if !slices.Equal(got, []Date{start + 2, start + 9}) {
		t.Errorf("unmatched start: %v", got)
	}
	// Weeks that reach over the ends of the calendar.
	all := mustRule("FREQ=WEEKLY;BYDAY=MO,TU,WE,TH,FR,SA,SU;BYSETPOS=1,-1;WKST=WE")
	if got := all.Between(FirstDate, FirstDate, FirstDate+8); !slices.Equal(got, []Date{mustDate("0001-01-02"), mustDate("0001-01-03"), mustDate("0001-01-09")}) {
		t.Errorf("at the first date: %v", got)
	}
	if got := all.Between(LastDate-9, LastDate-9, LastDate); !slices.Equal(got, []Date{mustDate("9999-12-22"), mustDate("9999-12-28"), mustDate("9999-12-29")}) {
		t.Errorf("at the last date: %v", got)
	}
}

// Any piece of a rule's instances is what one gets by asking for that piece, so
// jumping ahead never loses step with INTERVAL or COUNT.
func TestBetweenIsOneSequence(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s := drawSpec(rt)
		r := mustRule(s.text())
		start := Date(rapid.IntRange(0, 30000).Draw(rt, "start"))
		from := start + Date(rapid.IntRange(-10, 3000).Draw(rt, "from"))
		to := from + Date(rapid.IntRange(0, 1500).Draw(rt, "to"))
		all := r.Between(start, start, to)
		i, _ := slices.BinarySearch(all, from)
		if got := r.Between(start, from, to); !slices.Equal(got, all[i:]) {
			rt.Fatalf("%v from %v, asked from %v to %v:\n got %v\nwant %v", r, start, from, to, got, all[i:])
		}
	})
}

func FuzzParseRule(f *testing.F) {
	for _, e := range rfcExamples {
		f.Add(e.rule)
	}
	f.Add("rrule:freq=yearly;byweekno=53,-1;byday=mo;bysetpos=-1")
	f.Add("FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30;COUNT=99999")
	f.Fuzz(func(t *testing.T, text string) {
		r, err := ParseRule(text)
		if err != nil {
			if r != (Rule{}) {
				t.Fatalf("%q: a rule beside the error %v", text, err)
			}
			return
		}
		back, err := ParseRule(r.String())
		if err != nil || back != r || back.String() != r.String() {
			t.Fatalf("%q is written %s, which reads as %v, %v", text, r, back, err)
		}
		start := mustDate("2023-12-31")
		got := r.Between(start, start, start+800)
		for i, d := range got {
			if d < start || d > start+800 || i > 0 && d <= got[i-1] {
				t.Fatalf("%s: %v out of order or range in %v", r, d, got)
			}
		}
	})
}

func BenchmarkBetween(b *testing.B) {
	start := mustDate("2021-01-04")
	for _, c := range []struct{ name, rule, from, to string }{
		{"daily/5-years", "FREQ=DAILY", "2021-01-04", "2026-01-03"},
		{"daily/5-years-weekdays", "FREQ=DAILY;BYDAY=MO,TU,WE,TH,FR", "2021-01-04", "2026-01-03"},
		{"weekly/5-years", "FREQ=WEEKLY;BYDAY=MO,TH", "2021-01-04", "2026-01-03"},
		{"monthly/5-years-last-workday", "FREQ=MONTHLY;BYDAY=MO,TU,WE,TH,FR;BYSETPOS=-1", "2021-01-04", "2026-01-03"},
		{"daily/one-week-a-century-on", "FREQ=DAILY;INTERVAL=2", "2121-01-04", "2121-01-10"},
		{"daily/one-week-5-years-on-with-count", "FREQ=DAILY;COUNT=9999", "2026-01-04", "2026-01-10"},
	} {
		r, from, to := mustRule(c.rule), mustDate(c.from), mustDate(c.to)
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				r.Between(start, from, to)
			}
		})
	}
}
