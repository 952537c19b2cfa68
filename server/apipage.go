package server

import (
	"strconv"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/plan"
	"grainward/server/openapi"
)

// How much of a list is answered at once. Where one ends, `next` says what to ask for.
const (
	listUsual = 100
	listMost  = 1000
)

var listQuery = []openapi.Query{
	{Name: "from", Says: "the place in the list to begin at, counted from 0", Whole: true},
	{Name: "count", Says: "how many; 100 unless said, 1000 at most", Whole: true},
}

func withList(more ...openapi.Query) []openapi.Query {
	return append(append([]openapi.Query{}, listQuery...), more...)
}

// listed is which part of a list of so many is asked for. next is where the following one begins, nil at the end.
func (r *request) listed(all int) (from, to int, next *int, err error) {
	if from, err = r.whole("from", 0); err != nil {
		return 0, 0, nil, err
	}
	count, err := r.whole("count", listUsual)
	if err != nil {
		return 0, 0, nil, err
	}
	if count < 1 || count > listMost {
		return 0, 0, nil, queryFault("count", r.query.Get("count"), r.say("want-count", listMost))
	}
	from = min(from, all)
	if to = min(from+count, all); to < all {
		next = &to
	}
	return from, to, next, nil
}

// whole reads a whole number of the query, not below 0.
func (r *request) whole(name string, usual int) (int, error) {
	text := r.query.Get(name)
	if text == "" {
		return usual, nil
	}
	n, err := strconv.ParseInt(text, 10, 32)
	if err != nil || n < 0 {
		return 0, queryFault(name, text, r.say("want-whole"))
	}
	return int(n), nil
}

// askedDay reads a civil day of the query.
func (r *request) askedDay(name string, usual calendar.Date) (calendar.Date, error) {
	text := r.query.Get(name)
	if text == "" {
		return usual, nil
	}
	d, err := calendar.ParseDate(text)
	if err != nil {
		return 0, queryFault(name, text, r.say("want-day"))
	}
	return d, nil
}

// askedMoment reads an instant of the query: now unless it is said, and nothing later than now is known.
func (r *request) askedMoment(name string) (records.Instant, error) {
	text := r.query.Get(name)
	if text == "" {
		return r.now, nil
	}
	at, err := records.ParseInstant(text)
	if err != nil || at > r.now {
		return 0, queryFault(name, text, r.say("want-moment"))
	}
	return at, nil
}

// start is the first instant of a civil day at the plant.
func (r *request) start(d calendar.Date) records.Instant { return r.plan.At(d, plan.DayTime{}) }

func queryFault(name, given, want string) error {
	return asking{[]records.FieldError{{Field: name, Value: given, Want: want}}}
}

// asking says that values of the question itself can not be read.
type asking struct{ faults []records.FieldError }

func (e asking) Error() string { return "the question can not be read: " + e.faults[0].String() }
