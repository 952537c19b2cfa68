package server

import (
	"net/http"
	"strings"
	"unicode/utf8"

	"grainward/records"
	"grainward/records/plan"
	"grainward/server/auth"
)

// staffJSON is the answer of /api/people: who is at the plant today, and what they can sign in with.
type staffJSON struct {
	People []personJSON `json:"people"`
}

type personJSON struct {
	Code     records.PersonCode `json:"code"`
	Name     string             `json:"name"`
	Role     string             `json:"role"`
	PIN      bool               `json:"pin"`             // they have one
	Password bool               `json:"password"`        // they have one
	Until    *records.Instant   `json:"until,omitempty"` // no try is taken before
}

// secretAsk is what POST /api/people/:person takes: one of what a lead can do about somebody's secrets.
type secretAsk struct {
	Do     string `json:"do" validate:"oneof=pin password make unlock end"`
	Secret string `json:"secret,omitzero" validate:"max=200"` // the new one, with pin and password
	Again  string `json:"again,omitzero" validate:"max=200"`  // the asker's own, with pin, password and make
}

// secretDoneJSON is its answer. A PIN that was made is told once and kept nowhere.
type secretDoneJSON struct {
	Person records.PersonCode `json:"person"`
	PIN    string             `json:"pin,omitempty"`
}

func (s *Server) apiPeople(r *request) (reply, error) {
	have, err := s.Auth.People(r.ctx)
	if err != nil {
		return reply{}, err
	}
	out := staffJSON{}
	for _, who := range r.present() {
		has := have[who.Code]
		one := personJSON{Code: who.Code, Name: who.Name, Role: who.Role, PIN: has.PIN != 0, Password: has.Password != 0}
		if has.Until != 0 {
			one.Until = &has.Until
		}
		out.People = append(out.People, one)
	}
	return reply{json: out}, nil
}

func (s *Server) apiPerson(r *request) (reply, error) {
	who, err := r.theMember()
	if err != nil {
		return reply{}, err
	}
	var ask secretAsk
	if err := r.readJSON(&ask); err != nil {
		return reply{}, err
	}
	out := reply{json: secretDoneJSON{Person: who.Code}}
	switch ask.Do {
	case "unlock":
		return out, s.Auth.Unlock(r.ctx, who.Code)
	case "end":
		return out, s.Auth.EndSignIns(r.ctx, who.Code)
	case "pin", "password", "make":
		return s.apiSecret(r, who, ask)
	}
	return reply{}, queryFault("do", ask.Do, "pin, password, make, unlock, end")
}

// apiSecret gives somebody a secret, once the asker's own has been confirmed.
func (s *Server) apiSecret(r *request, who *plan.Person, ask secretAsk) (out reply, err error) {
	if err := s.confirmSecret(r, ask.Again); err != nil {
		return reply{}, err
	}
	done := secretDoneJSON{Person: who.Code}
	if ask.Do == "make" {
		if ask.Secret, err = auth.NewPIN(); err != nil {
			return reply{}, err
		}
		done.PIN = ask.Secret
	}
	kind := "pin"
	if ask.Do == "password" {
		kind = ask.Do
		err = s.Auth.SetPassword(r.ctx, who.Code, r.who.Code, ask.Secret, who.Name, r.plan.Plant.Name)
	} else {
		err = s.Auth.SetPIN(r.ctx, who.Code, r.who.Code, ask.Secret)
	}
	switch {
	case err != nil && records.KindOf(err) == records.Invalid:
		return reply{}, queryFault("secret", "", r.say(weakSecret[kind])) // what was typed is never sent out again
	case err != nil:
		return reply{}, err
	}
	s.Log.Info("secret set", "request", r.id, "kind", kind)
	out = reply{json: done}
	if who == r.who { // it ended every sign-in of theirs; this one has just given the secret
		token, err := s.enterAs(r, who, r.by)
		if err != nil {
			return reply{}, err
		}
		out.token = &token
	}
	return out, nil
}

// devicesJSON is the answer of /api/devices.
type devicesJSON struct {
	Devices []auth.Device `json:"devices"`
}

// nameAsk is what POST /api/devices takes.
type nameAsk struct {
	Name string `json:"name" validate:"required,max=60"`
}

// codeJSON is its answer: a code is told once and kept nowhere.
type codeJSON struct {
	Name string          `json:"name"`
	Code string          `json:"code"`
	Ends records.Instant `json:"ends"`
}

// deviceAsk is what POST /api/devices/:device takes.
type deviceAsk struct {
	Do   string `json:"do" validate:"oneof=rename withdraw"`
	Name string `json:"name,omitzero" validate:"max=60"`
}

// enrolAsk is what POST /api/enrol takes.
type enrolAsk struct {
	Code string `json:"code" validate:"max=100"`
}

func (s *Server) apiDevices(r *request) (reply, error) {
	all, err := s.Auth.Devices(r.ctx)
	return reply{json: devicesJSON{all}}, err
}

func (s *Server) apiMakeCode(r *request) (reply, error) {
	var ask nameAsk
	if err := r.readJSON(&ask); err != nil {
		return reply{}, err
	}
	name, err := r.deviceName(ask.Name)
	if err != nil {
		return reply{}, err
	}
	code, ends, err := s.Auth.MakeCode(r.ctx, r.who.Code, name, 0)
	if err != nil && records.KindOf(err) == records.Invalid {
		return reply{}, queryFault("name", name, r.say("code-busy"))
	}
	if err != nil {
		return reply{}, err
	}
	s.Log.Info("enrolment code made", "request", r.id)
	return reply{status: http.StatusCreated, json: codeJSON{name, code, ends}}, nil
}

// deviceName reads the name of a device.
func (r *request) deviceName(text string) (string, error) {
	name := strings.Join(strings.Fields(text), " ")
	if n := utf8.RuneCountInString(name); n < 1 || n > auth.NameMost {
		return "", queryFault("name", clipped(name), r.say("device-name-bad"))
	}
	return name, nil
}

func (s *Server) apiChangeDevice(r *request) (reply, error) {
	d, err := s.theDevice(r)
	if err != nil {
		return reply{}, err
	}
	var ask deviceAsk
	if err := r.readJSON(&ask); err != nil {
		return reply{}, err
	}
	switch ask.Do {
	case "withdraw":
		s.Log.Info("device withdrawn", "request", r.id)
		return reply{status: http.StatusNoContent}, s.Auth.WithdrawDevice(r.ctx, d.Code, r.who.Code)
	case "rename":
		name, err := r.deviceName(ask.Name)
		if err != nil {
			return reply{}, err
		}
		return reply{status: http.StatusNoContent}, s.Auth.RenameDevice(r.ctx, d.Code, name)
	}
	return reply{}, queryFault("do", ask.Do, "rename, withdraw")
}

// apiEnrol makes whoever gives a code an enrolled device. Its key goes into a cookie and is in no answer's body.
func (s *Server) apiEnrol(r *request) (reply, error) {
	var ask enrolAsk
	if err := r.readJSON(&ask); err != nil {
		return reply{}, err
	}
	key, d, a, err := s.Auth.Enrol(r.ctx, ask.Code, r.address)
	switch {
	case err != nil:
		return reply{}, err
	case a.Outcome == auth.Wrong:
		return reply{}, queryFault("code", "", r.say("enrol-wrong"))
	case a.Outcome != auth.Right:
		return reply{}, tooMany{a.Until.Sub(r.now)}
	}
	s.Log.Info("device enrolled", "request", r.id)
	return reply{status: http.StatusCreated, json: d, key: &key}, nil
}
