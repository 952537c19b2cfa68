package sqlite

import (
	"os"
	"path/filepath"
	"testing"

	"grainward/records"
)

// FuzzFile changes bytes of a journal's file and reads all of it: nothing panics, and what is wrong has a kind. (Whether the entries
// are those that were signed is for verify, whose tests flip every byte.)
func FuzzFile(f *testing.F) {
	path := filepath.Join(f.TempDir(), "plant.db")
	s, err := Open(f.Context(), path, Write)
	if err != nil {
		f.Fatal(err)
	}
	for at := 0; at < 12; {
		b := partBatch(at, 1+at%3)
		b.Checkpoint = []byte("head")
		if err := s.Append(f.Context(), b); err != nil {
			f.Fatal(err)
		}
		at += len(b.Rows)
	}
	if _, err := s.PutBlob(f.Context(), []byte("a photo")); err != nil {
		f.Fatal(err)
	}
	if err := s.Close(); err != nil {
		f.Fatal(err)
	}
	file, err := os.ReadFile(path)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(18, []byte{1, 1})
	f.Add(100, []byte{0x0d, 0xff, 0xff})
	f.Add(4096*3, []byte("\x05\x00\x00\x00\x01"))
	f.Add(28, []byte{0, 0, 0, 1})
	f.Fuzz(func(t *testing.T, at int, with []byte) {
		if at < 0 || at >= len(file) || len(with) > 64 {
			t.Skip()
		}
		bad := append([]byte(nil), file...)
		copy(bad[at:], with)
		path := filepath.Join(t.TempDir(), "plant.db")
		if err := os.WriteFile(path, bad, 0o600); err != nil {
			t.Fatal(err)
		}
		s, err := Open(t.Context(), path, Read)
		if err != nil {
			if records.KindOf(err) == records.Internal {
				t.Errorf("an error without a kind: %v", err)
			}
			return
		}
		defer s.Close()
		for _, err := range []error{
			s.Read(t.Context(), 0, func(records.Position, records.Row) error { return nil }),
			s.Checkpoints(t.Context(), func(records.Position, []byte) error { return nil }),
			s.EachBlob(t.Context(), func(key string, _ int64) error {
				if _, err := s.GetBlob(t.Context(), key); err != nil && records.KindOf(err) == records.Internal {
					return err
				}
				return nil
			}),
		} {
			if err != nil && records.KindOf(err) == records.Internal {
				t.Errorf("an error without a kind: %v", err)
			}
		}
	})
}
