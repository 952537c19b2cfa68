package records

import (
	"bytes"
	"encoding"
	"errors"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strings"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
)

const (
	unreadable = "the entry can not be read"
	wantGiven  = "it must be given"
)

// plainJSON turns a decoder's error about a text into one that names the member at fault and shows its value.
func plainJSON(text []byte, err error) error { return plainJSONAt("", text, err) }

// plainJSONAt is plainJSON for the part of an entry that lies under a path. Facts are decoded apart from their
// envelope, and replacements apart from their correction, so an error can be one of ours already; then what the
// decoder around it knows, where that part lies, goes in front of its paths.
func plainJSONAt(under string, text []byte, err error) error {
	var sem *json.SemanticError
	isSem := errors.As(err, &sem)
	var own *Error
	if errors.As(err, &own) {
		if isSem {
			under = dotted(under, sem.JSONPointer)
		}
		placed := *own
		placed.Fields = slices.Clone(own.Fields)
		for i := range placed.Fields {
			placed.Fields[i].Field = joined(under, placed.Fields[i].Field)
		}
		return &placed
	}
	if isSem {
		f := FieldError{Field: dotted(under, sem.JSONPointer)}
		f.Value, f.Want = wrongType(sem, text)
		if f.Field == "" {
			return &Error{Kind: Invalid, What: "the entry is not a group {…} of members"}
		}
		return &Error{Kind: Invalid, What: unreadable, Fields: []FieldError{f}}
	}
	var syn *jsontext.SyntacticError
	if errors.As(err, &syn) {
		return notJSON(under, syn)
	}
	return &Error{Kind: Invalid, What: unreadable, Err: err}
}

func wrongType(sem *json.SemanticError, text []byte) (value, want string) {
	if errors.Is(sem.Err, json.ErrUnknownName) {
		return "", "there is no such member; check its spelling"
	}
	value = valueAt(text, sem.JSONPointer)
	kind, takes := expected(sem.GoType)
	switch {
	case sem.JSONKind != 0 && kind != 0 && sem.JSONKind != kind:
		return value, fmt.Sprintf("it is %s and must be %s", kindWord(sem.JSONKind), takes)
	case sem.JSONKind == '0':
		return value, "it must be " + takes // a number, but with a fraction or far too large
	case sem.Err != nil:
		return "", sem.Err.Error() // our own readers of text, which show the value themselves
	}
	return value, "it must be " + takes
}

// valueAt is the text, number or yes/no at a place; "" when something longer stands there.
func valueAt(text []byte, at jsontext.Pointer) string {
	dec := jsontext.NewDecoder(bytes.NewReader(text))
	for {
		token, err := dec.ReadToken()
		if err != nil {
			return "" // the fault is told without the value
		}
		if dec.StackPointer() != at {
			continue
		}
		if in, n := dec.StackIndex(dec.StackDepth()); in == '{' && n%2 == 1 { // the member's name; its value follows
			if token, err = dec.ReadToken(); err != nil {
				return ""
			}
		}
		switch token.Kind() {
		case '"', '0', 't', 'f':
			return token.String()
		}
		return ""
	}
}

// expected is the JSON kind that a Go type is written as; 0 when it is not known.
func expected(t reflect.Type) (kind jsontext.Kind, words string) {
	if t == nil {
		return 0, "something else"
	}
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	if reflect.PointerTo(t).Implements(reflect.TypeFor[encoding.TextUnmarshaler]()) {
		return '"', "text in quotes"
	}
	switch t.Kind() {
	case reflect.String:
		return '"', "text in quotes"
	case reflect.Bool:
		return 't', "true or false, without quotes"
	case reflect.Int, reflect.Int64:
		return '0', "a whole number, without quotes"
	case reflect.Slice:
		return '[', "a list […]"
	}
	return '{', "a group {…}"
}

func kindWord(k jsontext.Kind) string {
	switch k {
	case '"':
		return "text"
	case '0':
		return "a number"
	case '{':
		return "a group {…}"
	case '[':
		return "a list […]"
	case 'n':
		return "null"
	}
	return "a yes or no"
}

func notJSON(under string, syn *jsontext.SyntacticError) *Error {
	where := dotted(under, syn.JSONPointer)
	switch {
	case errors.Is(syn.Err, jsontext.ErrDuplicateName):
		return &Error{Kind: Invalid, What: unreadable, Fields: []FieldError{{Field: where, Want: "it is there twice; keep one"}}}
	case errors.Is(syn.Err, io.ErrUnexpectedEOF) && syn.ByteOffset == 0:
		return &Error{Kind: Invalid, What: "there is no entry: the text is empty"}
	case errors.Is(syn.Err, io.ErrUnexpectedEOF):
		return &Error{Kind: Invalid, What: fmt.Sprintf("the entry stops in the middle, after %d bytes", syn.ByteOffset), Do: "Write it again, whole."}
	}
	what := fmt.Sprintf("the entry is not JSON: after %d bytes, %v", syn.ByteOffset, syn.Err)
	if where != "" {
		what += ", at " + where
	}
	return &Error{Kind: Invalid, What: what}
}

// dotted writes a JSON pointer the way people write paths: fact.answers[0].value.
func dotted(under string, p jsontext.Pointer) string {
	path := under
	for token := range p.Tokens() {
		if token != "" && strings.Trim(token, "0123456789") == "" {
			token = "[" + token + "]"
		}
		path = joined(path, token)
	}
	return clip(path)
}

func joined(path, name string) string {
	if path == "" || name == "" || name[0] == '[' {
		return path + name
	}
	return path + "." + name
}
