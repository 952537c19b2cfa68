package calendar

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func mustZone(t testing.TB, name string) *time.Location {
	t.Helper()
	zone, err := LoadZone(name)
	if err != nil {
		t.Fatal(err)
	}
	return zone
}

// Every date and offset here is from the IANA time zone database's own files and
// the announcements they cite; the New York rows are those of standards.md section 3.
func TestAtKnownChanges(t *testing.T) {
	for _, c := range []struct{ zone, date, clock, want string }{
		{"America/New_York", "2026-03-08", "01:59", "2026-03-08T01:59:00-05:00"},
		{"America/New_York", "2026-03-08", "02:00", "2026-03-08T03:00:00-04:00"},
		{"America/New_York", "2026-03-08", "02:30", "2026-03-08T03:00:00-04:00"}, // time.Date: 01:30-05:00
		{"America/New_York", "2026-03-08", "03:00", "2026-03-08T03:00:00-04:00"},
		{"America/New_York", "2026-11-01", "00:59", "2026-11-01T00:59:00-04:00"},
		{"America/New_York", "2026-11-01", "01:00", "2026-11-01T01:00:00-04:00"},
		{"America/New_York", "2026-11-01", "01:30", "2026-11-01T01:30:00-04:00"},
		{"America/New_York", "2026-11-01", "02:00", "2026-11-01T02:00:00-05:00"},
		{"Europe/Dublin", "2026-03-29", "01:30", "2026-03-29T02:00:00+01:00"}, // its winter time is the "saving" one
		{"Australia/Lord_Howe", "2026-10-04", "02:15", "2026-10-04T02:30:00+11:00"},
		{"Australia/Lord_Howe", "2026-04-05", "01:45", "2026-04-05T01:45:00+11:00"},
		{"Pacific/Apia", "2011-12-29", "23:59:59", "2011-12-29T23:59:59-10:00"},
		{"Pacific/Apia", "2011-12-30", "00:00", "2011-12-31T00:00:00+14:00"}, // a whole day skipped
		{"Pacific/Apia", "2011-12-30", "09:00", "2011-12-31T00:00:00+14:00"},
		{"Pacific/Apia", "2011-12-31", "09:00", "2011-12-31T09:00:00+14:00"},
		{"America/Sao_Paulo", "2018-11-04", "00:00", "2018-11-04T01:00:00-02:00"}, // the gap begins the day
		{"America/Sao_Paulo", "2018-02-17", "23:30", "2018-02-17T23:30:00-02:00"}, // the overlap ends it
		{"Asia/Beirut", "2022-03-27", "00:30", "2022-03-27T01:00:00+03:00"},
		{"Africa/Casablanca", "2026-02-15", "02:30", "2026-02-15T02:30:00+01:00"}, // put back for Ramadan
		{"Pacific/Kwajalein", "1993-08-21", "12:00", "1993-08-22T00:00:00+12:00"}, // another skipped day
	} {
		got := At(mustDate(c.date), mustClock(c.clock), mustZone(t, c.zone))
		if text := got.Format(time.RFC3339); text != c.want {
			t.Errorf("%s %s %s: %s; want %s", c.zone, c.date, c.clock, text, c.want)
		}
	}
}

