package auth

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"grainward/records"
)

const (
	freeTries   = 3                // wrong ones that cost no wait
	firstWait   = 15 * time.Second // after the fourth
	longestWait = 15 * time.Minute
	lockTries   = 10 // wrong ones in a row that lock
	lockedFor   = time.Hour
)

// slowdown is how long the next try waits after n wrong ones in a row.
func slowdown(n int) time.Duration {
	switch {
	case n <= freeTries:
		return 0
	case n >= lockTries:
		return lockedFor
	}
	return min(longestWait, firstWait<<(n-freeTries-1))
}

// Outcome is what came of a try.
type Outcome int

const (
	Right  Outcome = iota
	Wrong          // and one try fewer
	Wait           // too many wrong ones: not compared; see Answer.Until
	Locked         // as Wait, after ten
	NoPIN          // this person has none
)

// Answer is the outcome with what a person needs to be told.
type Answer struct {
	Outcome Outcome
	Until   records.Instant // when the next try is taken; 0 when at once
}

// SetPIN gives a person a new PIN, clears their wrong tries and ends their sign-ins. by is who set it, empty for the
// command line.
func (s *Store) SetPIN(ctx context.Context, person, by records.PersonCode, pin string) error {
	if err := records.CheckCode(string(person)); err != nil {
		return &records.Error{Kind: records.Invalid, What: "that is not the code of a person", Err: err}
	}
	if err := CheckPIN(pin); err != nil {
		return err
	}
	phc, err := FormatHash(pin, s.params)
	if err != nil {
		return err
	}
	return s.tx(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, "delete from signins where person = ?", string(person)); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, "insert or replace into pins (person, phc, set_at, set_by) values (?, ?, ?, ?)", string(person), phc, int64(s.now()), string(by))
		return err
	})
}

// People are the codes of those who have a PIN.
func (s *Store) People(ctx context.Context) (map[records.PersonCode]bool, error) {
	rows, err := s.db.QueryContext(ctx, "select person from pins")
	if err != nil {
		return nil, fmt.Errorf("the file of the PINs: %w", err)
	}
	defer rows.Close()
	out := map[records.PersonCode]bool{}
	for rows.Next() {
		var p string
		if err := rows.Scan(&p); err != nil {
			return nil, fmt.Errorf("the file of the PINs: %w", err)
		}
		out[records.PersonCode(p)] = true
	}
	return out, rows.Err()
}

// Check compares a PIN. An error is a fault of the store; a wrong PIN is an outcome.
func (s *Store) Check(ctx context.Context, person records.PersonCode, pin string) (Answer, error) {
	select {
	case s.turns <- struct{}{}:
		defer func() { <-s.turns }()
	case <-ctx.Done():
		return Answer{}, ctx.Err()
	}
	phc, a, err := s.reserve(ctx, person)
	if err != nil || a.Outcome != Right {
		return a, err
	}
	ok, stale, err := verify(pin, phc, s.params)
	if err != nil {
		return Answer{}, err
	}
	if !ok {
		return Answer{Outcome: Wrong, Until: a.Until}, nil
	}
	if stale {
		if phc, err = FormatHash(pin, s.params); err != nil {
			return Answer{}, err
		}
	}
	if _, err := s.db.ExecContext(ctx, "update pins set tries = 0, not_before = 0, phc = ? where person = ?", phc, string(person)); err != nil {
		return Answer{}, fmt.Errorf("the file of the PINs: %w", err)
	}
	return Answer{Outcome: Right}, nil
}

// reserve counts the try as a wrong one before it is known to be, and gives the hash to compare; the outcome is Right
// when it may be compared.
func (s *Store) reserve(ctx context.Context, person records.PersonCode) (phc string, a Answer, err error) {
	err = s.tx(ctx, func(tx *sql.Tx) error {
		var tries int
		var notBefore int64
		err := tx.QueryRowContext(ctx, "select phc, tries, not_before from pins where person = ?", string(person)).Scan(&phc, &tries, &notBefore)
		switch now := s.now(); {
		case errors.Is(err, sql.ErrNoRows):
			a = Answer{Outcome: NoPIN}
			return nil
		case err != nil:
			return err
		case records.Instant(notBefore) > now:
			a = Answer{Outcome: Wait, Until: records.Instant(notBefore)}
			if tries >= lockTries {
				a.Outcome = Locked
			}
			return nil
		case tries >= lockTries:
			tries = freeTries // the lock has run out: slow again, but not at once locked
		}
		tries++
		if wait := slowdown(tries); wait > 0 {
			a.Until = s.now().Add(wait)
		}
		_, err = tx.ExecContext(ctx, "update pins set tries = ?, not_before = ? where person = ?", tries, int64(a.Until), string(person))
		return err
	})
	return phc, a, err
}
