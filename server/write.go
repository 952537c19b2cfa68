package server

import (
	"grainward/records"
	"grainward/records/book"
	"grainward/server/pages"
)

// enter is the one door to the journal: what forms, the crew page and programs send goes through it. An entry whose id is there
// already and that says the same is written once, however often it is sent. timed says that the sender gave Happened; else it is
// the moment it came, and a second tap that comes a moment later is the same entry all the same.
func (s *Server) enter(r *request, e records.Entry, timed bool) (book.Receipt, error) {
	if got, sent, err := s.written(e, timed); sent {
		return got, err
	}
	e.Device = r.device
	if err := r.may(e); err != nil {
		return book.Receipt{}, err
	}
	got, err := s.Book.Admit(r.ctx, e)
	if records.IsConflict(err) {
		if got, sent, err := s.written(e, timed); sent { // two taps that were in here together
			return got, err
		}
	}
	if err != nil {
		return book.Receipt{}, err
	}
	return got[0], nil
}

// put is enter for a form. ms is what the book found wrong with the entry, to be shown in the form; then nothing was written.
func (s *Server) put(r *request, e records.Entry, timed bool) (at records.Position, ms []pages.Message, err error) {
	got, err := s.enter(r, e, timed)
	if ms, ok := r.refusal(err); ok {
		return 0, ms, nil
	}
	return got.Position, nil, err
}

// written finds an entry whose id is in the journal already: a double tap, the back button, a queue sent again. The same id with
// other content is an error, usedID.
func (s *Server) written(e records.Entry, timed bool) (got book.Receipt, sent bool, err error) {
	st := s.Book.View().State
	at, sent := st.Find(e.ID)
	if !sent {
		return book.Receipt{}, false, nil
	}
	first := st.First(at).Entry
	// Which device it came from is ours to say and not the sender's, and so is how far its clock was off at the first sending.
	e.Device = first.Device
	if !timed || ownTime(e) == ownTime(first) {
		e.Happened, e.DeviceTime = first.Happened, first.DeviceTime
	}
	if !first.SameAs(e) {
		return book.Receipt{}, true, usedID{at}
	}
	return book.Receipt{Position: at, Recorded: first.Recorded, Already: true}, true, nil
}

// ownTime is what the device's clock said.
func ownTime(e records.Entry) records.Instant {
	if e.DeviceTime != 0 {
		return e.DeviceTime
	}
	return e.Happened
}
