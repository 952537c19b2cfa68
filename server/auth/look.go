package auth

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"grainward/records"
)

// Look is Who for what a page asks by itself: it does not count as use, so that a page left open does not keep its sign-in from
// ending.
func (s *Store) Look(ctx context.Context, token string) (person records.PersonCode, runs bool, err error) {
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
	return records.PersonCode(who), now < records.Instant(seen).Add(Idle) && now < records.Instant(made).Add(Absolute), nil
}
