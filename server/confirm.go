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
		return []pages.Message{{Field: "again", Text: r.say("again-missing")}}, nil
	}
	err = s.confirmSecret(r, pin)
	var refused secretRefused
	if errors.As(err, &refused) {
		return []pages.Message{{Field: "again", Text: r.refusedPIN(refused.Answer)}}, nil
	}
	return nil, err
}

// confirmSecret compares the secret of whoever is signed in. The error is a secretRefused when it was not taken.
func (s *Server) confirmSecret(r *request, secret string) error {
	if secret == "" {
		return errNoSecret
	}
	a, err := s.Auth.Check(r.ctx, r.who.Code, secret)
	if err == nil && a.Outcome != auth.Right {
		return secretRefused{a}
	}
	return err
}

// refusedPIN says why a PIN was not taken.
func (r *request) refusedPIN(a auth.Answer) string {
	switch {
	case a.Outcome == auth.Wrong && a.Until == 0:
		return r.say("pin-wrong")
	case a.Outcome == auth.Wrong:
		return r.say("pin-wrong-wait", r.toSecond(a.Until))
	case a.Outcome == auth.Wait:
		return r.say("pin-wait", r.toSecond(a.Until))
	case a.Outcome == auth.Locked:
		return r.say("pin-locked", r.toSecond(a.Until))
	}
	return r.say("you-have-no-pin")
}
