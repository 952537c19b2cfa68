package records

import (
	"errors"
	"fmt"
	"strings"
)

// ErrorKind is the closed set of ways a call can fail that a person or a program can act on. Each is mapped once to
// an HTTP status (server) and once to an exit code (cmd).
type ErrorKind int

const (
	Internal    ErrorKind = iota // a fault of the program
	Invalid                      // the shape is wrong, or it names something the plan does not have
	Conflict                     // the same id with other content, or a position already taken
	NotFound                     // no such entry, document, file or plant
	Denied                       // this person may not do that
	Busy                         // another process holds the plant
	ReadOnly                     // the place can not be written
	Full                         // the disk is full
	TooNew                       // written by a newer version of the program
	Corrupt                      // the stored bytes are not what was written
	Unavailable                  // the database does not answer
)

// Error says what failed, where, and what to do, for a person; and the kind, for a program.
type Error struct {
	Kind   ErrorKind
	What   string       // one sentence without a full stop
	Do     string       // what to do about it; may be empty
	Fields []FieldError // the values at fault, when it is about values
	Err    error        // the cause, when there is one
}

// FieldError names one value at fault.
type FieldError struct {
	Line  int    // of the file, from 1; 0 when there is no file
	Field string // dotted path, such as fact.answers[0].value
	Value string // as given
	Want  string // what would be right
}

// String is the field, its value and what would be right.
func (f FieldError) String() string {
	var b strings.Builder
	if f.Line > 0 {
		fmt.Fprintf(&b, "line %d", f.Line)
	}
	if f.Line > 0 && f.Field != "" {
		b.WriteString(": ")
	}
	b.WriteString(f.Field)
	if f.Value != "" {
		fmt.Fprintf(&b, " is %q", clip(f.Value))
	}
	if f.Want != "" {
		b.WriteString(": " + f.Want)
	}
	return strings.TrimPrefix(b.String(), ": ")
}

// Error is the whole of it in plain words.
func (e *Error) Error() string {
	var b strings.Builder
	b.WriteString(e.What)
	for _, f := range e.Fields {
		b.WriteString("\n  " + f.String())
	}
	if e.Err != nil {
		b.WriteString(": " + e.Err.Error())
	}
	if e.Do != "" {
		b.WriteString("\n" + e.Do)
	}
	return b.String()
}

// Unwrap gives the cause.
func (e *Error) Unwrap() error { return e.Err }

// KindOf finds the kind of an error; one that is not ours is Internal.
func KindOf(err error) ErrorKind {
	var e *Error
	if errors.As(err, &e) {
		return e.Kind
	}
	return Internal
}

// IsConflict says that a position was taken meanwhile or an id was used for something else.
func IsConflict(err error) bool { return err != nil && KindOf(err) == Conflict }

func unknownKind(k Kind) *Error {
	var names []Kind
	for _, row := range Kinds() {
		names = append(names, row.Kind)
	}
	return &Error{Kind: Invalid, What: "the entry's kind is not known", Fields: []FieldError{{Field: "kind", Value: string(k),
		Want: oneOf(names)}}}
}
