package audit

import (
	"slices"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
)

// lotSort is what a lot's class depends on besides the plan: thousands of lots are of a few sorts.
type lotSort struct {
	item   records.ItemCode
	status records.Status
}

func sortOf(l *lots.Lot) lotSort { return lotSort{l.Item, l.Status} }

// class is a lot's class: its declared status and the allergens of its item under the lists that apply.
func (s lotSort) class(p *plan.Plan) plan.Class {
	c := plan.Class{Status: string(s.status)}
	if s.status == "" {
		c.Status = string(records.Conventional) // a lot that was only ever mentioned can claim nothing
	}
	if i := p.Item(s.item); i != nil {
		c.Allergens = slices.Sorted(slices.Values(i.Allergens))
	}
	return c
}

// lotSorts are the sorts of all lots.
type lotSorts struct {
	of    []int // by lot, into all
	all   []lotSort
	known map[lotSort]int
}

// put notes a lot's sort.
func (s *lotSorts) put(lot int, is lotSort) {
	k, known := s.known[is]
	if !known {
		if s.known == nil {
			s.known = map[lotSort]int{}
		}
		k = len(s.all)
		s.known[is], s.all = k, append(s.all, is)
	}
	s.of[lot] = k
}

// class is how lots of a sort are classed under a plan.
type class struct {
	plan.Class
	text   string
	plan   *plan.Plan
	follow []follow
}

// follow is what a plan asks for when contents follow those of another class.
type follow struct {
	from     string
	need     records.GradeCode
	needed   bool
	status   bool // they differ in organic status
	allergen bool // what came before has an allergen that what follows has not
}

// classes are those at one station, as far as somebody asked: there are a few, and thousands of contacts.
type classes struct {
	station records.StationCode
	sorts   *lotSorts
	under   map[*plan.Plan][]*class // by sort
	plan    *plan.Plan              // the one asked about last
	now     []*class                // under it
}

// of is a lot's class.
func (x *classes) of(p *plan.Plan, lot int) *class {
	if p != x.plan {
		x.plan, x.now = p, x.under[p]
		if x.now == nil {
			if x.under == nil {
				x.under = map[*plan.Plan][]*class{}
			}
			x.now = make([]*class, len(x.sorts.all))
			x.under[p] = x.now
		}
	}
	k := x.sorts.of[lot]
	if x.now[k] == nil {
		c := x.sorts.all[k].class(p)
		x.now[k] = &class{Class: c, text: c.String(), plan: p}
	}
	return x.now[k]
}

// after is what is asked for when contents of a class follow those of another.
func (x *classes) after(to *class, from string) *follow {
	for i := range to.follow {
		if to.follow[i].from == from {
			return &to.follow[i]
		}
	}
	f := follow{from: from}
	f.need, f.needed = to.plan.GradeFor(from, to.text, x.station)
	was, err := plan.ParseClass(from)
	f.status = err != nil || was.Status != to.Status
	f.allergen = slices.ContainsFunc(was.Allergens, func(g string) bool { return !slices.Contains(to.Allergens, g) })
	to.follow = append(to.follow, f)
	return &to.follow[len(to.follow)-1]
}
