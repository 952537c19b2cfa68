package auth

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"fmt"
	"math/big"

	"grainward/records"
)

// person is what is kept of one.
type person struct {
	PIN      *secret `json:"pin,omitzero"`
	Password *secret `json:"password,omitzero"`
	// Turn is drawn anew when every sign-in of theirs is to end: a sign-in carries the turn it was made in.
	Turn string `json:"turn,omitzero"`
}

type secret struct {
	PHC string             `json:"phc"`
	Set records.Instant    `json:"set"`
	By  records.PersonCode `json:"by,omitzero"` // empty from the command line
}

func (p *person) of(k Kind) *secret {
	if k == Password {
		return p.Password
	}
	return p.PIN
}

func newTurn() (string, error) {
	var b [8]byte
	if _, err := rand.Read(b[:]); err != nil {
		return "", fmt.Errorf("drawing a number: %w", err)
	}
	return hex.EncodeToString(b[:]), nil
}

// Secrets is what a lead may know of a person's secrets.
type Secrets struct {
	PIN, Password records.Instant // when it was set; 0 when there is none
	Until         records.Instant // no try is taken before, on enrolled devices or elsewhere; 0 when it is
}

// Any says whether they have one.
func (s Secrets) Any() bool { return s.PIN != 0 || s.Password != 0 }

// SetPIN gives a person a new PIN, clears their wrong tries and ends their sign-ins. by is who set it, empty for the
// command line.
func (s *Store) SetPIN(ctx context.Context, who, by records.PersonCode, pin string) error {
	if err := CheckPIN(pin); err != nil {
		return err
	}
	return s.set(ctx, who, by, PIN, pin)
}

// SetPassword gives a person a new password, clears their wrong tries and ends their sign-ins. known are words it must not
// be made of: the person's name, the plant's.
func (s *Store) SetPassword(ctx context.Context, who, by records.PersonCode, password string, known ...string) error {
	if err := CheckPassword(password, append(known, string(who))...); err != nil {
		return err
	}
	return s.set(ctx, who, by, Password, password)
}

func (s *Store) set(ctx context.Context, who, by records.PersonCode, kind Kind, text string) error {
	if who == "" || records.CheckCode(string(who)) != nil {
		return &records.Error{Kind: records.Invalid, What: "that is not the code of a person"}
	}
	phc, err := FormatHash(text, s.params)
	if err != nil {
		return err
	}
	turn, err := newTurn()
	if err != nil {
		return err
	}
	err = change(ctx, s.in, inPeople, string(who), func(p *person, _ bool) (bool, error) {
		new := &secret{PHC: phc, Set: s.now(), By: by}
		if p.Turn = turn; kind == Password {
			p.Password = new
		} else {
			p.PIN = new
		}
		return true, nil
	})
	if err != nil {
		return err
	}
	return s.Unlock(ctx, who)
}

// Unlock clears a person's wrong tries.
func (s *Store) Unlock(ctx context.Context, who records.PersonCode) error {
	for _, key := range []string{onDevices(who), elsewhere(who)} {
		if err := s.in.Delete(ctx, inTries, key); err != nil {
			return err
		}
	}
	return nil
}

// EndSignIns ends every sign-in of a person.
func (s *Store) EndSignIns(ctx context.Context, who records.PersonCode) error {
	turn, err := newTurn()
	if err != nil {
		return err
	}
	return change(ctx, s.in, inPeople, plainCode(string(who)), func(p *person, _ bool) (bool, error) {
		p.Turn = turn
		return true, nil
	})
}

// DropPIN takes a person's PIN away and ends their sign-ins; a password stays.
func (s *Store) DropPIN(ctx context.Context, who records.PersonCode) error {
	turn, err := newTurn()
	if err != nil {
		return err
	}
	return change(ctx, s.in, inPeople, plainCode(string(who)), func(p *person, there bool) (bool, error) {
		p.PIN, p.Turn = nil, turn
		return there, nil
	})
}

// People is what those have who have a secret.
func (s *Store) People(ctx context.Context) (map[records.PersonCode]Secrets, error) {
	out := map[records.PersonCode]Secrets{}
	err := all(ctx, s.in, inPeople, func(code string, p person) error {
		var has Secrets
		if p.PIN != nil {
			has.PIN = p.PIN.Set
		}
		if p.Password != nil {
			has.Password = p.Password.Set
		}
		if !has.Any() {
			return nil
		}
		for _, key := range []string{onDevices(records.PersonCode(code)), elsewhere(records.PersonCode(code))} {
			a, wait, err := s.peek(ctx, key, ofPerson)
			if err != nil {
				return err
			}
			if wait {
				has.Until = max(has.Until, a.Until)
			}
		}
		out[records.PersonCode(code)] = has
		return nil
	})
	return out, err
}

// Forget erases everything the store has about a person.
func (s *Store) Forget(ctx context.Context, who records.PersonCode) error {
	err := all(ctx, s.in, inSignIns, func(key string, in signin) error {
		if in.Person != who {
			return nil
		}
		return s.in.Delete(ctx, inSignIns, key)
	})
	if err != nil {
		return err
	}
	if err := s.in.Delete(ctx, inPeople, plainCode(string(who))); err != nil {
		return err
	}
	return s.Unlock(ctx, who)
}

// NewPIN draws a PIN of six digits that CheckPIN takes, to be shown once and passed on.
func NewPIN() (string, error) {
	for {
		n, err := rand.Int(rand.Reader, big.NewInt(1_000_000))
		if err != nil {
			return "", fmt.Errorf("drawing a PIN: %w", err)
		}
		if pin := fmt.Sprintf("%06d", n); CheckPIN(pin) == nil {
			return pin, nil
		}
	}
}
