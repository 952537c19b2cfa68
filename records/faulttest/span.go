package faulttest

import (
	"math/rand/v2"
	"time"
)

// Span is how long something takes that is to be killed. Its moments are spread over it, with some chance in each part, and come in
// no order.
type Span struct {
	r     *rand.Rand
	long  time.Duration
	parts []int
	next  int
}

// Over is the span of something that took so long, in so many parts.
func Over(r *rand.Rand, long time.Duration, parts int) *Span {
	return &Span{r: r, long: long, parts: r.Perm(parts)}
}

// Moment is the next moment to kill at; a tenth more than the whole, so that some end.
func (s *Span) Moment() time.Duration {
	part := s.parts[s.next%len(s.parts)]
	s.next++
	return time.Duration(float64(s.long) * 1.1 * (float64(part) + s.r.Float64()) / float64(len(s.parts)))
}

// Ended is told how long one took that was not killed in time. The first may have been slow, and all kills would come too late.
func (s *Span) Ended(took time.Duration) { s.long = min(s.long, took) }
