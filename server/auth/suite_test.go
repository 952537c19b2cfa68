package auth_test

import (
	"path/filepath"
	"testing"

	"grainward/server/auth"
	"grainward/server/auth/authtest"
)

func TestFileIsACabinet(t *testing.T) {
	authtest.Run(t, func(t *testing.T) authtest.Opened {
		path := filepath.Join(t.TempDir(), "people.db")
		open := func(t *testing.T) auth.Cabinet {
			c, err := auth.OpenFile(path)
			if err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() { c.Close() })
			return c
		}
		return authtest.Opened{Name: "one file of SQLite", Cabinet: open(t), Beside: open}
	})
}
