package calendar

import (
	"fmt"
	"math"
	"strings"
	"time"
	_ "time/tzdata" // a plant's tablet or a bare Windows machine may have no zone files
)

// widestOffset bounds how far a zone's wall clock may stand from UTC. RFC 9636
// section 3.2 asks writers of zone files to stay within -25 h and +26 h.
const widestOffset = 26 * time.Hour

// At is the instant at which a wall clock in zone shows c on date d.
//
// Where the clock was put forward over that reading (a spring gap) it is the
// first instant after the gap; where it was put back and shows the reading twice
// (an autumn overlap) it is the first of the two. RFC 5545 would ignore the
// former; a duty must not vanish because a clock changed, so we do not (see the
// package comment). time.Date promises nothing here: for 02:30 in New York on
// 8 March 2026 it answers 01:30, before the gap.
//
// The answer is in zone, and a later reading never gives an earlier instant.
func At(d Date, c Clock, zone *time.Location) time.Time {
	// wall is the reading as if it were UTC; a stretch of the zone with offset o
	// shows it at wall-o, if that instant lies within the stretch. Walk the
	// stretches that could, oldest first. Working from the zone's own table rather
	// than guessing from a neighbouring offset is what makes half-hour changes,
	// gaps at midnight and a skipped day no special cases.
	wall := time.Unix(int64(d)*secondsPerDay+int64(c), 0)
	from, to := wall.Add(-widestOffset).In(zone), wall.Add(widestOffset)
	var gapEnd time.Time
	for t := from; ; {
		start, end := stretch(t)
		_, offset := t.Zone()
		at := wall.Add(-time.Duration(offset) * time.Second)
		if (start.IsZero() || !at.Before(start)) && (end.IsZero() || at.Before(end)) {
			return at.In(zone)
		}
		// Jumped over: this stretch begins past the reading, and no earlier one
		// had reached it.
		if gapEnd.IsZero() && !start.IsZero() && at.Before(start) {
			gapEnd = start
		}
		if end.IsZero() || end.After(to) {
			return gapEnd.In(zone)
		}
		t = end
	}
}

// Wall reads one clock after the other, as At does, and quicker where they lie in one stretch of the zone's offsets, as most
// neighbours do. Zone must be set; by one goroutine at a time.
type Wall struct {
	Zone       *time.Location
	from, to   int64 // Unix seconds of the stretch read last
	offset     int64 // of its wall clock from UTC
	remembered bool
}

// At is the instant at which the wall clock shows a reading on a date; see the function At.
func (w *Wall) At(d Date, c Clock) time.Time {
	wall := int64(d)*secondsPerDay + int64(c)
	if t := wall - w.offset; w.remembered && w.from <= t && t < w.to {
		return time.Unix(t, 0).In(w.Zone)
	}
	at := At(d, c, w.Zone)
	start, end := stretch(at)
	_, offset := at.Zone()
	w.from, w.to, w.offset, w.remembered = math.MinInt64, math.MaxInt64, int64(offset), true
	if !start.IsZero() {
		// A reading soon after the stretch begins may have been shown before it already, and that one counts.
		w.from = start.Add(2 * widestOffset).Unix()
	}
	if !end.IsZero() {
		w.to = end.Unix()
	}
	return at
}

// stretch is the stretch of time around t with one offset; an end without bound is zero. It is ZoneBounds with neighbours
// of the same offset joined: around the last day of leap years after 2037, where zones are ruled by a formula, Go 1.26
// cuts a stretch where nothing changes, and even answers one that does not hold its own instant.
func stretch(t time.Time) (start, end time.Time) {
	start, end = t.ZoneBounds()
	_, offset := t.Zone()
	const day = 24 * time.Hour
	for !end.IsZero() {
		if _, after := end.Zone(); after != offset {
			break
		}
		_, further := end.ZoneBounds()
		if !further.IsZero() && !further.After(end) {
			further = end.Add(day)
		}
		end = further
	}
	for !start.IsZero() {
		before := start.Add(-time.Second)
		if _, was := before.Zone(); was != offset {
			break
		}
		earlier, _ := before.ZoneBounds()
		if !earlier.IsZero() && !earlier.Before(start) {
			earlier = start.Add(-day)
		}
		start = earlier
	}
	return start, end
}

// DateOf is the date on a wall calendar in zone at t.
func DateOf(t time.Time, zone *time.Location) Date {
	day := floorDiv(wallSeconds(t, zone), secondsPerDay)
	return Date(max(int(FirstDate), min(day, int(LastDate))))
}

// ClockOf is the reading of a wall clock in zone at t, in whole seconds.
func ClockOf(t time.Time, zone *time.Location) Clock {
	s := wallSeconds(t, zone)
	return Clock(s - floorDiv(s, secondsPerDay)*secondsPerDay)
}

func wallSeconds(t time.Time, zone *time.Location) int {
	_, offset := t.In(zone).Zone()
	return int(t.Unix()) + offset
}

// LoadZone finds a zone by its name in the IANA database, such as
// America/New_York. It refuses "" and "Local", which time.LoadLocation takes to
// mean UTC and the machine's own setting: records are read on other machines.
// The "right/" and "posix/" copies some systems carry beside the zones are
// refused too; the former count leap seconds and would be some 27 seconds off.
func LoadZone(name string) (*time.Location, error) {
	const want = "want a name from the IANA time zone database, such as America/New_York"
	switch {
	case name == "":
		return nil, fmt.Errorf("time zone: none given: %s", want)
	case strings.EqualFold(name, "local"):
		return nil, fmt.Errorf("time zone %q: it means another zone on each machine: %s", name, want)
	case strings.HasPrefix(name, "right/"), strings.HasPrefix(name, "posix/"):
		return nil, fmt.Errorf("time zone %q: leave out %q: %s", name, name[:6], want)
	}
	zone, err := time.LoadLocation(name)
	if err != nil {
		return nil, fmt.Errorf("time zone %q: %s: %w", name, want, err)
	}
	return zone, nil
}
