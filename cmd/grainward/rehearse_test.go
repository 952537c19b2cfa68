package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"
	"time"

	"grainward/cmd/bigplant"
	"grainward/records"
	"grainward/records/ledger"
	"grainward/records/sqlite"
)

// rehearseVariable is how many entries the plant has whose restore is rehearsed, such as 1000000.
const rehearseVariable = "GRAINWARD_TEST_REHEARSE"

// TestRehearse makes a backup of a large plant and answers a request for records from it: a lot that was sold is traced both ways, and a
// binder of two years made. The time is logged and not judged; what the command says of it is held to be a true division.
func TestRehearse(t *testing.T) {
	n := 8000
	if more := os.Getenv(rehearseVariable); more != "" {
		var err error
		if n, err = strconv.Atoi(more); err != nil {
			t.Fatal(err)
		}
	}
	dir := plantDir(filepath.Join(t.TempDir(), "plant"))
	if err := startPlant(t.Context(), dir, "Big", []byte(smallPlan)); err != nil {
		t.Fatal(err)
	}
	fillLarge(t, dir, n)
	into := filepath.Join(t.TempDir(), "backups")
	t.Log(ask(t, "backup", "--dir", string(dir), "--into", into, "--keep", "2"))
	names, err := datedBackups(into)
	if err != nil || len(names) != 1 {
		t.Fatal(names, err)
	}
	said := ask(t, "rehearse", filepath.Join(into, names[0]), "--vkey", dir.vkeyFile())
	t.Log(said)
	t.Log(ask(t, "size", "--dir", string(dir)))
	if !regexp.MustCompile(`trace a lot both ways, as a workbook +\d+\.\d\d s  \S`).MatchString(said) {
		t.Error("no lot was traced")
	}
	m := regexp.MustCompile(`the machine took (\d+\.\d\d) s; 24 hours are (\d+) times as long`).FindStringSubmatch(said)
	if m == nil {
		t.Fatal(said)
	}
	took, err := strconv.ParseFloat(m[1], 64)
	if err != nil {
		t.Fatal(err)
	}
	times, err := strconv.ParseFloat(m[2], 64)
	if err != nil {
		t.Fatal(err)
	}
	if product := took * times / duty.Seconds(); product < 0.88 || product > 1.02 { // two figures, cut off
		t.Errorf("%v times %v s are %v of 24 hours", times, took, product)
	}
}

// fillLarge writes the large plant's journal into an empty one.
func fillLarge(t *testing.T, dir plantDir, n int) {
	t.Helper()
	signer, err := dir.signer()
	if err != nil {
		t.Fatal(err)
	}
	origin, err := originOf(signer, true)
	if err != nil {
		t.Fatal(err)
	}
	store, err := dir.openStore(t.Context(), sqlite.Write)
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	big, err := bigplant.New(1)
	if err != nil {
		t.Fatal(err)
	}
	var tree ledger.Tree
	var rows []records.Row
	flush := func() error {
		if len(rows) == 0 {
			return nil
		}
		signed, err := ledger.Sign(ledger.Checkpoint{Origin: origin, Size: tree.Size(), Root: tree.Root()}, signer)
		if err != nil {
			return err
		}
		err = store.Append(t.Context(), records.Batch{After: records.Position(tree.Size() - int64(len(rows))), Rows: rows, Checkpoint: signed})
		rows = rows[:0]
		return err
	}
	err = big.Each(n, func(e records.Entry) error {
		row, err := records.Format(e)
		if err != nil {
			return err
		}
		rows = append(rows, row)
		tree.Append(row.Leaf)
		if len(rows) == 1000 {
			return flush()
		}
		return nil
	})
	if err == nil {
		err = flush()
	}
	if err != nil {
		t.Fatal(err)
	}
}

func TestTimes(t *testing.T) {
	for _, c := range []struct {
		part int64 // ms
		want string
	}{{86_400_000, "1"}, {8_000_000, "10"}, {80_090, "1000"}, {800, "100000"}, {765, "110000"}, {0, "86000000"}} {
		if got := times(duty, time.Duration(c.part)*time.Millisecond); got != c.want {
			t.Errorf("24 hours into %d ms: %s, not %s", c.part, got, c.want)
		}
	}
}
