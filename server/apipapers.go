package server

import (
	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/state"
)

// documentsJSON is the answer of /api/documents: what is on file, the newest of each code, in order of the codes' first filing.
type documentsJSON struct {
	Total     int         `json:"total"`
	Documents []filedJSON `json:"documents"`
	Next      *int        `json:"next,omitempty"`
}

type filedJSON struct {
	records.Document
	Position records.Position   `json:"position"`
	Holds    bool               `json:"holds"`   // today
	Earlier  []records.Position `json:"earlier"` // what was on file under the code before
}

func (s *Server) apiDocuments(r *request) (reply, error) {
	var order []records.DocumentCode
	byCode := map[records.DocumentCode][]*state.Record{}
	for _, rec := range r.view.State.Kind(records.KindDocument).Until(r.now) {
		code := rec.Fact.(*records.Document).Code
		if byCode[code] == nil {
			order = append(order, code)
		}
		byCode[code] = append(byCode[code], rec)
	}
	from, to, next, err := r.listed(len(order))
	if err != nil {
		return reply{}, err
	}
	out := documentsJSON{Total: len(order), Next: next}
	for _, code := range order[from:to] {
		all := byCode[code]
		last := all[len(all)-1]
		fact := last.Fact.(*records.Document)
		one := filedJSON{Document: *fact, Position: last.Position, Holds: fact.HoldsOn(r.plan.Day(r.now))}
		for _, rec := range all[:len(all)-1] {
			one.Earlier = append(one.Earlier, rec.Position)
		}
		out.Documents = append(out.Documents, one)
	}
	return reply{json: out}, nil
}

// reviewsJSON is the answer of /api/reviews: what was written down each day, and whether a lead went over it, newest first.
type reviewsJSON struct {
	At    records.Instant `json:"at"`
	Total int             `json:"total"`
	Days  []batchJSON     `json:"days"`
	Next  *int            `json:"next,omitempty"`
}

type batchJSON struct {
	Day      calendar.Date      `json:"day"`
	Limit    calendar.Date      `json:"limit"` // the last day of the time allowed
	Count    int                `json:"count"` // records to go over
	Open     int                `json:"open"`  // of them not gone over yet
	Runs     []runJSON          `json:"runs"`
	Reviewed *records.Instant   `json:"reviewed,omitempty"` // when the last of them was
	Reviews  []records.Position `json:"reviews"`
}

// runJSON is neighbouring positions, both ends included.
type runJSON struct {
	From records.Position `json:"from"`
	To   records.Position `json:"to"`
}

func (s *Server) apiReviews(r *request) (reply, error) {
	rep := s.report()
	from, to, next, err := r.listed(len(rep.Batches))
	if err != nil {
		return reply{}, err
	}
	out := reviewsJSON{At: rep.At, Total: len(rep.Batches), Next: next}
	for i := from; i < to; i++ {
		b := &rep.Batches[len(rep.Batches)-1-i]
		one := batchJSON{Day: b.Day, Limit: b.Limit, Count: b.Count, Open: b.Open, Reviews: b.Reviews}
		for _, run := range b.Runs {
			one.Runs = append(one.Runs, runJSON{run.From, run.To})
		}
		if b.Open == 0 {
			one.Reviewed = &b.Reviewed
		}
		out.Days = append(out.Days, one)
	}
	return reply{json: out}, nil
}
