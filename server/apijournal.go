package server

import (
	"encoding/json"
	"errors"

	"grainward/records"
	"grainward/records/ledger"
	"grainward/records/state"
	"grainward/server/openapi"
)

// entriesJSON is the answer of /api/entries: a stretch of the journal as it is stored.
type entriesJSON struct {
	Size    records.Position `json:"size"` // of the journal
	Entries []storedJSON     `json:"entries"`
	Next    *int             `json:"next,omitempty"` // where the following stretch begins
}

// storedJSON is one entry, byte for byte: the SHA-256 of a zero byte and the bytes of `entry` is `leaf` (RFC 6962 section 2.1).
type storedJSON struct {
	Position records.Position `json:"position"`
	Leaf     string           `json:"leaf"`
	Entry    openapi.Entry    `json:"entry"`
}

// errEnough ends a walk over the journal.
var errEnough = errors.New("enough")

func (s *Server) apiEntries(r *request) (reply, error) {
	size := r.view.State.Size()
	from, to, next, err := r.listed(int(size))
	if err != nil {
		return reply{}, err
	}
	out := entriesJSON{Size: size, Next: next, Entries: []storedJSON{}}
	if from == to {
		return reply{json: out}, nil
	}
	err = s.Book.Rows(r.ctx, records.Position(from), func(at records.Position, row records.Row) error {
		out.Entries = append(out.Entries, storedJSON{at, hexOf(row.Leaf[:]), append([]byte(nil), row.Bytes...)})
		if int(at) == to-1 {
			return errEnough
		}
		return nil
	})
	if err != nil && !errors.Is(err, errEnough) {
		return reply{}, err
	}
	return reply{json: out}, nil
}

// wholeEntryJSON is the answer of /api/entries/:position: the entry as stored, and as it counts.
type wholeEntryJSON struct {
	storedJSON
	Withdrawn   bool               `json:"withdrawn"`     // it no longer counts
	Now         *countsJSON        `json:"now,omitempty"` // what counts instead, when it was corrected
	Corrections []records.Position `json:"corrections"`   // of it and of its corrections
}

// countsJSON is what a correction put in place.
type countsJSON struct {
	Happened records.Instant    `json:"happened"`
	By       records.PersonCode `json:"by"`
	Fact     json.RawMessage    `json:"fact"`
}

func (s *Server) apiEntry(r *request) (reply, error) {
	pos, err := r.position()
	if err != nil {
		return reply{}, err
	}
	st := r.view.State
	out := wholeEntryJSON{Corrections: chain(st, pos)}
	err = s.Book.Rows(r.ctx, pos, func(at records.Position, row records.Row) error {
		out.storedJSON = storedJSON{at, hexOf(row.Leaf[:]), append([]byte(nil), row.Bytes...)}
		return errEnough
	})
	if err != nil && !errors.Is(err, errEnough) {
		return reply{}, err
	}
	now := st.Now(pos)
	out.Withdrawn = now == nil
	if st.First(pos).Kind == records.KindCorrect {
		out.Withdrawn = undone(st, pos)
	}
	if now != nil && now.Corrected != nil {
		if out.Now, err = counts(now); err != nil {
			return reply{}, err
		}
	}
	return reply{json: out}, nil
}

func counts(now *state.Record) (*countsJSON, error) {
	fact, err := json.Marshal(now.Fact)
	if err != nil {
		return nil, err
	}
	return &countsJSON{now.Happened, now.By, fact}, nil
}

const proofMedia = "text/plain; charset=utf-8"

// apiProof shows that an entry is in the tree of the newest head, as a C2SP tlog-proof file.
func (s *Server) apiProof(r *request) (reply, error) {
	pos, err := r.position()
	if err != nil {
		return reply{}, err
	}
	if st := r.view.State; !r.shows(st.First(pos), st.Now(pos)) {
		return reply{}, notFound()
	}
	p, err := s.Book.Prove(pos, r.view.Head)
	if err != nil {
		return reply{}, err
	}
	return reply{data: ledger.FormatProof(p), media: proofMedia, name: "entry-" + positionText(pos) + ".tlog-proof"}, nil
}
