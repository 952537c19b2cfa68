package server

import (
	"bytes"
	"cmp"
	"errors"
	"io"
	"net/http"
	"time"

	"github.com/go-json-experiment/json/jsontext"

	"grainward/records"
	"grainward/records/book"
)

const (
	deepest   = 32          // how far lists and groups may lie within each other in what is sent
	clockSlip = time.Minute // a device's clock may be off by this much and is still believed
)

// enteredJSON is the answer of POST /api/entries.
type enteredJSON struct {
	ID       records.EntryID  `json:"id"`
	Position records.Position `json:"position"`
	Recorded records.Instant  `json:"recorded"`
	Already  bool             `json:"already"`            // it was there before, and nothing was written
	ClockOff int64            `json:"clockOff,omitempty"` // seconds the device's clock is ahead (below 0: behind)
}

// apiEnter writes down one entry that a device or a program sent.
func (s *Server) apiEnter(r *request) (reply, error) {
	if mayBeDeep(r.body) {
		if err := wellFormed(r.body); err != nil {
			return reply{}, err
		}
	}
	var sent records.Instant
	var secret string
	e, err := records.ParseDraftWith(r.body, map[string]any{"sent": &sent, "again": &secret}, "recorded", "device", "deviceTime")
	if err != nil {
		return reply{}, cmp.Or(wellFormed(r.body), err) // whether it is JSON at all is said first
	}
	off := putRight(&e, sent, r.now)
	if got, there, err := s.written(e, true); there {
		return entered(e.ID, got, off), err
	}
	if err := r.may(e); err != nil {
		return reply{}, err
	}
	if asksAgain(e.Meaning) {
		if err := s.confirmSecret(r, secret); err != nil {
			return reply{}, err
		}
	}
	got, err := s.enter(r, e, true)
	return entered(e.ID, got, off), err
}

func entered(id records.EntryID, got book.Receipt, off time.Duration) reply {
	out := reply{status: http.StatusCreated, json: enteredJSON{id, got.Position, got.Recorded, got.Already, int64(off / time.Second)}}
	if got.Already {
		out.status = http.StatusOK
	}
	return out
}

// putRight moves the time of an entry by what the device's clock is off, and keeps what the device said. sent is what its clock says
// while sending, 0 when it does not say. It returns how far the clock is ahead, 0 when it is believed.
func putRight(e *records.Entry, sent, now records.Instant) time.Duration {
	if sent == 0 {
		return 0
	}
	off := sent.Sub(now)
	if off.Abs() <= clockSlip {
		return 0
	}
	e.DeviceTime = e.Happened
	e.Happened = e.Happened.Add(-off)
	return off
}

// mayBeDeep says whether a body has so many brackets that they could lie within each other beyond reason.
func mayBeDeep(b []byte) bool {
	return bytes.Count(b, []byte("{"))+bytes.Count(b, []byte("[")) > deepest
}

// wellFormed says whether a body is JSON at all, and not nested beyond reason.
func wellFormed(b []byte) error {
	if len(bytes.TrimSpace(b)) == 0 {
		return unreadable{"body-empty"}
	}
	dec := jsontext.NewDecoder(bytes.NewReader(b))
	for {
		_, err := dec.ReadToken()
		switch {
		case errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF):
			return nil
		case errors.Is(err, jsontext.ErrDuplicateName):
			return nil // told with its name by whoever reads the members
		case err != nil:
			return unreadable{"body-not-json"}
		case dec.StackDepth() > deepest:
			return unreadable{"body-too-deep"}
		}
	}
}
