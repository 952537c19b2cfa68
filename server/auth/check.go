package auth

import (
	"context"

	"grainward/records"
)

// Outcome is what came of a try.
type Outcome int

const (
	Right  Outcome = iota
	Wrong          // and one try fewer; or, from a browser that is not enrolled, nobody known
	Wait           // too many wrong ones: not compared; see Answer.Until
	Locked         // as Wait, after many more
	NoPIN          // this person has no secret; only said to an enrolled device
)

// Kind is which of a person's secrets was given.
type Kind string

// The two secrets of a person.
const (
	PIN      Kind = "pin"
	Password Kind = "password"
)

// Answer is the outcome with what a person needs to be told.
type Answer struct {
	Outcome Outcome
	Until   records.Instant // when the next try is taken; 0 when at once
	By      Kind            // when Right
	Place   bool            // Wait and Locked are because of the device or address, not of the person
}

// Try is a secret given by somebody.
type Try struct {
	Person  records.PersonCode
	Secret  string
	Device  records.DeviceCode // the enrolled device it was given on, as Device found it; empty: none
	Address string             // the network address, when there is no device
}

func (t Try) person() string {
	if t.Device != "" {
		return onDevices(t.Person)
	}
	return elsewhere(t.Person)
}

func (t Try) place() string {
	if t.Device != "" {
		return "at:" + plainCode(string(t.Device))
	}
	return "from:" + plainCode(t.Address)
}

// Check compares a secret. A PIN is compared only on an enrolled device. An error is a fault of the cabinet; a wrong
// secret is an outcome.
func (s *Store) Check(ctx context.Context, t Try) (Answer, error) {
	turns := s.elsewhere
	if t.Device != "" {
		turns = s.turns
	}
	select {
	case turns <- struct{}{}:
		defer func() { <-turns }()
	case <-ctx.Done():
		return Answer{}, ctx.Err()
	}
	a, ok, err := s.count(ctx, t)
	if err != nil || !ok {
		return a, err
	}
	by, err := s.compare(ctx, t)
	switch {
	case err != nil:
		return Answer{}, err
	case by == "none" && t.Device != "":
		a.Outcome = NoPIN
		return a, nil
	case by == "" || by == "none":
		return a, nil
	}
	if err := s.in.Delete(ctx, inTries, t.person()); err != nil {
		return Answer{}, err
	}
	return Answer{Outcome: Right, By: by}, s.giveBack(ctx, t.place())
}

// count counts a try of a person and of a place. ok is false when it is not to be compared, and then neither is counted.
func (s *Store) count(ctx context.Context, t Try) (a Answer, ok bool, err error) {
	if err := s.sweepNow(ctx); err != nil {
		return a, false, err
	}
	if a, wait, err := s.peek(ctx, t.person(), ofPerson); err != nil || wait {
		return a, false, err
	}
	of, ok, err := s.reserve(ctx, t.place(), ofPlace)
	if err != nil || !ok {
		of.Place = true
		return of, false, err
	}
	a, ok, err = s.reserve(ctx, t.person(), ofPerson)
	if err != nil || !ok {
		if err == nil {
			err = s.giveBack(ctx, t.place())
		}
		return a, false, err
	}
	if of.Until > a.Until {
		a.Until, a.Place = of.Until, true
	}
	return a, true, nil
}

// compare says which of the person's secrets it is: empty when none is, "none" when they have none that counts here. It
// takes as long for somebody who is not known.
func (s *Store) compare(ctx context.Context, t Try) (Kind, error) {
	who, _, err := read[person](ctx, s.in, inPeople, plainCode(string(t.Person)))
	if err != nil {
		return "", err
	}
	var of []Kind
	if who.PIN != nil && t.Device != "" && (looksLikePIN(t.Secret) || who.Password == nil) {
		of = append(of, PIN)
	}
	if who.Password != nil && (len(of) == 0 || len(t.Secret) >= PasswordLeast) {
		of = append(of, Password)
	}
	if len(of) == 0 {
		_, _, err := verify(t.Secret, s.dummy, s.params)
		return "none", err
	}
	for _, kind := range of {
		phc := who.of(kind).PHC
		ok, stale, err := verify(t.Secret, phc, s.params)
		if err != nil {
			return "", err
		}
		if ok && stale {
			err = s.hashAgain(ctx, t, kind, phc)
		}
		if ok || err != nil {
			return kind, err
		}
	}
	return "", nil
}

// hashAgain writes a secret at today's costs, unless another was set meanwhile.
func (s *Store) hashAgain(ctx context.Context, t Try, kind Kind, was string) error {
	phc, err := FormatHash(t.Secret, s.params)
	if err != nil {
		return err
	}
	return change(ctx, s.in, inPeople, string(t.Person), func(p *person, _ bool) (bool, error) {
		has := p.of(kind)
		if has == nil || has.PHC != was {
			return false, nil
		}
		has.PHC = phc
		return true, nil
	})
}

func looksLikePIN(secret string) bool {
	for i := range len(secret) {
		if secret[i] < '0' || secret[i] > '9' {
			return false
		}
	}
	return len(secret) <= pinMost
}
