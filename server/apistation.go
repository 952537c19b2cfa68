package server

import (
	"grainward/exports/lineage"
	"grainward/records"
	"grainward/records/lots"
)

// stationJSON is the answer of /api/stations/:station: what stands there, and what was there, newest first.
type stationJSON struct {
	Station  records.StationCode `json:"station"`
	At       records.Instant     `json:"at"`
	Mixed    bool                `json:"mixed"`            // goods there run together
	Proven   records.Instant     `json:"proven,omitempty"` // when it was last proven empty
	Sum      lineage.Kg          `json:"sum"`
	Contents []contentJSON       `json:"contents"`
	Total    int                 `json:"total"` // contacts in all
	Contacts []contactJSON       `json:"contacts"`
	Cleaned  []cleanedJSON       `json:"cleaned"` // the newest clean-outs
	Next     *int                `json:"next,omitempty"`
}

type contentJSON struct {
	Lot  records.LotCode `json:"lot"`
	Mass lineage.Kg      `json:"mass"`
}

// contactJSON is a stretch in which a lot was there.
type contactJSON struct {
	Lot   records.LotCode   `json:"lot"`
	From  records.Instant   `json:"from"`
	To    *records.Instant  `json:"to,omitempty"` // absent while it is there
	Purge bool              `json:"purge"`        // run through to clean, and diverted
	Began records.Position  `json:"began"`        // the entry that brought it
	Ended *records.Position `json:"ended,omitempty"`
}

type cleanedJSON struct {
	From  records.Instant  `json:"from"`
	To    records.Instant  `json:"to"`
	Grade int              `json:"grade"` // rank among the plan's grades, 0 the weakest
	Entry records.Position `json:"entry"`
}

func (s *Server) apiStation(r *request) (reply, error) {
	code := records.StationCode(r.params["station"])
	rep := s.report()
	f := rep.Goods.Floor
	contacts := f.Contacts[code]
	if r.plan.Station(code) == nil && contacts.Len() == 0 {
		return reply{}, notFound()
	}
	from, to, next, err := r.listed(contacts.Len())
	if err != nil {
		return reply{}, err
	}
	out := stationJSON{Station: code, At: rep.At, Total: contacts.Len(), Next: next}
	if st := f.Stations[code]; st != nil {
		out.Mixed, out.Proven = st.Mixed, st.Proven
	}
	there, sum := f.Contents(lots.Place{Station: code})
	out.Sum = lineage.Kg(sum)
	for _, l := range there {
		out.Contents = append(out.Contents, contentJSON{l.Code, lineage.Kg(l.At.Of(lots.Place{Station: code}))})
	}
	for i := from; i < to; i++ {
		out.Contacts = append(out.Contacts, contactOf(f, contacts.At(contacts.Len()-1-i)))
	}
	cleaned := f.CleanOuts[code]
	for i := len(cleaned) - 1; i >= 0 && len(out.Cleaned) < listUsual; i-- {
		c := &cleaned[i]
		out.Cleaned = append(out.Cleaned, cleanedJSON{c.From, c.To, c.Grade, c.Record.Position})
	}
	return reply{json: out}, nil
}

func contactOf(f *lots.Floor, c *lots.Contact) contactJSON {
	out := contactJSON{Lot: f.Lots[c.Lot].Code, From: c.From, Purge: c.Purge, Began: c.Began.Position}
	if c.To != lots.Forever {
		out.To = &c.To
	}
	if c.Ended != nil {
		out.Ended = &c.Ended.Position
	}
	return out
}
