package audit

import (
	"fmt"
	"time"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/plan"
	"grainward/records/state"
)

// clockSlack is how far apart two servers of one journal may write down the time before it is said: common practice, no source. Clocks that
// are set by the network differ by far less.
const clockSlack = 5 * time.Minute

// clockMemo is where the clock by which entries are written down went back, of the first n positions. Whoever sets it back can write down
// work as done in time that was not; positions can not be set back.
type clockMemo struct {
	plans    uint64
	n        records.Position
	last     *state.Record
	jumps    []jump
	from, to records.Instant // the moments for which the findings hold: from <= at < to
	found    []*Finding
}

// jump is one place: two neighbours in the journal, the later of which was written down earlier.
type jump struct {
	before, after *state.Record
	plan          *plan.Plan
	day           calendar.Date // by the clock as it was before
}

func (j *jump) by() time.Duration { return j.before.Recorded.Sub(j.after.Recorded) }

func (m *clockMemo) at(st *state.State, at records.Instant) []*Finding {
	if p := st.Kind(records.KindPlan).Version(); m.plans != p || m.n > st.Size() {
		*m = clockMemo{plans: p}
	}
	known := len(m.jumps)
	for ; m.n < st.Size(); m.n++ {
		r := st.First(m.n)
		if r == nil {
			continue
		}
		if j := (jump{before: m.last, after: r}); m.last != nil && j.by() > clockSlack {
			if j.plan = st.PlanAt(m.last.Recorded); j.plan != nil {
				j.day = j.plan.Day(m.last.Recorded)
				m.jumps = append(m.jumps, j)
			}
		}
		m.last = r
	}
	if len(m.jumps) > known || at < m.from || at >= m.to {
		m.judge(at)
	}
	return m.found
}

// judge says a day's jumps as one: two servers whose clocks differ would make one at every turn.
func (m *clockMemo) judge(at records.Instant) {
	type day struct {
		largest *jump
		n       int
	}
	days := map[calendar.Date]*day{}
	var order []*day
	m.from, m.to, m.found = at, forever, nil
	for i := range m.jumps {
		j := &m.jumps[i]
		if when := j.before.Recorded; when > at {
			m.to = min(m.to, when)
			continue
		}
		d := days[j.day]
		if d == nil {
			d = &day{largest: j}
			days[j.day], order = d, append(order, d)
		}
		if d.n++; j.by() > d.largest.by() {
			d.largest = j
		}
	}
	for _, d := range order {
		m.found = append(m.found, d.largest.finding(d.n-1))
	}
}

// finding is that of a day on which there were so many smaller jumps beside this one.
func (j *jump) finding(others int) *Finding {
	more := plan.Text{"en": "", "es": ""}
	switch {
	case others == 1:
		more = plan.Text{"en": ", and once more that day", "es": ", y otra vez ese día"}
	case others > 1:
		more = plan.Text{"en": fmt.Sprintf(", and %d more times that day", others), "es": fmt.Sprintf(", y %d veces más ese día", others)}
	}
	return find("clock-back", j.day.String(), j.before.Recorded, Subject{}, nil, []Value{word("day", j.day.String()), title("delay", delayWords(j.by())),
		word("before", fmt.Sprint(j.before.Position)), word("position", fmt.Sprint(j.after.Position)), title("more", more)}, j.before.Position, j.after.Position)
}
