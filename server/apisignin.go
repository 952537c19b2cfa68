package server

import (
	"encoding/json"
	"net/http"

	"grainward/records"
	"grainward/server/auth"
)

// secretJSON is what POST /api/sign-in takes.
type secretJSON struct {
	Person string `json:"person"` // a code of the plan, or a name
	Secret string `json:"secret"` // the PIN on an enrolled device, or the password
}

// signedInJSON is what it answers with.
type signedInJSON struct {
	Person   records.PersonCode `json:"person"`
	Name     string             `json:"name"`
	Role     string             `json:"role"`     // what they may do with the secret they gave: crew, lead, visitor
	Language string             `json:"language"` // theirs
	Ends     records.Instant    `json:"ends"`     // when the sign-in runs out if nothing more is asked
	Device   records.DeviceCode `json:"device,omitempty"`
}

// apiSignIn is signing in for the crew's page and for programs. The token goes into the cookie and is in no answer's body.
func (s *Server) apiSignIn(r *request) (reply, error) {
	if err := wellFormed(r.body); err != nil {
		return reply{}, err
	}
	var in secretJSON
	if err := json.Unmarshal(r.body, &in); err != nil {
		return reply{}, &records.Error{Kind: records.Invalid, What: `this takes {"person": text, "secret": text}`, Err: err}
	}
	if r.plan == nil {
		return reply{}, signInRefused{auth.Answer{Outcome: auth.Wrong}}
	}
	who, a, err := s.try(r, in.Person, in.Secret)
	if err != nil {
		return reply{}, err
	}
	if who == nil || a.Outcome != auth.Right {
		return reply{}, signInRefused{a}
	}
	token, err := s.enterAs(r, who, a.By)
	if err != nil {
		return reply{}, err
	}
	out := reply{token: &token, json: signedInJSON{who.Code, who.Name, r.role.String(), r.lang, r.ends, r.device}}
	if r.device != "" {
		out.key = &r.key
	}
	return out, nil
}

func (s *Server) apiSignOut(r *request) (reply, error) {
	if err := s.Auth.SignOut(r.ctx, r.token); err != nil {
		return reply{}, err
	}
	gone := ""
	return reply{status: http.StatusNoContent, token: &gone, pass: &gone}, nil
}
