package auth

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"

	_ "modernc.org/sqlite" // the driver "sqlite"

	"grainward/records"
)

// Options of a store.
type Options struct {
	Now      func() records.Instant // the clock; required
	Params   Params                 // of new hashes; DefaultParams when zero
	Parallel int                    // PINs compared at once, each taking Params.Memory; 2 when zero
}

// Store is people.db, open. It may be used from many goroutines.
type Store struct {
	db     *sql.DB
	now    func() records.Instant
	params Params
	turns  chan struct{} // one for each comparison under way
}

const version = 1

const schema = `
create table pins (
  person     text primary key,
  phc        text not null,
  set_at     integer not null,  -- milliseconds since 1970
  set_by     text not null,     -- '' from the command line
  tries      integer not null default 0,
  not_before integer not null default 0
) strict;
create table signins (
  hash    blob primary key,     -- SHA-256 of the token
  person  text not null,
  made    integer not null,
  seen    integer not null
) strict;
create index signins_of on signins (person);
pragma user_version = 1;
`

// Open opens or makes the store at path, readable by its owner only.
func Open(path string, o Options) (*Store, error) {
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
	s := &Store{db: db, now: o.Now, params: o.Params, turns: make(chan struct{}, max(1, o.Parallel))}
	if o.Params == (Params{}) {
		s.params = DefaultParams
	}
	if o.Parallel == 0 {
		s.turns = make(chan struct{}, 2)
	}
	if err := s.prepare(path); err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return s, nil
}

func (s *Store) prepare(path string) error {
	var have int
	if err := s.db.QueryRow("pragma user_version").Scan(&have); err != nil {
		return &records.Error{Kind: records.Corrupt, What: path + " is not a file of PINs, or is damaged",
			Do: "Move it away and set the PINs anew; no record is lost by that.", Err: err}
	}
	switch {
	case have > version:
		return &records.Error{Kind: records.TooNew, What: fmt.Sprintf("%s was written by a newer Grainward (its format is %d, this program knows %d)", path, have, version),
			Do: "Run the newer program."}
	case have == 0:
		if _, err := s.db.Exec(schema); err != nil {
			return fmt.Errorf("making the tables of %s: %w", path, err)
		}
	}
	return nil
}

// Close releases the file.
func (s *Store) Close() error { return s.db.Close() }

// Forget erases everything the store has about a person.
func (s *Store) Forget(ctx context.Context, person records.PersonCode) error {
	return s.tx(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, "delete from signins where person = ?", string(person)); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, "delete from pins where person = ?", string(person))
		return err
	})
}

func (s *Store) tx(ctx context.Context, do func(*sql.Tx) error) error {
	tx, err := s.db.BeginTx(ctx, nil)
	if err != nil {
		return fmt.Errorf("the file of the PINs: %w", err)
	}
	if err := do(tx); err != nil {
		return fmt.Errorf("the file of the PINs: %w", errors.Join(err, tx.Rollback()))
	}
	if err := tx.Commit(); err != nil {
		return fmt.Errorf("the file of the PINs: %w", err)
	}
	return nil
}
