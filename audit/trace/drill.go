package trace

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"grainward/records"
	"grainward/records/state"
)

// Drill is one recall drill: its entries, in order of time.
type Drill struct {
	Code     string
	Start    *state.Record // nil when it is not on record
	Contacts []*state.Record
	Finish   *state.Record   // nil while it goes on
	Again    []*state.Record // further starts and finishes, which count for nothing
}

// Interrupted says that it was begun and not finished.
func (d *Drill) Interrupted() bool { return d.Finish == nil }

// Subject is what it traces; "" when there is no start.
func (d *Drill) Subject() string {
	if d.Start == nil {
		return ""
	}
	return d.Start.Fact.(*records.Drill).Subject
}

// Drills are the drills of which something happened by a moment, in order of their first entry.
func Drills(st *state.State, at records.Instant) []Drill {
	var out []Drill
	index := map[string]int{}
	for _, r := range st.Kind(records.KindDrill).Until(at) {
		fact := r.Fact.(*records.Drill)
		i, ok := index[fact.Drill]
		if !ok {
			i = len(out)
			index[fact.Drill] = i
			out = append(out, Drill{Code: fact.Drill})
		}
		d := &out[i]
		switch {
		case fact.Step == "start" && d.Start == nil:
			d.Start = r
		case fact.Step == "contact":
			d.Contacts = append(d.Contacts, r)
		case fact.Step == "finish" && d.Finish == nil:
			d.Finish = r
		default:
			d.Again = append(d.Again, r)
		}
	}
	return out
}

// DrillFigures are what a drill came to. The levels are those of 21 CFR 7.42(b)(3).
type DrillFigures struct {
	Level    string
	ToReach  int // direct consignees of the trace
	Required int // of them, by the level
	Tried    int
	Reached  int
	Percent  float64 // reached of those to reach; 100 when there are none
	Enough   bool    // reached is not below required

	// ToTrace is the time the trace took, as the finish says in a figure named "trace" in s or min; nil when it does not.
	ToTrace        *time.Duration
	ToFirstContact *time.Duration // from the start; nil when it can not be told
	ToFinish       *time.Duration

	Shipped   records.Micrograms // to direct consignees, as is
	Found     records.Micrograms // still with them, by what each said last
	Estimated bool               // Shipped rests on a mixed station
	Rows      []Reach            // every direct consignee, then partners contacted besides, each in order of code
}

// Reach is one partner of a drill.
type Reach struct {
	Partner   Partner
	Consignee bool // a direct one of the trace
	Sent      records.Micrograms
	Computed  records.Micrograms // standing there by the records
	Tries     []Try
	Reached   bool
	Holds     *records.Micrograms // what they said last they hold; nil when nobody said
}

// Try is one attempt to reach a partner.
type Try struct {
	When    records.Instant
	By      records.PersonCode
	Method  string
	Spoke   string
	Reached bool
	Entry   records.Position
}

// Left are the direct consignees not yet reached: where an interrupted drill goes on.
func (d *DrillFigures) Left() (out []records.PartnerCode) {
	for _, r := range d.Rows {
		if r.Consignee && !r.Reached {
			out = append(out, r.Partner.Code)
		}
	}
	return out
}

// Figures puts a drill beside the trace of its subject (forward, at the drill's start or later). A drill whose start names
// no level is taken as level A: all are to be reached.
func (d *Drill) Figures(t *Trace) DrillFigures {
	out := DrillFigures{Level: "A", Percent: 100}
	if d.Start != nil {
		if l := d.Start.Fact.(*records.Drill).Level; l != "" {
			out.Level = l
		}
		out.times(d)
	}
	rows := map[records.PartnerCode]*Reach{}
	for _, c := range t.Consignees {
		if c.Direct {
			rows[c.Partner] = &Reach{Partner: t.Partner(c.Partner), Consignee: true, Sent: c.Sent, Computed: c.Standing}
			out.ToReach++
			out.Shipped += c.Sent
			out.Estimated = out.Estimated || c.Estimated
		}
	}
	for _, r := range d.Contacts {
		fact := r.Fact.(*records.Drill)
		row := rows[fact.Partner]
		if row == nil {
			row = &Reach{Partner: t.Partner(fact.Partner)}
			rows[fact.Partner] = row
		}
		row.Tries = append(row.Tries, Try{r.Happened, r.Performer(), fact.Method, fact.Spoke, fact.Reached, r.Position})
		row.Reached = row.Reached || fact.Reached
		if h := exact(fact.Holds); h != nil {
			row.Holds = h
		}
	}
	for _, row := range rows {
		if row.Consignee {
			if len(row.Tries) > 0 {
				out.Tried++
			}
			if row.Reached {
				out.Reached++
			}
			if row.Holds != nil {
				out.Found += *row.Holds
			}
		}
		out.Rows = append(out.Rows, *row)
	}
	slices.SortFunc(out.Rows, func(a, b Reach) int {
		if a.Consignee != b.Consignee {
			if a.Consignee {
				return -1
			}
			return 1
		}
		return cmp.Compare(a.Partner.Code, b.Partner.Code)
	})
	out.Required = RequiredChecks(out.Level, out.ToReach)
	if out.ToReach > 0 {
		out.Percent = 100 * float64(out.Reached) / float64(out.ToReach)
	}
	out.Enough = out.Reached >= out.Required
	return out
}

func (f *DrillFigures) times(d *Drill) {
	since := func(r *state.Record) *time.Duration {
		took := r.Happened.Sub(d.Start.Happened)
		if took < 0 {
			return nil // it says it happened before the start
		}
		return &took
	}
	if len(d.Contacts) > 0 {
		f.ToFirstContact = since(d.Contacts[0])
	}
	if d.Finish == nil {
		return
	}
	f.ToFinish = since(d.Finish)
	for _, x := range d.Finish.Fact.(*records.Drill).Figures {
		unit := map[string]time.Duration{"s": time.Second, "min": time.Minute}[x.Value.Unit]
		if strings.EqualFold(x.Name, "trace") && unit != 0 {
			took := time.Duration(x.Value.Value.Float() * float64(unit))
			f.ToTrace = &took
		}
	}
}

// RequiredChecks is how many of n consignees have to be reached at an effectiveness check level of 21 CFR 7.42(b)(3): A all,
// B more than 10 %, C 10 %, D 2 %, E none; rounded up to whole consignees. A and B were seen in the source, C to E are from
// memory (check value C54). B is also "less than 100 %", which one consignee can not be: it is 1 then.
func RequiredChecks(level string, n int) int {
	switch level {
	case "B":
		if n == 0 {
			return 0
		}
		return n/10 + 1
	case "C":
		return (n + 9) / 10
	case "D":
		return (2*n + 99) / 100
	case "E":
		return 0
	}
	return n
}
