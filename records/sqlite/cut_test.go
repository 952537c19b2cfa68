package sqlite

import (
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"testing"

	"grainward/records"
	"grainward/records/faulttest"
)

// A log is 32 bytes, then frames of 24 bytes and a page (https://www.sqlite.org/fileformat2.html, section 4.1).
const (
	logHead   = 32
	frameHead = 24
	pageSize  = 4096
)

// TestLogCut cuts the log at every border of a frame and at odd places within frames. What is read is the batches before the cut,
// whole ones, and writing goes on after them. (That entries are missing then, a tree head kept elsewhere tells.)
func TestLogCut(t *testing.T) {
	path := filepath.Join(t.TempDir(), "plant.db")
	s := mustOpen(t, path, Write)
	defer s.Close()
	ends := []int{0}
	for i := range 20 {
		b := partBatch(ends[i], 1+i%4)
		if err := s.Append(t.Context(), b); err != nil {
			t.Fatal(err)
		}
		ends = append(ends, ends[i]+len(b.Rows))
	}
	file, log := mustRead(t, path), mustRead(t, path+"-wal")
	var cuts []int
	for at := 0; at <= len(log); at += frameHead + pageSize {
		for _, odd := range []int{0, logHead - 1, logHead, logHead + 1, logHead + frameHead - 1, logHead + frameHead, logHead + frameHead + pageSize/2, logHead + frameHead + pageSize - 1} {
			if at+odd <= len(log) {
				cuts = append(cuts, at+odd)
			}
		}
	}
	slices.Sort(cuts)
	cuts = slices.Compact(cuts)
	all, r := len(cuts), rand.New(rand.NewPCG(faulttest.Seed(t, rand.Uint64()), 0))
	if !faulttest.Campaign(t) {
		r.Shuffle(len(cuts), func(i, j int) { cuts[i], cuts[j] = cuts[j], cuts[i] })
		cuts = cuts[:faulttest.Times(t, 150)]
		slices.Sort(cuts)
	}
	dir, last := t.TempDir(), 0
	for i, cut := range cuts {
		copied := filepath.Join(dir, fmt.Sprint(i, ".db"))
		mustWrite(t, copied, file)
		mustWrite(t, copied+"-wal", log[:cut])
		s, err := Open(t.Context(), copied, Write)
		if err != nil {
			t.Fatalf("cut at %d: %v", cut, err)
		}
		end, err := checkParts(t.Context(), s, 0)
		if err != nil || !slices.Contains(ends, end) || end < last {
			t.Fatalf("cut at %d: %d entries after %d at an earlier cut: %v", cut, end, last, err)
		}
		last = end
		if err := s.Append(t.Context(), partBatch(end, 1)); err != nil {
			t.Fatalf("cut at %d: appending afterwards: %v", cut, err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if cuts[len(cuts)-1] == len(log) && last != ends[20] {
		t.Errorf("uncut %d entries of %d", last, ends[20])
	}
	faulttest.Count(t, len(cuts), fmt.Sprintf("cuts of a write-ahead log, of %d places", all), "whole batches each time, in order, and writing went on")
}

// TestFileCut cuts the file itself, at every page and within pages: it is refused, or every entry is found not to be there. It is
// never a shorter journal.
func TestFileCut(t *testing.T) {
	path := filepath.Join(t.TempDir(), "plant.db")
	s := mustOpen(t, path, Write)
	end := 0
	for end < 60 {
		end = fillParts(t, s, end)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	file := mustRead(t, path)
	dir, n, refused := t.TempDir(), 0, 0
	for at := 0; at < len(file); at += pageSize {
		for _, cut := range []int{at, at + 1, at + 100, at + pageSize/2, at + pageSize - 1} {
			n++
			copied := filepath.Join(dir, fmt.Sprint(cut, ".db"))
			mustWrite(t, copied, file[:cut])
			s, err := Open(t.Context(), copied, Read)
			if err != nil {
				refused++
				if k := records.KindOf(err); k != records.Corrupt && k != records.NotFound {
					t.Errorf("cut at %d: kind %d: %v", cut, k, err)
				}
				continue
			}
			if got, err := checkParts(t.Context(), s, 0); err == nil {
				t.Errorf("cut at %d of %d: read as a whole journal of %d entries of %d", cut, len(file), got, end)
			} // a kind Corrupt, or bytes that are not those that were hashed
			if err := s.Close(); err != nil {
				t.Fatal(err)
			}
		}
	}
	faulttest.Count(t, n, "cuts of a journal's file, at every page and within", fmt.Sprintf("%d refused at opening, the others at reading", refused))
}