// zones to scan: every kind of change in use since 1990, on each continent.
var zones = []string{
	"America/New_York", "America/Chicago", "America/Denver", "America/Los_Angeles", "America/Anchorage", "America/Phoenix",
	"America/St_Johns", "America/Halifax", "America/Havana", "America/Mexico_City", "America/Caracas", "America/Sao_Paulo",
	"America/Santiago", "America/Asuncion", "America/Nuuk", "America/Scoresbysund", "America/Argentina/San_Luis",
	"America/Indiana/Indianapolis", "Europe/London", "Europe/Dublin", "Europe/Berlin", "Europe/Lisbon", "Europe/Istanbul",
	"Europe/Moscow", "Europe/Volgograd", "Africa/Cairo", "Africa/Casablanca", "Africa/Windhoek", "Africa/Tripoli",
	"Asia/Beirut", "Asia/Gaza", "Asia/Tehran", "Asia/Amman", "Asia/Kathmandu", "Asia/Pyongyang", "Asia/Kolkata", "Asia/Dhaka",
	"Australia/Lord_Howe", "Australia/Sydney", "Australia/Eucla", "Pacific/Apia", "Pacific/Auckland", "Pacific/Chatham",
	"Pacific/Kiritimati", "Pacific/Kwajalein", "Pacific/Easter", "Antarctica/Troll", "UTC",
}

// Around every change of offset from 1990 to 2037, each minute of wall time is
// looked for by trying every minute of real time, which needs no thought about
// which offset applies.
func TestAtAgainstScan(t *testing.T) {
	for _, name := range zones {
		t.Run(strings.ReplaceAll(name, "/", "-"), func(t *testing.T) {
			zone := mustZone(t, name)
			for _, change := range offsetChanges(zone, 1990, 2037) {
				scanAround(t, zone, change)
			}
		})
	}
}

// offsetChanges finds the first Unix second of each new offset, by looking at the
// clock every quarter of an hour.
func offsetChanges(zone *time.Location, fromYear, toYear int) []int64 {
	offset := func(s int64) int { _, o := time.Unix(s, 0).In(zone).Zone(); return o }
	var out []int64
	end := time.Date(toYear+1, 1, 1, 0, 0, 0, 0, time.UTC).Unix()
	const step = 900
	for s := time.Date(fromYear, 1, 1, 0, 0, 0, 0, time.UTC).Unix(); s < end; s += step {
		if offset(s) == offset(s+step) {
			continue
		}
		at := s + 1
		for offset(at) != offset(s+step) {
			at++
		}
		out = append(out, at)
	}
	return out
}

func scanAround(t *testing.T, zone *time.Location, change int64) {
	t.Helper()
	if change%60 != 0 {
		t.Fatalf("a change at second %d of a minute: the scan by minutes would miss it", change%60)
	}
	wall := func(s int64) int64 { _, o := time.Unix(s, 0).In(zone).Zone(); return s + int64(o) }
	const reach = 28 * 3600
	first := map[int64]int64{} // wall minute to the first instant showing it
	for s := change - reach; s <= change+reach; s += 60 {
		if _, ok := first[wall(s)]; !ok {
			first[wall(s)] = s
		}
	}
	low, high := min(wall(change-60), wall(change))-7200, max(wall(change-60), wall(change))+7200
	var last time.Time
	for w := low; w <= high; w += 60 {
		want, shown := first[w]
		if !shown {
			want = change // the only jump near: a reading never shown lies in it
		}
		d := Date(floorDiv(int(w), secondsPerDay))
		c := Clock(w - int64(d)*secondsPerDay)
		got := At(d, c, zone)
		if got.Unix() != want {
			t.Fatalf("At(%v, %v) = %v; want %v (shown: %v)", d, c, got, time.Unix(want, 0).In(zone), shown)
		}
		if got.Before(last) {
			t.Fatalf("At(%v, %v) = %v, before the answer a minute earlier, %v", d, c, got, last)
		}
		last = got
		if shown && (DateOf(got, zone) != d || ClockOf(got, zone) != c) {
			t.Fatalf("At(%v, %v) reads back as %v %v", d, c, DateOf(got, zone), ClockOf(got, zone))
		}
	}
}

