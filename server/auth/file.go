package auth

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"net/url"
	"os"

	driver "modernc.org/sqlite" // and the driver "sqlite"
	codes "modernc.org/sqlite/lib"

	"grainward/records"
)

const version = 2

const schema = `
create table kept (
  drawer text not null,
  key    text not null,
  value  blob not null,    -- JSON
  rev    integer not null, -- drawn anew at each writing
  primary key (drawer, key)
) strict, without rowid;
pragma user_version = 2;
`

// file is people.db: a Cabinet in one file of SQLite, readable by its owner only.
type file struct {
	db   *sql.DB
	path string
}

// Open opens or makes a store in a file at path, readable by its owner only.
func Open(path string, o Options) (*Store, error) {
	c, err := OpenFile(path)
	if err != nil {
		return nil, err
	}
	s, err := New(c, o)
	if err != nil {
		return nil, errors.Join(err, c.Close())
	}
	return s, nil
}

// FileCabinet is a Cabinet that is to be closed.
type FileCabinet interface {
	Cabinet
	Close() error
}

// OpenFile opens or makes the file at path. One of an earlier version is brought up: its PINs and counts stay, its
// sign-ins end, since they were not made on an enrolled device.
func OpenFile(path string) (FileCabinet, error) {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		kind := records.Internal
		if errors.Is(err, os.ErrPermission) {
			kind = records.ReadOnly
		}
		return nil, &records.Error{Kind: kind, What: "the file of the PINs can not be opened", Do: "Look at who owns it and its folder.", Err: err}
	}
	if err := f.Close(); err != nil {
		return nil, fmt.Errorf("opening %s: %w", path, err)
	}
	// secure_delete: what is erased is overwritten, not only forgotten.
	dsn := (&url.URL{Scheme: "file", Opaque: (&url.URL{Path: path}).EscapedPath(),
		RawQuery: "_pragma=busy_timeout(5000)&_pragma=journal_mode(wal)&_pragma=secure_delete(on)&_txlock=immediate"}).String()
	db, err := sql.Open("sqlite", dsn)
	if err != nil {
		return nil, fmt.Errorf("opening %s: %w", path, err)
	}
	c := &file{db, path}
	if err := c.prepare(); err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return c, nil
}

func (c *file) prepare() error {
	var have int
	if err := c.db.QueryRow("pragma user_version").Scan(&have); err != nil {
		return c.unreadable(err)
	}
	if have == version {
		return nil
	}
	tx, err := c.db.Begin()
	if err != nil {
		return c.fault(err)
	}
	if err := c.bringUp(tx); err != nil {
		return errors.Join(err, tx.Rollback())
	}
	return c.fault(tx.Commit())
}

func (c *file) unreadable(err error) error {
	return &records.Error{Kind: records.Corrupt, What: c.path + " is not a file of PINs, or is damaged",
		Do: "Move it away and set the PINs anew; no record is lost by that.", Err: err}
}

func (c *file) bringUp(tx *sql.Tx) error {
	var have int
	if err := tx.QueryRow("pragma user_version").Scan(&have); err != nil {
		return c.unreadable(err)
	}
	switch {
	case have > version:
		return &records.Error{Kind: records.TooNew, What: fmt.Sprintf("%s was written by a newer Grainward (its format is %d, this program knows %d)", c.path, have, version),
			Do: "Run the newer program."}
	case have == version:
		return nil
	}
	if _, err := tx.Exec(schema); err != nil {
		return c.fault(err)
	}
	if have == 1 {
		return c.fromFirst(tx)
	}
	return nil
}

// fromFirst carries over what version 1 kept: a row for each PIN with its wrong tries.
func (c *file) fromFirst(tx *sql.Tx) error {
	rows, err := tx.Query("select person, phc, set_at, set_by, tries, not_before from pins")
	if err != nil {
		return c.unreadable(err)
	}
	type row struct {
		person string
		p      person
		n      count
	}
	var all []row
	for rows.Next() {
		var r row
		var pin secret
		if err := rows.Scan(&r.person, &pin.PHC, &pin.Set, &pin.By, &r.n.Tries, &r.n.NotBefore); err != nil {
			return errors.Join(c.unreadable(err), rows.Close())
		}
		r.p.PIN, r.n.At = &pin, pin.Set
		all = append(all, r)
	}
	if err := errors.Join(rows.Err(), rows.Close()); err != nil {
		return c.unreadable(err)
	}
	for _, r := range all {
		if err := insert(tx, inPeople, r.person, r.p); err != nil {
			return c.fault(err)
		}
		if r.n.Tries > 0 {
			if err := insert(tx, inTries, onDevices(records.PersonCode(r.person)), r.n); err != nil {
				return c.fault(err)
			}
		}
	}
	_, err = tx.Exec("drop table pins; drop table signins")
	return c.fault(err)
}

