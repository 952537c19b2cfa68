package main

import (
	"flag"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"grainward/records"
	"grainward/records/ledger"
	"grainward/records/memory"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// TestSizeGolden is what people see of a plant of two years and a half, on a disk with room, on one that fills up, and in a database.
func TestSizeGolden(t *testing.T) {
	now := time.Date(2026, 8, 14, 9, 0, 0, 0, time.UTC)
	s := &sizes{Free: 412_000_000_000, People: 57_344, Now: records.InstantOf(now), Backups: 14, Kept: 14 * 391_000_000,
		Last: &backupNote{File: "/var/backups/grainward/journal-20260814T020000Z.db", Made: records.InstantOf(now.Add(-7 * time.Hour)), Entries: 61_200}}
	for m := time.Date(2024, 2, 1, 0, 0, 0, 0, time.UTC); m.Before(now); m = m.AddDate(0, 1, 0) {
		k := int64(m.Month())
		one := month{First: m, Entries: 2000 + int(k), Bytes: 900_000 + 1000*k, Files: 40, Photos: 9_000_000}
		s.Months = append(s.Months, one)
		s.Entries += one.Entries
		s.Written += one.Bytes
		s.Files += one.Files
		s.Photos += one.Photos
	}
	s.Stored = (s.Written + s.Photos) * 5 / 4
	var out strings.Builder
	w := &world{out: &out}
	show := func(title string, s sizes) {
		out.WriteString("== " + title + "\n")
		if err := s.print(w); err != nil {
			t.Fatal(err)
		}
	}
	show("a disk with room", *s)
	small := *s
	small.Free, small.Last = 300_000_000, nil
	show("a small disk, and no backup", small)
	far := *s
	far.Free, far.People, far.Database = -1, -1, true
	show("a database", far)
	young := *s
	young.Months, young.Now = young.Months[:1], records.InstantOf(young.Months[0].First.AddDate(0, 0, 10))
	young.First, young.Newest = records.InstantOf(young.Months[0].First), young.Now
	young.Written, young.Photos, young.Stored = young.Months[0].Bytes, young.Months[0].Photos, 12_000_000
	show("ten days old", young)
	show("empty", sizes{Free: 1000, Now: s.Now})

	path := filepath.Join("testdata", "size.golden")
	if *update {
		if err := os.WriteFile(path, []byte(out.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil || string(want) != out.String() {
		t.Errorf("%v: it says\n%s", err, &out)
	}
}

// What is measured adds up: every entry and every file is in one month, and months have no gap.
func TestSizeAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		store := memory.New()
		var rows []records.Row
		at := time.Date(2025, 11, 1, 0, 0, 0, 0, time.UTC)
		files, named, bytes := 0, 0, int64(0)
		for i := range rapid.IntRange(0, 12).Draw(t, "entries") {
			at = at.Add(time.Duration(rapid.IntRange(-40, 90).Draw(t, "days")) * dayLong) // clocks are set back too
			what := "dust"
			if rapid.Bool().Draw(t, "with a file") {
				key, err := store.PutBlob(t.Context(), []byte{byte(rapid.IntRange(0, 3).Draw(t, "which")), 'x'})
				if err != nil {
					t.Fatal(err)
				}
				what += " " + key
				named++
			}
			e := records.Entry{ID: records.NewEntryID(), Happened: records.InstantOf(at), Recorded: records.InstantOf(at), By: "ana", Meaning: records.Performed, Kind: records.KindDeviation, Fact: &records.Deviation{What: what}}
			row, err := records.Format(e)
			if err != nil {
				t.Fatal(i, err)
			}
			row.Leaf = ledger.LeafHash(row.Bytes)
			rows = append(rows, row)
			bytes += int64(len(row.Bytes))
		}
		if len(rows) > 0 {
			if err := store.Append(t.Context(), records.Batch{Rows: rows}); err != nil {
				t.Fatal(err)
			}
		}
		if err := store.EachBlob(t.Context(), func(string, int64) error { files++; return nil }); err != nil {
			t.Fatal(err)
		}
		c := sizeCommand{plantFlag{Dir: plantDir(os.TempDir())}}
		s, err := c.measure(t.Context(), store, records.InstantOf(at))
		if err != nil {
			t.Fatal(err)
		}
		var sum month
		for i, m := range s.Months {
			sum.Entries += m.Entries
			sum.Bytes += m.Bytes
			sum.Files += m.Files
			if i > 0 && !m.First.Equal(s.Months[i-1].First.AddDate(0, 1, 0)) {
				t.Errorf("%s follows %s", m.First, s.Months[i-1].First)
			}
		}
		if sum.Entries != len(rows) || sum.Bytes != bytes || s.Written != bytes || sum.Files != files || s.Files != files || named < files {
			t.Errorf("%+v of %d entries, %d bytes, %d files", sum, len(rows), bytes, files)
		}
		if _, _, ok := s.yearly(); ok != (len(rows) > 0) {
			t.Error("of nothing a year is told, or of something none")
		}
	})
}

func TestInBytes(t *testing.T) {
	for n, want := range map[int64]string{0: "0 B", 999: "999 B", 1000: "1.00 kB", 9994: "9.99 kB", 9996: "10.0 kB", 99_960: "100 kB", 999_499: "999 kB", 999_600: "1.00 MB", 77_200_000_000: "77.2 GB", 5e15: "5000 TB"} {
		if got := inBytes(n); got != want {
			t.Errorf("%d is %s, not %s", n, got, want)
		}
	}
}

// Backups into a directory: so many stay, the newest; what has another name is left alone; and one made by a clock that was set back is
// not taken for an old one.
func TestBackupsAreKept(t *testing.T) {
	dir := adoptedPlant(t)
	into := filepath.Join(t.TempDir(), "backups")
	at := time.Date(2026, 12, 9, 2, 0, 0, 0, time.UTC)
	backup := func() {
		t.Helper()
		var errs strings.Builder
		w := quietWorld(io.Discard, &errs)
		w.now = func() time.Time { return at }
		if code := Run(t.Context(), []string{"backup", "--dir", string(dir), "--into", into, "--keep", "3"}, w); code != 0 {
			t.Fatalf("exit code %d, %s", code, &errs)
		}
	}
	names := func() (all []string) {
		t.Helper()
		entries, err := os.ReadDir(into)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range entries {
			all = append(all, e.Name())
		}
		return all
	}
	backup()
	for _, name := range []string{"notes.txt", "journal-old.db", "journal-20200101T000000Z.db.faulty"} {
		if err := os.WriteFile(filepath.Join(into, name), nil, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for range 4 {
		at = at.Add(24 * time.Hour)
		backup()
	}
	has := func(want ...string) {
		t.Helper()
		all := strings.Join(names(), " ")
		for _, w := range want {
			if !strings.Contains(all, w) {
				t.Errorf("%s is not among %s", w, all)
			}
		}
		if n := len(names()); n != 3*3+3 { // three files a backup, and the strangers
			t.Errorf("%d files: %s", n, all)
		}
	}
	has("journal-20261211", "journal-20261212", "journal-20261213T020000Z.db.checkpoint", "notes.txt", "journal-old.db", "journal-20200101T000000Z.db.faulty")
	at = at.AddDate(-1, 0, 0)
	backup()
	has("journal-20251213T020000Z.db", "journal-20261213", "journal-20261212")
	if made := dir.newestBackup(); !made.Equal(at) {
		t.Errorf("the last backup is of %s", made)
	}
}
