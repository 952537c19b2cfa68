package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"grainward/records"
)

// rowsAtOnce is how many rows one INSERT holds in a long batch. Measured on batches of 1,000: a row at a time is a
// tenth slower, 256 rows gain nothing more.
const rowsAtOnce = 64

// writer is the one connection that writes, with its statements made ready. Its user holds Store.mu.
type writer struct {
	db   *sql.DB
	conn *sql.Conn

	begin, head, one, many, note, blob, commit, rollback *sql.Stmt
}

func newWriter(ctx context.Context, path string, steps []step) (w *writer, err error) {
	w = &writer{db: openDB(path, "rwc", "")}
	defer func() {
		if err != nil {
			err = errors.Join(err, w.close())
			w = nil
		}
	}()
	if w.conn, err = w.db.Conn(ctx); err != nil {
		return w, wrong("opening the journal for writing", path, err)
	}
	id, err := identify(ctx, w.conn)
	if err != nil {
		return w, wrong("reading what the file is", path, err)
	}
	if err := id.check(ctx, w.conn, path, steps); err != nil {
		return w, err
	}
	// Only now is the file known to be ours or blank, and may be changed.
	var mode string
	if err := w.conn.QueryRowContext(ctx, "PRAGMA journal_mode = WAL").Scan(&mode); err != nil {
		return w, wrong("turning on the write-ahead log", path, err)
	}
	if mode != "wal" {
		return w, &records.Error{Kind: records.Unavailable, What: fmt.Sprintf("the file system under %s can not hold a write-ahead log (SQLite stays in mode %q)", path, mode),
			Do: "keep the plant on a local disk"}
	}
	if err := migrate(ctx, w.conn, id.version, steps); err != nil {
		return w, wrong("making or bringing up to date the tables", path, err)
	}
	if err := syncDir(filepath.Dir(path)); err != nil {
		return w, wrong("making the new file's name durable", path, err)
	}
	return w, wrong("preparing to write", path, w.prepare(ctx))
}

func (w *writer) prepare(ctx context.Context) error {
	const insert = "INSERT INTO entries (position, body, leaf) VALUES (?, ?, ?)"
	for _, p := range []struct {
		to  **sql.Stmt
		sql string
	}{
		{&w.begin, "BEGIN IMMEDIATE"},
		{&w.commit, "COMMIT"},
		{&w.rollback, "ROLLBACK"},
		{&w.head, headQuery},
		{&w.one, insert},
		{&w.many, insert + strings.Repeat(", (?, ?, ?)", rowsAtOnce-1)},
		{&w.note, "INSERT INTO checkpoints (size, note) VALUES (?, ?)"},
		{&w.blob, `INSERT INTO blobs (sha256, size, bytes) VALUES (?, ?, ?)
			ON CONFLICT (sha256) DO UPDATE SET size = excluded.size, bytes = excluded.bytes
			WHERE size IS NOT excluded.size OR bytes IS NOT excluded.bytes`},
	} {
		var err error
		if *p.to, err = w.conn.PrepareContext(ctx, p.sql); err != nil {
			return err
		}
	}
	return nil
}

func (w *writer) close() error {
	var errs []error
	for _, s := range []*sql.Stmt{w.begin, w.head, w.one, w.many, w.note, w.blob, w.commit, w.rollback} {
		if s != nil {
			errs = append(errs, s.Close())
		}
	}
	if w.conn != nil {
		errs = append(errs, w.conn.Close())
	}
	return errors.Join(append(errs, w.db.Close())...)
}

// Append stores the batch in one transaction, which costs one sync.
//
// It heeds ctx until the transaction begins and not after: an append that was given up half way would leave its
// caller not knowing whether it happened.
func (s *Store) Append(ctx context.Context, b records.Batch) error {
	if s.mode != Write {
		return s.errReadOnly()
	}
	if len(b.Rows) == 0 {
		return errEmpty()
	}
	return s.write(ctx, "appending", func(ctx context.Context, w *writer) error { return w.append(ctx, b) })
}

// AppendAll stores the batches in one transaction: all or none, which is more than records.Bulk asks for.
func (s *Store) AppendAll(ctx context.Context, batches []records.Batch) error {
	if s.mode != Write {
		return s.errReadOnly()
	}
	for _, b := range batches {
		if len(b.Rows) == 0 {
			return errEmpty()
		}
	}
	return s.write(ctx, "appending", func(ctx context.Context, w *writer) error {
		for _, b := range batches {
			if err := w.append(ctx, b); err != nil {
				return err
			}
		}
		return nil
	})
}

func errEmpty() error {
	return &records.Error{Kind: records.Invalid, What: "the batch to append has no rows", Do: "append at least one row"}
}

func (w *writer) append(ctx context.Context, b records.Batch) error {
	var have int64
	if err := w.head.QueryRowContext(ctx).Scan(&have); err != nil {
		return err
	}
	if have != int64(b.After) {
		return &records.Error{Kind: records.Conflict, What: fmt.Sprintf("the batch was made when the journal held %d entries, and it holds %d", b.After, have),
			Do: "read the newer entries and make the batch again"}
	}
	if err := w.insert(ctx, have, b.Rows); err != nil {
		return err
	}
	if len(b.Checkpoint) == 0 {
		return nil
	}
	_, err := w.note.ExecContext(ctx, have+int64(len(b.Rows)), string(b.Checkpoint))
	return err
}

func (w *writer) insert(ctx context.Context, at int64, rows []records.Row) error {
	args := make([]any, 0, 3*min(len(rows), rowsAtOnce))
	put := func(stmt *sql.Stmt, some []records.Row) error {
		args = args[:0]
		for _, r := range some {
			args = append(args, at, string(r.Bytes), r.Leaf[:])
			at++
		}
		_, err := stmt.ExecContext(ctx, args...)
		return err
	}
	for ; len(rows) >= rowsAtOnce; rows = rows[rowsAtOnce:] {
		if err := put(w.many, rows[:rowsAtOnce]); err != nil {
			return err
		}
	}
	for i := range rows {
		if err := put(w.one, rows[i:i+1]); err != nil {
			return err
		}
	}
	return nil
}

// write runs do inside one transaction on the writing connection, and gives nil only after the commit is durable.
func (s *Store) write(ctx context.Context, doing string, do func(context.Context, *writer) error) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed.Load() {
		return s.errClosed()
	}
	if err := ctx.Err(); err != nil {
		return s.wrong(doing, err)
	}
	if err := s.watch.check(); err != nil {
		return err
	}
	ctx = context.WithoutCancel(ctx)
	w := s.writes
	if _, err := w.begin.ExecContext(ctx); err != nil {
		return s.wrong(doing, err)
	}
	err := do(ctx, w)
	if err == nil {
		_, err = w.commit.ExecContext(ctx)
	}
	if err == nil {
		return s.watch.check()
	}
	err = s.wrong(doing, err)
	// SQLite itself rolls back after some errors (a full disk is one), and then has nothing left to roll back.
	if _, undo := w.rollback.ExecContext(ctx); undo != nil && !w.idle(ctx) {
		err = errors.Join(err, s.wrong("undoing it", undo))
	}
	return err
}

// idle says that no transaction is open, by beginning and ending one.
func (w *writer) idle(ctx context.Context) bool {
	if _, err := w.begin.ExecContext(ctx); err != nil {
		return false
	}
	_, err := w.rollback.ExecContext(ctx)
	return err == nil
}

// syncDir makes the names in a folder durable.
func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
