package sqlite

import (
	"database/sql"
	"path/filepath"
	"testing"

	"grainward/records"
	"grainward/records/backendtest"
)

func TestBackend(t *testing.T) {
	backendtest.Run(t, func(t *testing.T) backendtest.Opened {
		path := filepath.Join(t.TempDir(), "plant.db")
		s := mustOpen(t, path, Write)
		return backendtest.Opened{
			Name:     "sqlite",
			Store:    s,
			Reopen:   func(t *testing.T) records.Store { return mustOpen(t, path, Write) },
			ReadOnly: func(t *testing.T) records.Store { return mustOpen(t, path, Read) },
			Damage: func(t *testing.T, key string) {
				mustExec(t, path, "UPDATE blobs SET bytes = CAST('!' || substr(bytes, 2) AS BLOB) WHERE sha256 = ?", key)
			},
		}
	})
}

func mustOpen(t *testing.T, path string, mode Mode) *Store {
	t.Helper()
	s, err := Open(t.Context(), path, mode)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func mustExec(t *testing.T, path, query string, args ...any) {
	t.Helper()
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.ExecContext(t.Context(), query, args...); err != nil {
		t.Fatal(err)
	}
}
