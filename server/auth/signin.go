package auth

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"database/sql"
	"encoding/base64"
	"errors"
	"fmt"
	"time"

	"grainward/records"
)

const (
	// Idle is how long a sign-in lasts when nothing is asked.
	Idle = 30 * time.Minute
	// Absolute is how long it lasts at most.
	Absolute = 12 * time.Hour

	remembered = 24 * time.Hour // one that ran out, to ask its person for the PIN by name
	touchAfter = time.Minute    // the time last seen is written no oftener
	tokenBytes = 32
)

// SignIn makes a new token for a person who has just given the right PIN. The token is given to the browser and is
// not kept here.
func (s *Store) SignIn(ctx context.Context, person records.PersonCode) (token string, err error) {
	raw := make([]byte, tokenBytes)
	if _, err := rand.Read(raw); err != nil {
		return "", fmt.Errorf("making a token: %w", err)
	}
	now := s.now()
	err = s.tx(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, "delete from signins where made < ?", int64(now.Add(-Absolute-remembered))); err != nil {
			return err
		}
		sum := sha256.Sum256(raw)
		_, err := tx.ExecContext(ctx, "insert into signins (hash, person, made, seen) values (?, ?, ?, ?)", sum[:], string(person), int64(now), int64(now))
		return err
	})
	return base64.RawURLEncoding.EncodeToString(raw), err
}

// Who is whose sign-in a token is, and whether it still runs. A token nobody has, or of one that signed out, is
// nobody's: person is empty.
func (s *Store) Who(ctx context.Context, token string) (person records.PersonCode, runs bool, err error) {
	sum, ok := hashOf(token)
	if !ok {
		return "", false, nil
	}
	var who string
	var made, seen int64
	err = s.db.QueryRowContext(ctx, "select person, made, seen from signins where hash = ?", sum).Scan(&who, &made, &seen)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return "", false, nil
	case err != nil:
		return "", false, fmt.Errorf("the file of the PINs: %w", err)
	}
	now := s.now()
	if now >= records.Instant(seen).Add(Idle) || now >= records.Instant(made).Add(Absolute) {
		return records.PersonCode(who), false, nil
	}
	if now >= records.Instant(seen).Add(touchAfter) {
		if _, err := s.db.ExecContext(ctx, "update signins set seen = ? where hash = ?", int64(now), sum); err != nil {
			return "", false, fmt.Errorf("the file of the PINs: %w", err)
		}
	}
	return records.PersonCode(who), true, nil
}

// SignOut ends a sign-in.
func (s *Store) SignOut(ctx context.Context, token string) error {
	sum, ok := hashOf(token)
	if !ok {
		return nil
	}
	if _, err := s.db.ExecContext(ctx, "delete from signins where hash = ?", sum); err != nil {
		return fmt.Errorf("the file of the PINs: %w", err)
	}
	return nil
}

func hashOf(token string) ([]byte, bool) {
	raw, err := base64.RawURLEncoding.Strict().DecodeString(token)
	if err != nil || len(raw) != tokenBytes {
		return nil, false
	}
	sum := sha256.Sum256(raw)
	return sum[:], true
}
