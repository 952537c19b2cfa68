package records

import (
	"bytes"
	"io"
	"slices"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
)

// ParseDraftWith is ParseDraft for an entry that comes with more beside it, as a device sends one: beside says where the
// members go that are no part of the entry. Left says which members whoever takes the entry in writes; they are refused.
//
// Unlike a line of an import it must have an id: only who made the entry can say that it is the same one again.
func ParseDraftWith(b []byte, beside map[string]any, left ...string) (Entry, error) {
	if e, ok := draftAtOnce(b, beside); ok {
		return e, nil
	}
	return draftByMember(b, beside, left)
}

// draftByMember reads a draft one member after the other, and says what is wrong with it.
func draftByMember(b []byte, beside map[string]any, left []string) (Entry, error) {
	dec := jsontext.NewDecoder(bytes.NewBuffer(b)) // of a Buffer it reads where the bytes are, without a copy
	if dec.PeekKind() != '{' {
		switch _, err := dec.ReadValue(); {
		case err == io.EOF:
			return Entry{}, &Error{Kind: Invalid, What: "there is no entry: the text is empty"}
		case err != nil:
			return Entry{}, plainJSON(b, err)
		}
		return Entry{}, &Error{Kind: Invalid, What: "the entry is not a group {…} of members"}
	}
	_, _ = dec.ReadToken() // the bracket that was just seen
	own := []byte{'{'}
	hasID := false
	for dec.PeekKind() != '}' {
		token, err := dec.ReadToken()
		if err != nil {
			return Entry{}, plainJSON(b, err)
		}
		name := token.String()
		value, err := dec.ReadValue()
		if err != nil {
			return Entry{}, plainJSON(b, err)
		}
		if slices.Contains(left, name) {
			return Entry{}, &Error{Kind: Invalid, What: unreadable, Fields: []FieldError{{Field: name, Want: "leave it out: it is written where the entry is taken in"}}}
		}
		if to, is := beside[name]; is {
			if err := json.Unmarshal(value, to, strict); err != nil {
				return Entry{}, plainJSONAt(name, value, err)
			}
			continue
		}
		hasID = hasID || name == "id"
		if len(own) > 1 {
			own = append(own, ',')
		}
		if own, err = jsontext.AppendQuote(own, name); err != nil {
			return Entry{}, plainJSON(b, err)
		}
		own = append(append(own, ':'), value...)
	}
	if _, err := dec.ReadToken(); err != nil {
		return Entry{}, plainJSON(b, err)
	}
	if err := ended(dec); err != nil {
		return Entry{}, err
	}
	if !hasID {
		return Entry{}, &Error{Kind: Invalid, What: unreadable, Fields: []FieldError{{Field: "id", Want: "a version 7 UUID made on the device"}}}
	}
	return ParseDraft(append(own, '}'))
}

// sent is a draft as a device usually sends it, with nothing that is left to whoever takes it in.
type sent struct {
	ID       EntryID                   `json:"id"`
	Happened Instant                   `json:"happened"`
	By       PersonCode                `json:"by"`
	Meaning  Meaning                   `json:"meaning"`
	Kind     Kind                      `json:"kind"`
	Fact     factSlot                  `json:"fact"`
	Paper    *Paper                    `json:"paper"`
	Beside   map[string]jsontext.Value `json:",embed"`
}

// draftAtOnce reads a draft in one pass when all is as it should be, which is nearly always. Nothing that draftByMember would
// refuse gets through.
func draftAtOnce(b []byte, beside map[string]any) (Entry, bool) {
	row, known := foretold(b)
	if !known {
		return Entry{}, false
	}
	s := sent{Fact: factSlot{guess: row.New()}}
	if json.Unmarshal(b, &s) != nil || s.Kind != row.Kind || !s.Fact.given || s.ID.IsZero() {
		return Entry{}, false
	}
	for name, value := range s.Beside {
		if to, is := beside[name]; !is || json.Unmarshal(value, to, strict) != nil {
			return Entry{}, false
		}
	}
	e, err := WithDefaults(Entry{ID: s.ID, Happened: s.Happened, By: s.By, Meaning: s.Meaning, Kind: s.Kind, Fact: s.Fact.guess, Paper: s.Paper})
	return e, err == nil
}

// ended refuses what follows the entry.
func ended(dec *jsontext.Decoder) error {
	if _, err := dec.ReadToken(); err != io.EOF {
		return &Error{Kind: Invalid, What: "something follows the entry", Do: "Send one entry at a time."}
	}
	return nil
}