func insert(tx *sql.Tx, drawer, key string, v any) error {
	b, err := json.Marshal(v)
	if err != nil {
		return err
	}
	_, err = tx.Exec("insert into kept (drawer, key, value, rev) values (?, ?, ?, ?)", drawer, key, b, newRev())
	return err
}

func newRev() int64 { return 1 + rand.Int64N(1<<62) }

// fault gives an error of the file its kind, from the result code (https://www.sqlite.org/rescode.html), and says what to do.
func (c *file) fault(err error) error {
	var own *records.Error
	var d *driver.Error
	switch {
	case err == nil, errors.As(err, &own):
		return err
	case !errors.As(err, &d):
		return fmt.Errorf("the file of the PINs: %w", err)
	}
	is := func(kind records.ErrorKind, what, do string) error {
		return &records.Error{Kind: kind, What: fmt.Sprintf("%s %s", c.path, what), Do: do, Err: err}
	}
	switch d.Code() & 0xff {
	case codes.SQLITE_FULL:
		return is(records.Full, "can not be written: the disk is full", "Free some space on the disk and do it again.")
	case codes.SQLITE_READONLY, codes.SQLITE_PERM, codes.SQLITE_CANTOPEN:
		return is(records.ReadOnly, "can not be written", "Look at who owns it and its folder.")
	case codes.SQLITE_CORRUPT, codes.SQLITE_NOTADB, codes.SQLITE_ERROR, codes.SQLITE_SCHEMA:
		return c.unreadable(err)
	case codes.SQLITE_BUSY, codes.SQLITE_LOCKED:
		return is(records.Busy, "is locked by another program", "Close that, and try again.")
	case codes.SQLITE_IOERR:
		return is(records.Unavailable, "can not be read or written: the disk gave an error", "Check the disk.")
	}
	return fmt.Errorf("the file of the PINs: %w", err)
}

func (c *file) Get(ctx context.Context, drawer, key string) (value []byte, rev int64, err error) {
	err = c.db.QueryRowContext(ctx, "select value, rev from kept where drawer = ? and key = ?", drawer, key).Scan(&value, &rev)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, 0, nil
	}
	return value, rev, c.fault(err)
}

func (c *file) Put(ctx context.Context, drawer, key string, value []byte, rev int64) (bool, error) {
	q, args := "update kept set value = ?, rev = ? where drawer = ? and key = ? and rev = ?", []any{value, newRev(), drawer, key, rev}
	if rev == 0 {
		q, args = "insert or ignore into kept (value, rev, drawer, key) values (?, ?, ?, ?)", args[:4]
	}
	res, err := c.db.ExecContext(ctx, q, args...)
	if err != nil {
		return false, c.fault(err)
	}
	n, err := res.RowsAffected()
	return n == 1, c.fault(err)
}

func (c *file) Delete(ctx context.Context, drawer, key string) error {
	_, err := c.db.ExecContext(ctx, "delete from kept where drawer = ? and key = ?", drawer, key)
	return c.fault(err)
}

// Each reads the whole drawer before it calls do, so that do may write.
func (c *file) Each(ctx context.Context, drawer string, do func(key string, value []byte) error) error {
	rows, err := c.db.QueryContext(ctx, "select key, value from kept where drawer = ? order by key", drawer)
	if err != nil {
		return c.fault(err)
	}
	type pair struct {
		key   string
		value []byte
	}
	var all []pair
	for rows.Next() {
		var p pair
		if err := rows.Scan(&p.key, &p.value); err != nil {
			return c.fault(errors.Join(err, rows.Close()))
		}
		all = append(all, p)
	}
	if err := errors.Join(rows.Err(), rows.Close()); err != nil {
		return c.fault(err)
	}
	for _, p := range all {
		if err := do(p.key, p.value); err != nil {
			return err
		}
	}
	return nil
}

// Close releases the file.
func (c *file) Close() error { return c.db.Close() }
