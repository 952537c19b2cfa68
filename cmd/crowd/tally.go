package crowd

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"
)

// Tally is what came of a crowd's requests.
type Tally struct {
	Took  time.Duration // from the first request until the last answer
	Kinds map[string]*Count
}

// Count is what came of the requests of one kind.
type Count struct {
	Good    int         // answered with 2xx or 3xx
	Refused map[int]int // how many were answered with a status of 400 or more
	Failed  int         // got no answer
	Trouble string      // what the first that was refused or failed was told

	times []time.Duration // of those that are good, shortest first
}

type outcome struct {
	took   time.Duration
	status int
	err    error
	said   string
}

func newTally() *Tally { return &Tally{Kinds: map[string]*Count{}} }

func (t *Tally) kind(name string) *Count {
	c := t.Kinds[name]
	if c == nil {
		c = &Count{Refused: map[int]int{}}
		t.Kinds[name] = c
	}
	return c
}

func (t *Tally) add(name string, o outcome) {
	c := t.kind(name)
	switch {
	case o.err != nil:
		c.Failed++
		c.Trouble = cmp.Or(c.Trouble, o.err.Error())
	case o.status >= 400:
		c.Refused[o.status]++
		c.Trouble = cmp.Or(c.Trouble, fmt.Sprintf("%d: %s", o.status, o.said))
	default:
		c.Good++
		c.times = append(c.times, o.took)
	}
}

func (t *Tally) join(other *Tally) {
	for name, o := range other.Kinds {
		c := t.kind(name)
		c.Good, c.Failed, c.Trouble = c.Good+o.Good, c.Failed+o.Failed, cmp.Or(c.Trouble, o.Trouble)
		for status, n := range o.Refused {
			c.Refused[status] += n
		}
		c.times = append(c.times, o.times...)
	}
}

func (t *Tally) sort() {
	for _, c := range t.Kinds {
		slices.Sort(c.times)
	}
}

// Wrong says what was refused or not answered, of all kinds; nil when all was well.
func (t *Tally) Wrong() error {
	var all []string
	for _, name := range slices.Sorted(maps.Keys(t.Kinds)) {
		if c := t.Kinds[name]; c.Bad() > 0 {
			all = append(all, fmt.Sprintf("%d of %d %ss (%s)", c.Bad(), c.Bad()+c.Good, name, c.Trouble))
		}
	}
	if all == nil {
		return nil
	}
	return fmt.Errorf("not every request was answered as it should be: %s", strings.Join(all, "; "))
}

// Bad is how many were refused or got no answer.
func (c *Count) Bad() int {
	n := c.Failed
	for _, k := range c.Refused {
		n += k
	}
	return n
}

// At is the latency that a share of the good requests did not exceed: 0.5 is the median, 1 the slowest. 0 when there are none.
func (c *Count) At(share float64) time.Duration {
	if len(c.times) == 0 {
		return 0
	}
	i := int(math.Ceil(share*float64(len(c.times)))) - 1
	return c.times[min(max(i, 0), len(c.times)-1)]
}
