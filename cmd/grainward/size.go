package main

import (
	"context"
	"errors"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"time"

	"grainward/records"
	"grainward/records/sqlite"
)

type sizeCommand struct{ plantFlag }

// Help is the long help of the command.
func (*sizeCommand) Help() string {
	return `What the journal, its documents and photos, the PINs and the backups take up, how the journal grew month by month (by when entries were written down, UTC), what a year comes to at that rate, and when the disk would be full.

A file counts in the month of the first entry that names it. The store takes more than the bytes that were written, for indexes, hashes and signatures; what is said of years to come allows for that in the same proportion.`
}

// sizes is how large a plant's records are. Sizes are in bytes.
type sizes struct {
	Entries  int
	Written  int64 // of entries, as they are stored
	Files    int
	Photos   int64 // of documents and photos
	Stored   int64 // everything on the journal's disk
	Free     int64 // there; -1 when it is not told
	People   int64 // people.db; -1 when it is elsewhere
	Backups  int   // that lie where the last one was made
	Kept     int64 // all of these
	Last     *backupNote
	Months   []month
	Now      records.Instant
	First    records.Instant // when the first entry was written down
	Newest   records.Instant // and the last
	Database bool
}

// month is what was written in one.
type month struct {
	First   time.Time
	Entries int
	Bytes   int64
	Files   int
	Photos  int64
}

func (c *sizeCommand) Run(ctx context.Context, w *world) error {
	store, err := c.openStore(ctx, sqlite.Read)
	if err != nil {
		return err
	}
	s, err := c.measure(ctx, store, w.instant())
	if err = errors.Join(err, store.Close()); err != nil {
		return err
	}
	return s.print(w)
}

// named finds what may be the key of a file in the bytes of an entry.
var named = regexp.MustCompile(`[0-9a-f]{64}`)

func (c *sizeCommand) measure(ctx context.Context, store records.Store, now records.Instant) (*sizes, error) {
	s := &sizes{Now: now, Free: -1, People: -1, Database: c.Mongo != ""}
	files, months := map[string]int64{}, map[time.Time]*month{}
	err := store.EachBlob(ctx, func(key string, size int64) error {
		files[key] = size
		s.Files++
		s.Photos += size
		return nil
	})
	if err != nil {
		return nil, err
	}
	err = store.Read(ctx, 0, func(_ records.Position, row records.Row) error {
		e, err := records.ParseTrusted(row.Bytes)
		if err != nil {
			return err
		}
		first := monthOf(e.Recorded)
		m := months[first]
		if m == nil {
			m = &month{First: first}
			months[first] = m
		}
		if s.Entries++; s.Entries == 1 {
			s.First = e.Recorded
		}
		s.Newest = e.Recorded
		m.Entries++
		s.Written += int64(len(row.Bytes))
		m.Bytes += int64(len(row.Bytes))
		for _, key := range named.FindAll(row.Bytes, -1) {
			if size, there := files[string(key)]; there {
				m.Files++
				m.Photos += size
				delete(files, string(key))
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	s.Months = inOrder(months)
	if sized, ok := store.(records.Sized); ok {
		f, err := sized.Footprint(ctx)
		if err != nil {
			return nil, err
		}
		s.Stored, s.Free = f.Stored, f.Free
	}
	if c.Mongo == "" {
		if s.People, err = sizeOf(c.Dir.people()); err != nil {
			return nil, err
		}
	}
	return s, s.backups(c.Dir)
}

// monthOf is the first moment of a month.
func monthOf(at records.Instant) time.Time {
	t := at.Time()
	return time.Date(t.Year(), t.Month(), 1, 0, 0, 0, 0, time.UTC)
}

// inOrder are the months from the first to the last, those in which nothing was written among them.
func inOrder(months map[time.Time]*month) (all []month) {
	firsts := slices.SortedFunc(maps.Keys(months), time.Time.Compare)
	if len(firsts) == 0 {
		return nil
	}
	for m := firsts[0]; !m.After(firsts[len(firsts)-1]); m = m.AddDate(0, 1, 0) {
		one := month{First: m}
		if there := months[m]; there != nil {
			one = *there
		}
		all = append(all, one)
	}
	return all
}

func (s *sizes) backups(d plantDir) error {
	note, ok, err := d.lastBackup()
	if err != nil || !ok {
		return err
	}
	s.Last = &note
	dir := filepath.Dir(note.File)
	names, err := datedBackups(dir)
	if records.KindOf(err) == records.NotFound { // a stick that was pulled out
		return nil
	}
	if err != nil {
		return err
	}
	if !datedBackup.MatchString(filepath.Base(note.File)) {
		names = append(names, filepath.Base(note.File))
	}
	for _, name := range names {
		size, err := sizeOf(filepath.Join(dir, name))
		if err != nil {
			return err
		}
		if size > 0 {
			s.Backups++
			s.Kept += size
		}
	}
	return nil
}

// sizeOf is a file's size, 0 when it is not there.
func sizeOf(path string) (int64, error) {
	info, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return 0, nil
	}
	if err != nil {
		return 0, fileError("measuring", path, err)
	}
	return info.Size(), nil
}
