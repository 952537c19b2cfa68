package calendar

import (
	"testing"
	"time"
)

// Long after the zone files' last written-out change, a mistyped year must neither hang nor be off: every reading of every
// last and first week of a year comes back as it was asked, and never earlier than the one before.
func TestAtFarAhead(t *testing.T) {
	for _, name := range []string{"America/New_York", "Europe/Berlin", "Australia/Lord_Howe", "America/Santiago", "UTC"} {
		zone, err := LoadZone(name)
		if err != nil {
			t.Fatal(err)
		}
		for year := 2036; year <= 2199; year++ {
			last, err := NewDate(year, time.December, 26)
			if err != nil {
				t.Fatal(err)
			}
			before := At(last.AddDays(-1), 0, zone)
			for day := last; day < last.AddDays(12); day++ {
				for _, c := range []Clock{0, 3600, 5*3600 + 1800, 12 * 3600, 19 * 3600, secondsPerDay - 1} {
					at := At(day, c, zone)
					if DateOf(at, zone) != day || ClockOf(at, zone) != c {
						t.Fatalf("%s %s %s is %s", name, day, c, at)
					}
					if !at.After(before) {
						t.Fatalf("%s %s %s is not after the reading before it", name, day, c)
					}
					before = at
				}
			}
		}
	}
}
