package server

import (
	"errors"

	"grainward/records"
	"grainward/server/auth"
	"grainward/server/pages"
)

// asksAgain says whether a signature with a meaning asks for the signer's PIN again: verifications, approvals and releases
// do, work that was performed or goods that were received do not (21 CFR 11.200(a)(1) as the model).
func asksAgain(m records.Meaning) bool {
	return m == records.Verified || m == records.Approved || m == records.Released
}

// confirm compares the PIN that came again with a form (field "again", template "again"). ms is empty when it was right; else it
// goes into the form that comes back. Wrong tries count as they do at signing in.
func (s *Server) confirm(r *request) (ms []pages.Message, err error) {
	pin := r.form.Get("again")
	if pin == "" {
		return []pages.Message{{Field: "again", Text: r.say(againMissing[r.asked()])}}, nil
	}
	err = s.confirmSecret(r, pin)
	var refused secretRefused
	if errors.As(err, &refused) {
		return []pages.Message{{Field: "again", Text: r.refusedSecret(refused.Answer, r.asked())}}, nil
	}
	return nil, err
}

// confirmSecret compares the secret of whoever is signed in. The error is a secretRefused when it was not taken.
func (s *Server) confirmSecret(r *request, secret string) error {
	if secret == "" {
		return errNoSecret
	}
	a, err := s.Auth.Check(r.ctx, auth.Try{Person: r.who.Code, Secret: secret, Device: r.device, Address: r.address})
	if err != nil {
		return err
	}
	if s.compared(r, a); a.Outcome != auth.Right {
		return secretRefused{a}
	}
	return nil
}

// asked is which secret is asked for once more: the PIN of whoever signed in with one; of a lead the password, or either on an
// enrolled device.
func (r *request) asked() string {
	switch {
	case r.by == auth.PIN:
		return "pin"
	case r.device == "":
		return "password"
	}
	return "either"
}

// What is said by which secret was asked for.
var (
	againMissing = map[string]string{"pin": "again-missing-pin", "password": "again-missing-password", "either": "again-missing-either"}
	wrongSecret  = map[string]string{"pin": "wrong-pin", "password": "wrong-password", "either": "wrong-either"}
	weakSecret   = map[string]string{"pin": "pin-weak", "password": "password-weak"}
	secretSet    = map[string]string{"pin": "pin-for", "password": "password-for"}
)

// refusedSecret says why a secret was not taken; kind is which one was asked for: pin, password or either.
func (r *request) refusedSecret(a auth.Answer, kind string) string {
	switch {
	case a.Outcome == auth.Wrong && a.Until == 0:
		return r.say(wrongSecret[kind])
	case a.Outcome == auth.Wrong:
		return r.say(wrongSecret[kind]) + " " + r.say("next-try", r.toSecond(a.Until))
	case a.Outcome == auth.NoPIN:
		return r.say("you-have-no-pin")
	case a.Place:
		return r.say("place-wait", r.toSecond(a.Until))
	case a.Outcome == auth.Locked:
		return r.say("pin-locked", r.toSecond(a.Until))
	}
	return r.say("pin-wait", r.toSecond(a.Until))
}
