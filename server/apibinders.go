package server

import (
	"net/http"

	"grainward/records"
	"grainward/records/calendar"
)

// bindersJSON is the answer of /api/binders: the last few, newest first.
type bindersJSON struct {
	Binders []jobJSON `json:"binders"`
}

// jobJSON is a binder being made, or made.
type jobJSON struct {
	Job     string        `json:"job"`
	From    calendar.Date `json:"from"`
	To      calendar.Date `json:"to"`
	State   string        `json:"state"` // running, done, failed
	Percent int           `json:"percent"`
	Bytes   int64         `json:"bytes,omitempty"` // of the file, when it is done
}

// binderAsk is what POST /api/binders takes: both days are in it.
type binderAsk struct {
	From calendar.Date `json:"from"`
	To   calendar.Date `json:"to"`
}

func jobOf(l look) jobJSON { return jobJSON{l.id, l.from, l.to, l.state, l.percent, l.size} }

func (s *Server) apiBinders(*request) (reply, error) {
	out := bindersJSON{}
	for _, l := range s.binders.lately() {
		out.Binders = append(out.Binders, jobOf(l))
	}
	return reply{json: out}, nil
}

// apiMakeBinder begins a binder. A busy maker is told as such, to be asked again.
func (s *Server) apiMakeBinder(r *request) (reply, error) {
	var ask binderAsk
	if err := r.readJSON(&ask); err != nil {
		return reply{}, err
	}
	if ask.To < ask.From {
		return reply{}, queryFault("to", ask.To.String(), r.say("days-reversed"))
	}
	j, err := s.binders.start(ask.From, ask.To, r.who.Name)
	if records.KindOf(err) == records.Busy && err != nil {
		return reply{}, busy{"binder-busy"}
	}
	if err != nil {
		return reply{}, err
	}
	l, _ := s.binders.find(j.id)
	return reply{status: http.StatusCreated, json: jobOf(l)}, nil
}

func (s *Server) apiBinder(r *request) (reply, error) {
	l, ok := s.binders.find(r.params["job"])
	if !ok || !r.mayRead(l) {
		return reply{}, notFound()
	}
	return reply{json: jobOf(l)}, nil
}
