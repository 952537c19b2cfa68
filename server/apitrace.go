package server

import (
	"strings"

	"grainward/audit/trace"
	"grainward/exports"
	"grainward/exports/lineage"
	"grainward/records"
	"grainward/records/book"
	"grainward/records/plan"
	"grainward/server/openapi"
)

// directions are the ways a trace can go.
var directions = map[string]trace.Direction{"": trace.Both, "both": trace.Both, "back": trace.Back, "forward": trace.Forward}

var traceQuery = []openapi.Query{{Name: "direction", Says: "both, back or forward"}}

// apiLotTrace is where a lot came from and went: the same form as the command line's.
func (s *Server) apiLotTrace(r *request) (reply, error) {
	return s.traceJSON(r, "lot:"+r.params["lot"])
}

// apiTrace traces what the query says: a lot, a label, a partner, a station and a stretch of time, an agent or a person.
func (s *Server) apiTrace(r *request) (reply, error) { return s.traceJSON(r, r.query.Get("subject")) }

func (s *Server) traceJSON(r *request, subject string) (reply, error) {
	dir, ok := directions[r.query.Get("direction")]
	if !ok {
		return reply{}, queryFault("direction", r.query.Get("direction"), r.say("want-direction"))
	}
	rep := s.report()
	what, err := trace.ParseSubject(subject, r.plan.Location())
	if err != nil {
		return reply{}, err
	}
	t, err := trace.Make(rep.State, rep.Goods.Floor, s.graphs.graphOf(rep.Goods), what, dir)
	if err != nil {
		return reply{}, err
	}
	form, err := lineage.Flatten(lineage.Input{Trace: t, Stamp: s.stamp(r, rep.At), Lang: r.lang})
	if err != nil {
		return reply{}, err
	}
	return reply{json: form}, nil
}

// stamp says which journal an answer was made from. The signed head itself is at /api/head.
func (s *Server) stamp(r *request, at records.Instant) exports.Stamp {
	return s.stampOf(r.view.Head, r.plan, at, r.who.Name)
}

func (s *Server) stampOf(head book.Head, p *plan.Plan, at records.Instant, madeBy string) exports.Stamp {
	origin, _, _ := strings.Cut(string(head.Checkpoint), "\n")
	return exports.Stamp{Plant: p.Plant.Name, Address: p.Plant.Address, Origin: origin, Size: head.Size, Root: head.Root, At: at,
		Program: "Grainward " + s.Version, MadeBy: madeBy}
}
