package server

import "grainward/audit/offer"

// apiGoods is what stands where and what the forms about goods choose from. Without a plan there is nothing to offer.
func (s *Server) apiGoods(*request) (reply, error) {
	out := offer.At(s.report())
	if out == nil {
		return reply{}, notFound()
	}
	return reply{json: out}, nil
}
