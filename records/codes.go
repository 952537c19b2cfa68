package records

import (
	"errors"
	"fmt"
	"strconv"
	"sync"
)

// The codes by which a plan and a journal name things. They are distinct types so that a station can not be handed
// in where a task is meant. All but LotCode share one alphabet: lower-case letters, digits and hyphens, 1 to 40 of
// them, starting with a letter or digit; they are made to be typed, spoken and put in a web address.
type (
	PersonCode     string
	StationCode    string
	TaskCode       string
	AskCode        string
	ItemCode       string
	AgentCode      string
	PartnerCode    string
	DocumentCode   string
	InstrumentCode string
	GradeCode      string
	ShiftCode      string
	DeviceCode     string
)

// LotCode is 1 to 20 characters of the GS1 lot alphabet (set 82), so that it can be printed in an open-standard
// barcode later. Set 82: GS1 General Specifications, application identifier 10 (see standards.md 1.4; from memory).
type LotCode string

// Clause names a paragraph of a law or standard as people cite it, such as "21 CFR 117.35(d)".
type Clause string

const maxCode = 40

// CheckCode says what is wrong with a code, or nil.
func CheckCode(text string) error { return faultError(text, codeFault(text)) }

// codeFault is CheckCode without the value, for a message that has shown it already; "" when there is no fault.
func codeFault(text string) string {
	if len(text) > maxCode {
		return fmt.Sprintf("is longer than %d characters", maxCode)
	}
	for i, c := range text {
		switch {
		case c >= 'a' && c <= 'z' || c >= '0' && c <= '9' || c == '-' && i > 0:
		case c == '-':
			return "starts with a hyphen: start with a letter or digit"
		default:
			return fmt.Sprintf("has %s in it: use only lower-case letters, digits and hyphens", spoken(c))
		}
	}
	return ""
}

func spoken(c rune) string {
	if c == ' ' {
		return "a space"
	}
	return strconv.QuoteRune(c)
}

func faultError(text, fault string) error {
	switch {
	case text == "":
		return errors.New("it is empty")
	case fault != "":
		return fmt.Errorf("%q %s", clip(text), fault)
	}
	return nil
}

// CheckLot says what is wrong with a lot code, or nil.
func CheckLot(text string) error { return faultError(text, lotFault(text)) }

func lotFault(text string) string {
	for _, c := range text {
		if !inSet82(c) {
			return fmt.Sprintf("has %s in it, which the GS1 lot alphabet does not have (no spaces or accents)", spoken(c))
		}
	}
	if len(text) > 20 {
		return "is longer than 20 characters, the most a barcode's lot field holds"
	}
	return ""
}

func inSet82(c rune) bool {
	switch {
	case c >= '0' && c <= '9', c >= 'A' && c <= 'Z', c >= 'a' && c <= 'z':
		return true
	}
	switch c {
	case '!', '"', '%', '&', '\'', '(', ')', '*', '+', ',', '-', '.', '/', ':', ';', '<', '=', '>', '?', '_':
		return true
	}
	return false
}

// known holds one copy of each short code seen while decoding: a million entries name a few hundred codes, and one
// shared copy is most of what keeps an entry under its memory limit. It stops growing at a bound, so hostile input
// costs no memory that lasts.
var known = struct {
	sync.RWMutex
	m map[string]string
}{m: map[string]string{}}

const mostKnown = 1 << 16

func shared(text []byte) string {
	known.RLock()
	s, ok := known.m[string(text)]
	known.RUnlock()
	if ok {
		return s
	}
	s = string(text)
	known.Lock()
	if len(known.m) < mostKnown && len(s) <= maxCode {
		known.m[s] = s
	}
	known.Unlock()
	return s
}

func (c *PersonCode) UnmarshalText(b []byte) error     { *c = PersonCode(shared(b)); return nil }
func (c *StationCode) UnmarshalText(b []byte) error    { *c = StationCode(shared(b)); return nil }
func (c *TaskCode) UnmarshalText(b []byte) error       { *c = TaskCode(shared(b)); return nil }
func (c *AskCode) UnmarshalText(b []byte) error        { *c = AskCode(shared(b)); return nil }
func (c *AgentCode) UnmarshalText(b []byte) error      { *c = AgentCode(shared(b)); return nil }
func (c *DeviceCode) UnmarshalText(b []byte) error     { *c = DeviceCode(shared(b)); return nil }
func (c *InstrumentCode) UnmarshalText(b []byte) error { *c = InstrumentCode(shared(b)); return nil }
