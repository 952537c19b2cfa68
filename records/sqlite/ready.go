package sqlite

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"grainward/records"
)

// leastFree is the free space below which a store is not ready: what the largest document, and the write-ahead log of it, take.
// A disk that is only nearly full still takes single entries; whoever watches the plant wants to know before it does not.
const leastFree = 2*records.MaxBlob + 4<<20

var (
	_ records.Ready = (*Store)(nil)
	_ records.Sized = (*Store)(nil)
)

// Ready looks at the file and its folder, reads, and takes and gives back SQLite's own lock. It writes nothing.
func (s *Store) Ready(ctx context.Context) error {
	if s.closed.Load() {
		return s.errClosed()
	}
	if s.mode != Write {
		return s.errReadOnly()
	}
	if err := s.inPlace(); err != nil { // first: a file that is gone is read as one that can not be opened
		return err
	}
	if _, err := s.Head(ctx); err != nil {
		return err
	}
	if f, err := s.Footprint(ctx); err != nil {
		return err
	} else if f.Free >= 0 && f.Free < leastFree {
		return &records.Error{Kind: records.Full, What: fmt.Sprintf("%d MiB are left on the disk of %s", f.Free>>20, s.path), Do: "free some space on it"}
	}
	if !s.mu.TryLock() { // somebody is writing, and will be told how that went
		return nil
	}
	defer s.mu.Unlock()
	if s.closed.Load() {
		return s.errClosed()
	}
	ctx = context.WithoutCancel(ctx)
	if _, err := s.writes.begin.ExecContext(ctx); err != nil {
		return s.wrong("making ready to write", err)
	}
	_, err := s.writes.rollback.ExecContext(ctx)
	return s.wrong("making ready to write", err)
}

// inPlace sees that the file under our name is the one that is open, and that it and its folder may be written. A file that was
// moved away is still written by us and by nobody found again.
func (s *Store) inPlace() error {
	f, err := os.OpenFile(s.path, os.O_RDWR, 0)
	if err != nil {
		return s.wrong("looking for the journal", err)
	}
	now, err := f.Stat()
	if err = errors.Join(err, f.Close()); err != nil {
		return s.wrong("looking at the journal", err)
	}
	if s.opened != nil && !os.SameFile(now, s.opened) {
		return &records.Error{Kind: records.NotFound, What: "the file at " + s.path + " is not the journal that was opened", Do: "stop, put the journal back, and start again"}
	}
	return s.wrong("looking at the journal's folder", mayWrite(filepath.Dir(s.path)))
}

// Footprint is the size of the file and of what SQLite keeps beside it.
func (s *Store) Footprint(context.Context) (f records.Footprint, err error) {
	for _, end := range []string{"", "-wal", "-shm"} {
		info, err := os.Stat(s.path + end)
		switch {
		case err == nil:
			f.Stored += info.Size()
		case end == "" || !errors.Is(err, fs.ErrNotExist):
			return f, s.wrong("measuring the journal", err)
		}
	}
	f.Free = FreeSpace(filepath.Dir(s.path))
	return f, nil
}
