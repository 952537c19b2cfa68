package sqlite

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"grainward/records"
)

// TestDamagedLog cuts, spoils and lengthens the log as a crash may leave it, and asks for a prefix of the batches,
// whole ones only; and for all of them when only the bytes after the last commit are touched.
func TestDamagedLog(t *testing.T) {
	path := filepath.Join(t.TempDir(), "plant.db")
	s := mustOpen(t, path, Write)
	defer s.Close()
	if _, err := s.writes.conn.ExecContext(t.Context(), "PRAGMA wal_autocheckpoint = 0"); err != nil { // all stays in the log
		t.Fatal(err)
	}
	ends := []int{0}
	for i := range 40 {
		b := partBatch(ends[i], 1+i%6)
		if err := s.Append(t.Context(), b); err != nil {
			t.Fatal(err)
		}
		ends = append(ends, ends[i]+len(b.Rows))
	}
	all := ends[40]
	file, log := mustRead(t, path), mustRead(t, path+"-wal")

	r := rand.New(rand.NewPCG(20, 31))
	noise := make([]byte, 20_000)
	for i := range noise {
		noise[i] = byte(r.Uint32())
	}
	type spoilt struct {
		name string
		log  []byte
		full bool // nothing committed was touched
	}
	logs := []spoilt{
		{"whole", log, true},
		{"empty", nil, false},
		{"noise after the last commit", append(slices.Clone(log), noise...), true},
		{"a little noise after the last commit", append(slices.Clone(log), noise[:7]...), true},
		{"zeroes after the last commit", append(slices.Clone(log), make([]byte, 9000)...), true},
		{"an old frame after the last commit", append(slices.Clone(log), log[32:32+24+4096]...), true},
	}
	for range 40 {
		cut := r.IntN(len(log))
		logs = append(logs, spoilt{fmt.Sprintf("cut at %d", cut), log[:cut], false},
			spoilt{fmt.Sprintf("noise from %d", cut), append(slices.Clone(log[:cut]), noise...), false})
		flipped := slices.Clone(log)
		flipped[cut] ^= 1 << r.IntN(8)
		logs = append(logs, spoilt{fmt.Sprintf("a bit flipped at %d", cut), flipped, false})
	}
	seen := map[int]bool{}
	for _, l := range logs {
		copied := filepath.Join(t.TempDir(), "copy.db")
		mustWrite(t, copied, file)
		mustWrite(t, copied+"-wal", l.log)
		s := mustOpen(t, copied, Write)
		end, err := checkParts(t.Context(), s, 0)
		if err != nil {
			t.Fatalf("%s: %v", l.name, err)
		}
		if !slices.Contains(ends, end) || l.full && end != all {
			t.Fatalf("%s: %d entries of %d", l.name, end, all)
		}
		seen[end] = true
		wantIntegrity(t, s)
		if err := s.Append(t.Context(), records.Batch{After: records.Position(end), Rows: []records.Row{partRow(end, end, 1)}}); err != nil {
			t.Fatalf("%s: appending afterwards: %v", l.name, err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		s = mustOpen(t, copied, Read)
		if again, err := checkParts(t.Context(), s, 0); err != nil || again != end+1 {
			t.Fatalf("%s: after appending one to %d: %d, %v", l.name, end, again, err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if len(seen) < 10 {
		t.Fatalf("the cuts gave only %d different lengths, which shows too little", len(seen))
	}
}

func mustRead(t *testing.T, path string) []byte {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func mustWrite(t *testing.T, path string, b []byte) {
	t.Helper()
	if err := os.WriteFile(path, b, 0o644); err != nil {
		t.Fatal(err)
	}
}
