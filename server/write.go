package server

import (
	"grainward/records"
	"grainward/server/pages"
)

// put writes the entry of a form down, once however often the form is sent. ms is what the book found wrong with it, to be
// shown in the form; then nothing was written. timed says that the form gave Happened; else it is the moment it came, and a
// second tap that comes a moment later is the same entry all the same.
func (s *Server) put(r *request, e records.Entry, timed bool) (at records.Position, ms []pages.Message, err error) {
	if at, sent, err := s.written(e, timed); sent {
		return at, nil, err
	}
	got, err := s.Book.Admit(r.ctx, e)
	if records.IsConflict(err) {
		if at, sent, err := s.written(e, timed); sent { // two taps that were in here together
			return at, nil, err
		}
	}
	if ms, ok := refusal(err); ok {
		return 0, ms, nil
	}
	if err != nil {
		return 0, nil, err
	}
	return got[0].Position, nil, nil
}

// written finds an entry whose id is in the journal already: a double tap, or the back button. The same id with other content
// is an error, usedID.
func (s *Server) written(e records.Entry, timed bool) (at records.Position, sent bool, err error) {
	st := s.Book.View().State
	at, sent = st.Find(e.ID)
	if !sent {
		return 0, false, nil
	}
	first := st.First(at).Entry
	if !timed {
		e.Happened = first.Happened
	}
	if !first.SameAs(e) {
		return at, true, usedID{at}
	}
	return at, true, nil
}
