package auth

import (
	"context"
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
)

// signin is what is kept of one, under the hash of its token.
type signin struct {
	Person records.PersonCode `json:"person"`
	By     Kind               `json:"by"`
	Device records.DeviceCode `json:"device,omitzero"` // empty: none, and then any browser that has the token
	Turn   string             `json:"turn,omitzero"`   // of the person, when it was made
	Made   records.Instant    `json:"made"`
	Seen   records.Instant    `json:"seen"`
}

// runs says whether it still runs. One of a later time than it is now was made before the clock was set back, and nobody can tell how
// long ago; it must not run until that time comes again.
func (in *signin) runs(now records.Instant) bool {
	return now < in.ends() && !ahead(max(in.Made, in.Seen), now)
}

func (in *signin) ends() records.Instant { return min(in.Seen.Add(Idle), in.Made.Add(Absolute)) }

// SignedIn is whose sign-in a token is.
type SignedIn struct {
	Person records.PersonCode // empty: nobody's
	By     Kind
	Runs   bool            // it has not run out
	Ends   records.Instant // when it does if nothing more is asked
}

// SignIn makes a new token for a person whose secret was right. The token is given to the browser and is not kept here.
// With a device it counts only together with that device's own secret.
func (s *Store) SignIn(ctx context.Context, who records.PersonCode, by Kind, device records.DeviceCode) (token string, in SignedIn, err error) {
	if err := s.sweepNow(ctx); err != nil {
		return "", in, err
	}
	p, _, err := read[person](ctx, s.in, inPeople, plainCode(string(who)))
	if err != nil {
		return "", in, err
	}
	token, kept, err := newToken()
	if err != nil {
		return "", in, err
	}
	now := s.now()
	new := signin{Person: who, By: by, Device: device, Turn: p.Turn, Made: now, Seen: now}
	err = change(ctx, s.in, inSignIns, kept, func(v *signin, _ bool) (bool, error) {
		*v = new
		return true, nil
	})
	return token, SignedIn{Person: who, By: by, Runs: true, Ends: new.ends()}, err
}

// Who is whose sign-in a token is, and whether it still runs. device is the enrolled device that asks. A token nobody has,
// of one that signed out, of another device, or of a person whose secret has changed since, is nobody's.
func (s *Store) Who(ctx context.Context, token string, device records.DeviceCode) (SignedIn, error) {
	return s.look(ctx, token, device, true)
}

// Look is Who for what a page asks by itself: it does not prolong the sign-in.
func (s *Store) Look(ctx context.Context, token string, device records.DeviceCode) (SignedIn, error) {
	return s.look(ctx, token, device, false)
}

func (s *Store) look(ctx context.Context, token string, device records.DeviceCode, used bool) (who SignedIn, err error) {
	kept, ok := keptOf(token)
	if !ok {
		return who, nil
	}
	in, there, err := recent[signin](ctx, s.in, inSignIns, kept)
	if err != nil || !there || in.Device != "" && in.Device != device {
		return who, err
	}
	p, _, err := recent[person](ctx, s.in, inPeople, plainCode(string(in.Person)))
	if err != nil || p.Turn != in.Turn {
		return who, err
	}
	now := s.now()
	who = SignedIn{Person: in.Person, By: in.By, Runs: in.runs(now), Ends: in.ends()}
	if used && who.Runs && now >= in.Seen.Add(touchAfter) {
		err = change(ctx, s.in, inSignIns, kept, func(v *signin, there bool) (bool, error) {
			if !there || v.Seen >= now { // signed out meanwhile, or seen by another request
				return false, nil
			}
			v.Seen = now
			who.Ends = v.ends()
			return true, nil
		})
		if unprolonged(err) {
			err = nil
		}
	}
	return who, err
}

// SignOut ends a sign-in.
func (s *Store) SignOut(ctx context.Context, token string) error {
	kept, ok := keptOf(token)
	if !ok {
		return nil
	}
	return s.in.Delete(ctx, inSignIns, kept)
}
