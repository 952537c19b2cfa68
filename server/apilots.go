package server

import (
	"cmp"
	"slices"

	"grainward/audit"
	"grainward/exports/lineage"
	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/lots"
)

// lotsJSON is the answer of /api/lots.
type lotsJSON struct {
	At    records.Instant `json:"at"`
	Total int             `json:"total"`
	Lots  []lotJSON       `json:"lots"`
	Next  *int            `json:"next,omitempty"`
}

// lotJSON is a lot in short. Masses are exact kilograms.
type lotJSON struct {
	Code     records.LotCode  `json:"code"`
	Item     records.ItemCode `json:"item"`
	Status   records.Status   `json:"status"` // as declared
	Begins   records.Instant  `json:"begins"`
	Entered  lineage.Kg       `json:"entered"`  // received or made
	Standing lineage.Kg       `json:"standing"` // still somewhere, ours or with a partner
	Held     bool             `json:"held"`     // stopped, or rejected
	Rejected bool             `json:"rejected"`
	Where    []whereJSON      `json:"where"`
}

// whereJSON is mass at a station of ours, or with a partner.
type whereJSON struct {
	Station records.StationCode `json:"station,omitempty"`
	Holder  records.PartnerCode `json:"holder,omitempty"`
	Mass    lineage.Kg          `json:"mass"`
}

// wholeLotJSON is the answer of /api/lots/:lot.
type wholeLotJSON struct {
	lotJSON
	Used     lineage.Kg         `json:"used"`     // gone into processes and purges
	Adjusted lineage.Kg         `json:"adjusted"` // appeared or vanished without an entry that says how
	BestBy   *calendar.Date     `json:"bestBy,omitempty"`
	Samples  int                `json:"samples"`  // retained and not thrown out
	Events   []records.Position `json:"events"`   // the entries that name it or moved it, in order of time
	Findings []string           `json:"findings"` // ids of those about it
}

func lotOf(l *lots.Lot, at records.Instant) lotJSON {
	out := lotJSON{Code: l.Code, Item: l.Item, Status: l.Status, Begins: l.Begins, Entered: lineage.Kg(l.Entered), Standing: lineage.Kg(l.Standing()),
		Held: l.HeldAt(at), Rejected: l.Rejected != nil}
	places := slices.SortedFunc(l.At.Places(), func(a, b lots.Place) int {
		return cmp.Or(cmp.Compare(a.Station, b.Station), cmp.Compare(a.Holder, b.Holder))
	})
	for _, p := range places {
		out.Where = append(out.Where, whereJSON{p.Station, p.Holder, lineage.Kg(l.At.Of(p))})
	}
	return out
}

// apiLots are the lots, in the order in which they came to be.
func (s *Server) apiLots(r *request) (reply, error) {
	rep := s.report()
	var fit []*lots.Lot
	item, status, standing := r.query.Get("item"), r.query.Get("status"), r.query.Get("show") == "standing"
	for _, l := range rep.Goods.Lots {
		if (item == "" || item == string(l.Item)) && (status == "" || status == string(l.Status)) && (!standing || l.Standing() > 0) {
			fit = append(fit, l)
		}
	}
	from, to, next, err := r.listed(len(fit))
	if err != nil {
		return reply{}, err
	}
	out := lotsJSON{At: rep.At, Total: len(fit), Next: next}
	for _, l := range fit[from:to] {
		out.Lots = append(out.Lots, lotOf(l, rep.At))
	}
	return reply{json: out}, nil
}

// theLot is the one in the address.
func (r *request) theLot(rep *audit.Report) (*lots.Lot, error) {
	l := rep.Goods.Find(records.LotCode(r.params["lot"]))
	if l == nil {
		return nil, notFound()
	}
	return l, nil
}

func (s *Server) apiLot(r *request) (reply, error) {
	rep := s.report()
	l, err := r.theLot(rep)
	if err != nil {
		return reply{}, err
	}
	out := wholeLotJSON{lotJSON: lotOf(l, rep.At), Used: lineage.Kg(l.Used), Adjusted: lineage.Kg(l.Adjusted), Samples: l.Samples}
	if day, ok := audit.BestBy(rep.State, rep.Goods.Floor, l.Code); ok {
		out.BestBy = &day
	}
	for _, e := range l.Events {
		out.Events = append(out.Events, e.Position)
	}
	for i := range rep.Findings {
		if rep.Findings[i].Subject.Lot == l.Code {
			out.Findings = append(out.Findings, rep.Findings[i].ID)
		}
	}
	return reply{json: out}, nil
}
