package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"grainward/records"
	"grainward/records/ledger"
)

// headQuery asks for the last row id, which SQLite finds without counting. Positions have no gaps, since Append gives
// them and nothing takes any away; Read checks that.
const headQuery = "SELECT coalesce(max(position) + 1, 0) FROM entries"

// Head is the number of entries stored.
func (s *Store) Head(ctx context.Context) (records.Position, error) {
	var n int64
	err := s.reading(func() error { return s.reads.QueryRowContext(ctx, headQuery).Scan(&n) })
	return records.Position(n), s.wrong("counting the entries", err)
}

// Read visits the rows from a position on, as of the moment the call began.
func (s *Store) Read(ctx context.Context, from records.Position, visit func(records.Position, records.Row) error) error {
	due := max(from, 0)
	return s.each(ctx, "reading the entries", "SELECT position, body, leaf FROM entries WHERE position >= ? ORDER BY position", []any{int64(due)}, func(rows *sql.Rows) (error, error) {
		var at records.Position
		var body, leaf []byte // Scan makes new ones each time, which the visitor then owns
		if err := rows.Scan(&at, &body, &leaf); err != nil {
			return err, nil
		}
		if at != due {
			return &records.Error{Kind: records.Corrupt, What: fmt.Sprintf("the entry at position %d is missing from %s", due, s.path), Do: doCorrupt}, nil
		}
		if len(leaf) != len(ledger.Hash{}) {
			return &records.Error{Kind: records.Corrupt, What: fmt.Sprintf("the leaf hash at position %d in %s has %d bytes, not %d", at, s.path, len(leaf), len(ledger.Hash{})), Do: doCorrupt}, nil
		}
		due++
		return nil, visit(at, records.Row{Bytes: body, Leaf: ledger.Hash(leaf)})
	})
}

// Resume is the first position from one on that has a row.
func (s *Store) Resume(ctx context.Context, from records.Position) (at records.Position, there bool, err error) {
	var n sql.NullInt64
	err = s.reading(func() error {
		return s.reads.QueryRowContext(ctx, "SELECT min(position) FROM entries WHERE position >= ?", int64(max(from, 0))).Scan(&n)
	})
	return records.Position(n.Int64), n.Valid, s.wrong("looking where the entries go on", err)
}

// Checkpoints visits the signed tree heads, oldest first.
func (s *Store) Checkpoints(ctx context.Context, visit func(size records.Position, signed []byte) error) error {
	return s.each(ctx, "reading the tree heads", "SELECT size, note FROM checkpoints ORDER BY size", nil, func(rows *sql.Rows) (error, error) {
		var size records.Position
		var note []byte
		if err := rows.Scan(&size, &note); err != nil {
			return err, nil
		}
		return nil, visit(size, note)
	})
}

// NewestCheckpoint is the newest signed tree head; nil when there is none.
func (s *Store) NewestCheckpoint(ctx context.Context) (signed []byte, err error) {
	err = s.reading(func() error {
		return s.reads.QueryRowContext(ctx, "SELECT note FROM checkpoints ORDER BY size DESC LIMIT 1").Scan(&signed)
	})
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	return signed, s.wrong("reading the newest tree head", err)
}

// each runs a query and gives each row to take, which returns an error of the reading or one of the visitor; the
// visitor's is passed on as it is.
func (s *Store) each(ctx context.Context, doing, query string, args []any, take func(*sql.Rows) (reading, visitors error)) error {
	var visitors error
	err := s.reading(func() error {
		rows, err := s.reads.QueryContext(ctx, query, args...)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			var err error
			if err, visitors = take(rows); err != nil || visitors != nil {
				return s.otherType(doing, err)
			}
		}
		return rows.Err()
	})
	if visitors != nil {
		return visitors
	}
	return s.wrong(doing, err)
}

// otherType is for a row that SQLite reads and whose columns do not hold what they are for: a bit of the file that says of which type a
// value is was flipped. The driver has no code for it.
func (s *Store) otherType(doing string, err error) error {
	var own *records.Error
	if kind, _ := kindOf(err); err == nil || errors.As(err, &own) || kind != records.Internal || errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	return &records.Error{Kind: records.Corrupt, What: fmt.Sprintf("%s in %s met a row that does not hold what it is for", doing, s.path), Do: doCorrupt, Err: err}
}

// reading wraps every use of the reading connections.
func (s *Store) reading(do func() error) error {
	if s.closed.Load() {
		return s.errClosed()
	}
	if err := s.still(); err != nil {
		return err
	}
	if err := do(); err != nil {
		return err
	}
	return s.still()
}

// still says whether the file is the one that was opened.
func (s *Store) still() error {
	if err := s.frozen.check(); err != nil {
		return err
	}
	return s.watch.check()
}
