package server

import (
	"errors"
	"strings"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"

	"grainward/records"
)

// readJSON reads a small body of our own strictly: members that are not known, or there twice, are refused by name, and every
// member of the group has to be there unless its tag says that it may be left out.
func (r *request) readJSON(to any) error {
	if err := wellFormed(r.body); err != nil {
		return err
	}
	err := json.Unmarshal(r.body, to, json.RejectUnknownMembers(true))
	if err == nil {
		return nil
	}
	var sem *json.SemanticError
	var syn *jsontext.SyntacticError
	at, want := "", r.say("want-other")
	switch {
	case errors.As(err, &sem):
		at = memberAt(sem.JSONPointer)
		if errors.Is(sem.Err, json.ErrUnknownName) {
			want = r.say("want-no-such")
		}
	case errors.As(err, &syn):
		at = memberAt(syn.JSONPointer)
		if errors.Is(syn.Err, jsontext.ErrDuplicateName) {
			want = r.say("want-once")
		}
	}
	return asking{[]records.FieldError{{Field: at, Want: want}}}
}

// memberAt is a JSON pointer as people write paths.
func memberAt(p jsontext.Pointer) string {
	return strings.ReplaceAll(strings.TrimPrefix(string(p), "/"), "/", ".")
}
