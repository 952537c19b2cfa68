package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"

	"github.com/gofrs/flock"
	driver "modernc.org/sqlite"
	codes "modernc.org/sqlite/lib"

	"grainward/records"
)

// Mode says what a store is opened for.
type Mode int

const (
	// Read needs no lock, works while a writer is open, and never changes the journal.
	Read Mode = iota
	// Write takes the writer's lock, creates the file when there is none, and brings an older schema up to date.
	Write
)

// Store is one journal in one SQLite file. It is safe for use by many goroutines.
type Store struct {
	path   string
	mode   Mode
	reads  *sql.DB     // connections that can only read, as many as there are readings at once
	frozen *frozen     // set when the file is read as one that does not change
	opened fs.FileInfo // of the file that is written; nil in mode Read

	closed atomic.Bool

	mu     sync.Mutex   // held by the one who writes, and by Close; never by readers, who would wait for a sync
	writes *writer      // nil in mode Read
	lock   *flock.Flock // nil in mode Read
	watch  *watch       // nil in mode Read
}

var (
	_ records.Store = (*Store)(nil)
	_ records.Bulk  = (*Store)(nil)
)

// Open opens the journal at path.
//
// In mode Read a missing or still empty file is kind NotFound. In mode Write it is created, but not the folder it
// lies in; another writer is kind Busy, and the message names it. In both, a file of a newer program is TooNew, a
// SQLite file that is not ours Invalid, and one that SQLite can not make out Corrupt; none of them is touched.
func Open(ctx context.Context, path string, mode Mode) (*Store, error) {
	return open(ctx, path, mode, schema)
}

// useFdatasync is done once, since it is a setting of the whole process. Where the system has no fdatasync, SQLite
// keeps to its own choice, which is at least as safe.
var useFdatasync = sync.OnceValue(func() error {
	if _, err := driver.Fdatasync(true); err != nil && !errors.Is(err, driver.ErrFdatasyncUnavailable) {
		return err
	}
	return nil
})

func open(ctx context.Context, path string, mode Mode, steps []step) (s *Store, err error) {
	if err := useFdatasync(); err != nil {
		return nil, fmt.Errorf("choosing how SQLite syncs: %w", err)
	}
	path, err = realPath(path)
	if err != nil {
		return nil, wrong("finding the journal", path, err)
	}
	s = &Store{path: path, mode: mode}
	defer func() {
		if err != nil {
			err = errors.Join(err, s.Close())
			s = nil
		}
	}()
	if mode == Write {
		if err := s.openWriter(ctx, steps); err != nil {
			return s, err
		}
	} else if err := s.checkThere(); err != nil {
		return s, err
	}
	if err := s.openReader(ctx, steps); err != nil || mode != Write {
		return s, err
	}
	s.watch, err = watchFiles(s.path)
	return s, err
}

// realPath resolves links, so that one file has one lock whatever it is called by. A file that is not there yet
// keeps its name in its resolved folder.
func realPath(path string) (string, error) {
	full, err := filepath.Abs(path)
	if err != nil {
		return path, err
	}
	if real, err := filepath.EvalSymlinks(full); err == nil || !errors.Is(err, fs.ErrNotExist) {
		return real, err
	}
	dir, err := filepath.EvalSymlinks(filepath.Dir(full))
	if err != nil {
		return full, err
	}
	return filepath.Join(dir, filepath.Base(full)), nil
}

func (s *Store) checkThere() error {
	info, err := os.Stat(s.path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return errNoJournal("there is no journal at " + s.path)
	case err != nil:
		return s.wrong("looking for the journal", err)
	case info.IsDir():
		return &records.Error{Kind: records.Invalid, What: s.path + " is a folder, not a journal", Do: "name the file"}
	}
	return nil
}

// errNothingStarted is of a file whose making did not get to its end.
func errNothingStarted(path string) error { return errNoJournal("no journal was started in " + path) }

func errNoJournal(what string) error {
	return &records.Error{Kind: records.NotFound, What: what, Do: "run grainward init to start one, or check the path"}
}

func (s *Store) openWriter(ctx context.Context, steps []step) (err error) {
	if info, err := os.Stat(s.path); err == nil && info.IsDir() {
		return s.checkThere()
	}
	if s.lock, err = lockFile(s.path); err != nil {
		return err
	}
	if s.writes, err = newWriter(ctx, s.path, steps); err != nil {
		return err
	}
	s.opened, err = os.Stat(s.path)
	return s.wrong("looking at the journal", err)
}

func (s *Store) openReader(ctx context.Context, steps []step) (err error) {
	s.reads = openDB(s.path, "ro", "")
	id, err := identify(ctx, s.reads)
	if isCode(err, codes.SQLITE_CANTOPEN) || isCode(err, codes.SQLITE_READONLY) {
		if s.frozen, err = freeze(s.path); err != nil {
			return err
		}
		err = s.reads.Close()
		s.reads = openDB(s.path, "ro", "&immutable=1")
		if err == nil {
			id, err = identify(ctx, s.reads)
		}
	}
	if err != nil {
		return s.wrong("reading what the file is", err)
	}
	if err := id.check(ctx, s.reads, s.path, steps); err != nil {
		return err
	}
	if id.isBlank() {
		return errNothingStarted(s.path)
	}
	if id.version < int64(len(steps)) {
		return &records.Error{Kind: records.Invalid, Do: "open it for writing once, which brings it up to date; make a backup first",
			What: fmt.Sprintf("%s was written by an older version of the program (its schema is %d, this program reads %d)", s.path, id.version, len(steps))}
	}
	return nil
}

// openDB makes a pool of connections; nothing is opened yet. busy_timeout is for other programs that write in the
// file without our lock.
func openDB(path, mode, more string) *sql.DB {
	name := (&url.URL{Path: path}).EscapedPath()
	db, err := sql.Open("sqlite", "file:"+name+"?mode="+mode+more+"&_pragma=busy_timeout(5000)&_pragma=synchronous(FULL)")
	if err != nil {
		panic(err) // the driver's name is unknown: a fault of this package
	}
	db.SetMaxIdleConns(4)
	return db
}

// Close lets go of the file and the lock. A reading that is under way ends by itself. Closing again does nothing.
func (s *Store) Close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed.Swap(true) {
		return nil
	}
	var errs []error
	if s.reads != nil {
		errs = append(errs, s.wrong("closing", s.reads.Close()))
	}
	if s.writes != nil { // after the readers: the last connection folds the log into the file
		errs = append(errs, s.wrong("closing", s.writes.close()))
	}
	if s.lock != nil {
		errs = append(errs, s.wrong("letting go of the writer's lock", unlockFile(s.lock)))
	}
	return errors.Join(errs...)
}
