package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"syscall"

	driver "modernc.org/sqlite"
	codes "modernc.org/sqlite/lib"

	"grainward/records"
)

// wrong turns an error of the driver or the file system into one of ours: what was being done, the path, and what to
// do about it. The kind comes from result codes and error values, never from a message.
func (s *Store) wrong(doing string, err error) error { return wrong(doing, s.path, err) }

func wrong(doing, path string, err error) error {
	if err == nil {
		return nil
	}
	var own *records.Error
	if errors.As(err, &own) {
		return err
	}
	if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return fmt.Errorf("%s in %s: %w", doing, path, err)
	}
	kind, do := kindOf(err)
	return &records.Error{Kind: kind, What: fmt.Sprintf("%s in %s did not work", doing, path), Do: do, Err: err}
}

func kindOf(err error) (records.ErrorKind, string) {
	var d *driver.Error
	if errors.As(err, &d) {
		return kindOfCode(d.Code())
	}
	switch {
	case errors.Is(err, sql.ErrConnDone):
		return records.Internal, "the store was closed; open it again"
	case errors.Is(err, fs.ErrNotExist):
		return records.NotFound, "check the path"
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return records.ReadOnly, doReadOnly
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		return records.Full, doFull
	}
	return records.Internal, ""
}

const (
	doReadOnly = "run as a user who may write there, or move the plant to a place that can be written"
	doFull     = "nothing of it was saved; free some space on the disk and do it again"
	doCorrupt  = "stop writing, keep a copy of the file as it is, run grainward verify, and restore the newest backup that verifies"
)

// kindOfCode maps a result code; the low byte is the primary code (https://www.sqlite.org/rescode.html).
func kindOfCode(code int) (records.ErrorKind, string) {
	switch code & 0xff {
	case codes.SQLITE_FULL:
		return records.Full, doFull
	case codes.SQLITE_READONLY, codes.SQLITE_PERM:
		return records.ReadOnly, doReadOnly
	case codes.SQLITE_CORRUPT, codes.SQLITE_NOTADB, codes.SQLITE_ERROR, codes.SQLITE_SCHEMA, codes.SQLITE_MISMATCH:
		// SQLITE_ERROR is a statement that does not fit the tables, and ours are always the same: the tables are not.
		return records.Corrupt, doCorrupt
	case codes.SQLITE_BUSY, codes.SQLITE_LOCKED, codes.SQLITE_PROTOCOL:
		return records.Busy, "another program has the file locked; close it and try again"
	case codes.SQLITE_CANTOPEN:
		return records.Unavailable, "check that the file and its folder may be read"
	case codes.SQLITE_IOERR:
		return records.Unavailable, "the disk gave an error; check it and whether a quota or limit keeps the file from growing, and restore a backup if it is failing"
	case codes.SQLITE_TOOBIG:
		return records.Invalid, "it is larger than a SQLite file can hold in one place"
	}
	return records.Internal, ""
}

// isCode says whether err carries this primary result code.
func isCode(err error, primary int) bool {
	var d *driver.Error
	return errors.As(err, &d) && d.Code()&0xff == primary
}

func (s *Store) errClosed() error {
	return &records.Error{Kind: records.Internal, What: "the store " + s.path + " was closed", Do: "open it again"}
}

func (s *Store) errReadOnly() error {
	return &records.Error{Kind: records.ReadOnly, What: s.path + " was opened for reading only", Do: "open it for writing"}
}