// Far from any list of changes: whatever instant one takes, the reading there
// leads back to it or to an earlier instant with the same reading.
func TestAtReadsBack(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		zone := mustZone(t, rapid.SampledFrom(zones).Draw(rt, "zone"))
		s := rapid.Int64Range(-3_000_000_000, 6_000_000_000).Draw(rt, "second") // 1874 to 2160
		at := time.Unix(s, rapid.Int64Range(0, 999_999_999).Draw(rt, "ns"))
		d, c := DateOf(at, zone), ClockOf(at, zone)
		y, m, day := at.In(zone).Date()
		if gy, gm, gd := d.Civil(); gy != y || gm != m || gd != day {
			rt.Fatalf("DateOf %v is %v", at.In(zone), d)
		}
		if h, mi, se := at.In(zone).Clock(); int(c) != h*3600+mi*60+se {
			rt.Fatalf("ClockOf %v is %v", at.In(zone), c)
		}
		back := At(d, c, zone)
		if back.After(at) || DateOf(back, zone) != d || ClockOf(back, zone) != c || back.Location() != zone {
			rt.Fatalf("%v reads %v %v, which At puts at %v", at.In(zone), d, c, back)
		}
	})
}

func TestDateOfStopsAtTheEnds(t *testing.T) {
	if got := DateOf(time.Unix(1<<40, 0), time.UTC); got != LastDate {
		t.Errorf("a moment past the calendar is on %v; want %v", got, LastDate)
	}
	if got := DateOf(time.Unix(-1<<40, 0), time.UTC); got != FirstDate {
		t.Errorf("a moment before the calendar is on %v; want %v", got, FirstDate)
	}
	if got := At(FirstDate, 0, mustZone(t, "America/New_York")); DateOf(got, got.Location()) != FirstDate {
		t.Errorf("the first midnight is %v", got)
	}
}

func TestAtFixedZone(t *testing.T) {
	zone := time.FixedZone("plant", -5*3600)
	if got := At(mustDate("2026-03-08"), mustClock("02:30"), zone).Format(time.RFC3339); got != "2026-03-08T02:30:00-05:00" {
		t.Errorf("got %s", got)
	}
}

func TestLoadZone(t *testing.T) {
	for name, want := range map[string]string{
		"": "none given", "Local": "another zone on each machine", "local": "another zone on each machine",
		"Mars/Olympus": "such as America/New_York", "../etc/passwd": "such as America/New_York",
		"right/UTC": `leave out "right/"`, "posix/UTC": `leave out "posix/"`,
	} {
		if _, err := LoadZone(name); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("LoadZone(%q): %v; want an error with %q", name, err, want)
		}
	}
	if zone := mustZone(t, "America/New_York"); zone.String() != "America/New_York" {
		t.Errorf("got %v", zone)
	}
}

func BenchmarkAt(b *testing.B) {
	zone := mustZone(b, "America/New_York")
	d, c := mustDate("2026-03-08"), mustClock("02:30")
	for b.Loop() {
		At(d, c, zone)
	}
}

// A Wall, whatever it read before, answers as At does.
func TestWallAgainstAt(t *testing.T) {
	zones := []string{"America/New_York", "Europe/Madrid", "Australia/Lord_Howe", "America/Havana", "Pacific/Apia", "Asia/Kathmandu", "UTC"}
	rapid.Check(t, func(t *rapid.T) {
		zone, err := LoadZone(rapid.SampledFrom(zones).Draw(t, "zone"))
		if err != nil {
			t.Fatal(err)
		}
		w := Wall{Zone: zone}
		d := Date(rapid.IntRange(-40_000, 80_000).Draw(t, "day"))
		for range rapid.IntRange(1, 40).Draw(t, "readings") {
			d = d.AddDays(rapid.SampledFrom([]int{0, 0, 1, 1, 1, 7, -1, 30, 182}).Draw(t, "days"))
			c := Clock(rapid.IntRange(0, 24*60-1).Draw(t, "minute") * 60)
			if got, want := w.At(d, c), At(d, c, zone); !got.Equal(want) || got.String() != want.String() {
				t.Fatalf("%s %s in %s: %s, At gives %s", d, c, zone, got, want)
			}
		}
	})
}
