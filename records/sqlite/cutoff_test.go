package sqlite

import (
	"database/sql"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"grainward/records"
)

// A file whose first writing was cut off holds no journal, and the next writer starts one. A later change that was cut off (by another
// program: ours only writes to the write-ahead log by then) is not said to be nothing.
func TestFirstWritingCutOff(t *testing.T) {
	path := filepath.Join(t.TempDir(), "journal.db")
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	// change writes more than SQLite holds back, so that some of it is in the file before its end.
	change := func(table string) {
		t.Helper()
		for _, do := range []string{"PRAGMA cache_size = 2", "BEGIN", "CREATE TABLE " + table + " (b BLOB)", "INSERT INTO " + table + " VALUES (zeroblob(200000))"} {
			if _, err := db.Exec(do); err != nil {
				t.Fatal(do, err)
			}
		}
	}
	// cut is what a kill would leave now.
	cut := func() string {
		t.Helper()
		to := filepath.Join(t.TempDir(), "journal.db")
		for _, end := range []string{"", rollback} {
			b, err := os.ReadFile(path + end)
			if err == nil {
				err = os.WriteFile(to+end, b, 0o600)
			}
			if err != nil || len(b) == 0 {
				t.Fatalf("%d bytes in %s%s: %v", len(b), path, end, err)
			}
		}
		return to
	}
	change("first")
	made := cut()
	if _, err := db.Exec("COMMIT"); err != nil {
		t.Fatal(err)
	}
	change("second")
	changed := cut()

	if _, err := Open(t.Context(), made, Read); records.KindOf(err) != records.NotFound || !strings.Contains(err.Error(), "no journal was started") {
		t.Errorf("its first writing was cut off: %v", err)
	}
	s, err := Open(t.Context(), made, Write)
	if err != nil {
		t.Fatal(err)
	}
	if n, err := s.Head(t.Context()); n != 0 || err != nil {
		t.Errorf("started anew it holds %d entries, %v", n, err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(t.Context(), changed, Read); records.KindOf(err) != records.ReadOnly || !strings.Contains(err.Error(), "was cut off") {
		t.Errorf("a later change was cut off: %v", err)
	}
}
