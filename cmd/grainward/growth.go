package main

import (
	"fmt"
	"path/filepath"
	"time"

	"grainward/exports/columns"
)

const dayLong = 24 * time.Hour

// yearly is what a year of records comes to on the journal's disk, and what that was reckoned from. ok is false when there is nothing
// to reckon from.
func (s *sizes) yearly() (bytes float64, from string, ok bool) {
	if s.Written+s.Photos == 0 {
		return 0, "", false
	}
	ratio := max(1, float64(s.Stored)/float64(s.Written+s.Photos))
	if n := len(s.Months) - 2; n >= 1 { // the first and the last are not whole
		whole := s.Months[max(1, len(s.Months)-13) : len(s.Months)-1]
		var sum int64
		for _, m := range whole {
			sum += m.Bytes + m.Photos
		}
		return float64(sum) * ratio * 12 / float64(len(whole)), "the last " + plural(len(whole), "whole month"), true
	}
	days := max(1, s.Newest.Sub(s.First)/dayLong)
	return float64(s.Written+s.Photos) * ratio * 365 / float64(days), "the days since " + s.First.Time().Format(time.DateOnly) + ", which is little to go by", true
}

func (s *sizes) print(w *world) error {
	where := "on the disk"
	if s.Database {
		where = "in the database"
	}
	rows := [][]string{
		{"journal", inBytes(s.Stored), where + ", everything in it"},
		{"  entries", inBytes(s.Written), plural(s.Entries, "entry") + ", as they were written"},
		{"  documents and photos", inBytes(s.Photos), plural(s.Files, "file")},
	}
	if s.People >= 0 {
		rows = append(rows, []string{"people.db", inBytes(s.People), "PINs, devices, sign-ins"})
	}
	switch {
	case s.Last == nil:
		rows = append(rows, []string{"backups", "none", "that this directory knows of: grainward backup --into DIR"})
	default:
		rows = append(rows, []string{"backups", inBytes(s.Kept), fmt.Sprintf("%s where the last was made, %s, at %s with %s", plural(s.Backups, "file"), filepath.Dir(s.Last.File), s.Last.Made, plural(int(s.Last.Entries), "entry"))})
	}
	if err := columns.Write(w.out, nil, "lrl", rows); err != nil {
		return err
	}
	if len(s.Months) > 0 {
		w.say("")
		rows = nil
		for _, m := range s.Months[max(0, len(s.Months)-24):] {
			rows = append(rows, []string{m.First.Format("2006-01"), fmt.Sprint(m.Entries), inBytes(m.Bytes), fmt.Sprint(m.Files), inBytes(m.Photos)})
		}
		if err := columns.Write(w.out, []string{"month", "entries", "as written", "files", "of them"}, "lrrrr", rows); err != nil {
			return err
		}
		w.say("")
	}
	s.printYears(w)
	return nil
}

// furthest is how far ahead it makes sense to say when a disk is full, in years.
const furthest = 100

func (s *sizes) printYears(w *world) {
	year, from, ok := s.yearly()
	if !ok {
		w.say("Nothing is written yet, so nothing can be said of the years to come.")
		return
	}
	w.say("A year comes to %s by %s, and a backup to as much as the journal.", inBytes(int64(year)), from)
	switch left := float64(s.Free) / max(1, year); {
	case s.Free < 0:
		w.say("The database does not say how much room it has.")
	case left > furthest:
		w.say("%s are free there: more than %d years at that rate, if nothing else grows.", inBytes(s.Free), furthest)
	default:
		full := s.Now.Time().Add(time.Duration(left * 365 * float64(dayLong)))
		w.say("%s are free there: it would be full in %s at that rate, if nothing else grows.", inBytes(s.Free), full.Format("January 2006"))
	}
}

// inBytes is a size for people, in three figures and decimal units, as disks are sold.
func inBytes(n int64) string {
	x, unit := float64(n), "B"
	for _, u := range []string{"kB", "MB", "GB", "TB"} {
		if x < 999.5 {
			break
		}
		x, unit = x/1000, u
	}
	switch {
	case unit == "B":
		return fmt.Sprintf("%d B", n)
	case x < 9.995:
		return fmt.Sprintf("%.2f %s", x, unit)
	case x < 99.95:
		return fmt.Sprintf("%.1f %s", x, unit)
	}
	return fmt.Sprintf("%.0f %s", x, unit)
}
