package lots_test

import (
	"fmt"
	"maps"
	"math/big"
	"slices"
	"sort"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"grainward/records"
	"grainward/records/lots"
)

// slowFloor is the floor worked out from the package comment and the comments of the types in lots.go, with no thought
// of time: contents are kept as rational numbers by place and lot, a copy of all of them is kept after every single thing
// taken or put, and who was in contact with what is read off these copies afterwards.
type slowFloor struct {
	at        records.Instant
	held      map[string]*big.Rat // place|lot
	residents map[records.StationCode][]records.LotCode
	proven    map[records.StationCode]records.Instant
	order     []records.LotCode // in which lots were first heard of
	known     map[records.LotCode]*slowLot
	copies    []copied
	steps     []slowStep
	handovers map[records.EntryID]bool
	told      []string
}

type slowLot struct {
	item                    records.ItemCode
	status                  records.Status
	begins                  records.Instant
	entered, adjusted, used *big.Rat
	samples                 int
	stops, rejections       []*stop
}

type stop struct{ from, to records.Instant }

type copied struct {
	when records.Instant
	by   records.EntryID
	held map[string]*big.Rat
}

type slowStep struct{ in, out []records.LotCode }

func place(s records.StationCode) string  { return string(s) }
func holder(p records.PartnerCode) string { return "with " + string(p) }

const samplesPlace = "retained samples"

// happening is an entry or a clean-out.
type happening struct {
	e     records.Entry
	clean *lots.CleanOut
}

// inOrder puts clean-outs between the entries: after what was taken out of their station at the instant, before what was
// put there.
func inOrder(entries []records.Entry, cleanOuts []lots.CleanOut, at records.Instant) (out []happening) {
	for _, e := range entries {
		if e.Happened <= at {
			out = append(out, happening{e: e})
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].e.Happened < out[j].e.Happened })
	for i := range cleanOuts {
		c := &cleanOuts[i]
		if c.To > at {
			continue
		}
		k := 0
		for k < len(out) {
			h := out[k]
			if h.clean == nil && (h.e.Happened > c.To || h.e.Happened == c.To && putsInto(h.e.Fact, c.Station)) {
				break
			}
			k++
		}
		out = slices.Insert(out, k, happening{clean: c})
	}
	return out
}

func putsInto(f records.Fact, s records.StationCode) bool {
	var to []records.StationCode
	switch f := f.(type) {
	case *records.Receipt:
		to = append(to, f.To)
	case *records.Move:
		to = append(to, f.To)
	case *records.Purge:
		to = append(to, f.Became.To)
	case *records.Process:
		for _, o := range f.Outputs {
			to = append(to, o.To)
		}
	}
	return slices.Contains(to, s)
}

func slow(entries []records.Entry, cleanOuts []lots.CleanOut, at records.Instant) *slowFloor {
	s := &slowFloor{at: at, held: map[string]*big.Rat{}, residents: map[records.StationCode][]records.LotCode{}, proven: map[records.StationCode]records.Instant{},
		known: map[records.LotCode]*slowLot{}, handovers: map[records.EntryID]bool{}}
	for _, e := range entries {
		if h, ok := e.Fact.(*records.Handover); ok && h.Confirms.IsZero() && e.Happened <= at {
			s.handovers[e.ID] = true
		}
	}
	for _, h := range inOrder(entries, cleanOuts, at) {
		if h.clean != nil {
			s.clean(h.clean)
		} else {
			s.entry(h.e)
		}
	}
	return s
}

func (s *slowFloor) tell(format string, args ...any) {
	s.told = append(s.told, fmt.Sprintf(format, args...))
}

func (s *slowFloor) mass(place string, lot records.LotCode) *big.Rat {
	if m := s.held[place+"|"+string(lot)]; m != nil {
		return m
	}
	return new(big.Rat)
}

func (s *slowFloor) write(e records.Entry, place string, lot records.LotCode, m *big.Rat) {
	s.held[place+"|"+string(lot)] = m
}

func (s *slowFloor) keep(e records.Entry) {
	s.copies = append(s.copies, copied{e.Happened, e.ID, maps.Clone(s.held)})
}

func rat(m records.Mass) *big.Rat {
	ug, err := m.Micrograms()
	if err != nil {
		panic(err)
	}
	return new(big.Rat).SetInt64(int64(ug))
}

// hear is that an entry names a lot.
func (s *slowFloor) hear(e records.Entry, lot records.LotCode) *slowLot {
	if s.known[lot] == nil {
		s.tell("assumed %s unknown-lot %s  0", e.ID, lot)
		s.first(e, lot)
	}
	return s.known[lot]
}

func (s *slowFloor) first(e records.Entry, lot records.LotCode) {
	s.known[lot] = &slowLot{begins: e.Happened, entered: new(big.Rat), adjusted: new(big.Rat), used: new(big.Rat)}
	s.order = append(s.order, lot)
}

func (s *slowFloor) enter(e records.Entry, lot records.LotCode, item records.ItemCode, status records.Status, m *big.Rat) {
	if s.known[lot] == nil {
		s.first(e, lot)
	}
	l := s.known[lot]
	if l.item == "" {
		l.item, l.status = item, status
	} else if l.item != item || l.status != status {
		s.tell("assumed %s two-kinds %s  0", e.ID, lot)
	}
	l.entered = new(big.Rat).Add(l.entered, m)
}

func (s *slowFloor) adjust(e records.Entry, lot records.LotCode, place string, by *big.Rat, why lots.Why) {
	if by.Sign() != 0 {
		s.known[lot].adjusted = new(big.Rat).Add(s.known[lot].adjusted, by)
		s.tell("adjusted %s %s %s %s %s", e.ID, lot, place, by.RatString(), why)
	}
}

// present is who is in contact with a station after a copy: where lots stand apart, who has something there; where they
// are mixed, who has had something since there was last nothing of any.
func (s *slowFloor) present(station records.StationCode, upTo int) []records.LotCode {
	var out []records.LotCode
	for i := 0; i <= upTo && i < len(s.copies); i++ {
		var now []records.LotCode
		for key, m := range s.copies[i].held {
			if at, lot, _ := strings.Cut(key, "|"); at == place(station) && m.Sign() != 0 {
				now = append(now, records.LotCode(lot))
			}
		}
		if mixed[station] && len(now) > 0 {
			for _, was := range out {
				if !slices.Contains(now, was) {
					now = append(now, was)
				}
			}
		}
		out = now
	}
	return out
}

func (s *slowFloor) touch(e records.Entry, station records.StationCode, lot records.LotCode, from records.Instant, purge bool) {
	s.tell("contact %s %s %d %d %s %s %t", station, lot, from, e.Happened, e.ID, e.ID, purge)
}

func (s *slowFloor) pass(e records.Entry, via []records.StationCode, lot records.LotCode, purge bool) {
	for _, v := range via {
		s.touch(e, v, lot, e.Happened, purge)
	}
}

func (s *slowFloor) put(e records.Entry, station records.StationCode, lot records.LotCode, m *big.Rat) {
	if m.Sign() == 0 && !slices.Contains(s.present(station, len(s.copies)), lot) {
		s.touch(e, station, lot, e.Happened, false)
	}
	if (mixed[station] || m.Sign() != 0) && !slices.Contains(s.residents[station], lot) {
		s.residents[station] = append(s.residents[station], lot)
	}
	s.write(e, place(station), lot, new(big.Rat).Add(s.mass(place(station), lot), m))
	s.keep(e)
}

type slowPortion struct {
	lot       records.LotCode
	mass      *big.Rat
	estimated bool
	from      string
}

func (p slowPortion) String() string {
	return fmt.Sprintf("[%s %s %t %s]", p.lot, p.mass.RatString(), p.estimated, p.from)
}

func (s *slowFloor) here(station records.StationCode) (out []records.LotCode) {
	for _, lot := range s.residents[station] {
		if s.mass(place(station), lot).Sign() != 0 {
			out = append(out, lot)
		}
	}
	return out
}

// left is what is written of a lot after something was taken.
func (s *slowFloor) left(e records.Entry, at string, lot records.LotCode, m *big.Rat, last bool) {
	switch {
	case last:
		s.adjust(e, lot, at, new(big.Rat).Neg(m), lots.LastTaken)
		m = new(big.Rat)
	case m.Sign() < 0:
		s.adjust(e, lot, at, new(big.Rat).Neg(m), lots.NotThere)
		m = new(big.Rat)
	}
	s.write(e, at, lot, m)
}

func (s *slowFloor) takeLot(e records.Entry, at string, lot records.LotCode, m *big.Rat, last bool) []slowPortion {
	s.hear(e, lot)
	left := new(big.Rat).Sub(s.mass(at, lot), m)
	if left.Sign() < 0 && !last {
		s.tell("assumed %s short %s %s %s", e.ID, lot, at, new(big.Rat).Neg(left).RatString())
	}
	s.left(e, at, lot, left, last)
	return []slowPortion{{lot, m, false, at}}
}

func (s *slowFloor) takeShares(e records.Entry, station records.StationCode, list []records.LotCode, m *big.Rat, last bool) (out []slowPortion) {
	var weights []*big.Rat
	total := new(big.Rat)
	for _, lot := range list {
		weights = append(weights, s.mass(place(station), lot))
		total.Add(total, s.mass(place(station), lot))
	}
	if m.Cmp(total) > 0 && !last {
		s.tell("assumed %s short  %s %s", e.ID, station, new(big.Rat).Sub(m, total).RatString())
	}
	shares := slowShares(m, weights)
	for k, lot := range list {
		out = append(out, slowPortion{lot, shares[k], true, place(station)})
		s.left(e, place(station), lot, new(big.Rat).Sub(weights[k], shares[k]), last)
	}
	return out
}

// slowShares gives everybody the whole micrograms of his part, and the rest one by one to whoever lacks most of his.
func slowShares(m *big.Rat, weights []*big.Rat) (out []*big.Rat) {
	total := new(big.Rat)
	for _, w := range weights {
		total.Add(total, w)
	}
	if total.Sign() == 0 {
		weights = slices.Clone(weights)
		for i := range weights {
			weights[i] = big.NewRat(1, 1)
			total.Add(total, weights[i])
		}
	}
	rest := new(big.Rat).Set(m)
	var lacks []*big.Rat
	for _, w := range weights {
		part := new(big.Rat).Mul(m, new(big.Rat).Quo(w, total))
		whole := new(big.Rat).SetInt(new(big.Int).Quo(part.Num(), part.Denom()))
		out, lacks = append(out, whole), append(lacks, new(big.Rat).Sub(part, whole))
		rest.Sub(rest, whole)
	}
	for ; rest.Sign() > 0; rest.Sub(rest, big.NewRat(1, 1)) {
		most := 0
		for k := range lacks {
			if lacks[k].Cmp(lacks[most]) > 0 {
				most = k
			}
		}
		out[most] = new(big.Rat).Add(out[most], big.NewRat(1, 1))
		lacks[most] = big.NewRat(-1, 1)
	}
	return out
}

func (s *slowFloor) take(e records.Entry, station records.StationCode, lot records.LotCode, w records.Weight, last bool) (out []slowPortion) {
	m := rat(w.Mass)
	residents := slices.Clone(s.residents[station])
	here := s.here(station)
	switch {
	case mixed[station] && len(residents) > 0:
		out = s.takeShares(e, station, residents, m, last)
		if lot != "" {
			s.hear(e, lot)
			if !slices.Contains(residents, lot) {
				s.tell("assumed %s short %s %s %s", e.ID, lot, station, m.RatString())
				out = append(out, slowPortion{lot, new(big.Rat), true, place(station)})
			}
		}
	case lot != "":
		out = s.takeLot(e, place(station), lot, m, last)
	case len(here) == 1:
		out = s.takeLot(e, place(station), here[0], m, last)
	case len(here) > 1:
		s.tell("assumed %s which-lot  %s %s", e.ID, station, m.RatString())
		out = s.takeShares(e, station, here, m, last)
	default:
		s.tell("assumed %s nothing-there  %s %s", e.ID, station, m.RatString())
	}
	s.gone(station)
	s.keep(e)
	return out
}

// gone takes lots that are no more there off a station where lots stand apart.
func (s *slowFloor) gone(station records.StationCode) {
	if !mixed[station] {
		s.residents[station] = s.here(station)
	}
}

func (s *slowFloor) entry(e records.Entry) {
	switch f := e.Fact.(type) {
	case *records.Receipt:
		s.enter(e, f.Lot, f.Item, f.Status, rat(f.Weight.Mass))
		s.pass(e, f.Via, f.Lot, false)
		s.put(e, f.To, f.Lot, rat(f.Weight.Mass))
		s.tell("transfer %s with %s %s %v", e.ID, f.Source, f.To, []slowPortion{{f.Lot, rat(f.Weight.Mass), false, ""}})
	case *records.Move:
		got := s.take(e, f.From, f.Lot, f.Weight, f.Last)
		for _, p := range got {
			s.pass(e, f.Via, p.lot, false)
			s.put(e, f.To, p.lot, p.mass)
		}
	case *records.Process:
		var in []slowPortion
		for _, i := range f.Inputs {
			in = append(in, s.take(e, i.From, i.Lot, i.Weight, i.Last)...)
		}
		began := e.Happened
		if f.Started != 0 && f.Started < e.Happened {
			began = f.Started
		}
		for _, p := range in {
			if p.from != place(f.Station) {
				s.touch(e, f.Station, p.lot, began, false)
			}
		}
		s.step(e, f.Process, in, f.Outputs, f.Station, f.Via)
	case *records.Purge:
		in := s.take(e, f.From, f.Lot, f.Weight, f.Last)
		for _, p := range in {
			s.pass(e, f.Stations, p.lot, true)
		}
		s.step(e, "purge", in, []records.Output{f.Became}, "", nil)
	case *records.Handover:
		s.handover(e, f)
	case *records.Count:
		s.count(e, f)
	case *records.Sample:
		l := s.hear(e, f.Lot)
		if f.Act == "discarded" {
			l.samples -= f.Number
			return
		}
		l.samples += f.Number
		if f.Mass != nil {
			for _, p := range s.take(e, f.From, f.Lot, records.Weight{Mass: *f.Mass}, false) {
				s.write(e, samplesPlace, p.lot, new(big.Rat).Add(s.mass(samplesPlace, p.lot), p.mass))
			}
		}
	case *records.Hold:
		for _, lot := range f.Lots {
			l := s.hear(e, lot)
			l.stops = append(l.stops, &stop{e.Happened, lots.Forever})
		}
	case *records.Release:
		for _, lot := range f.Lots {
			l := s.hear(e, lot)
			if f.Rejected {
				l.rejections = append(l.rejections, &stop{e.Happened, lots.Forever})
				continue
			}
			for _, st := range append(slices.Clone(l.stops), l.rejections...) {
				st.to = min(st.to, e.Happened)
			}
		}
	case *records.Result:
		s.hear(e, f.Lot)
	}
}

func (s *slowFloor) handover(e records.Entry, f *records.Handover) {
	if !f.Confirms.IsZero() {
		if !s.handovers[f.Confirms] {
			s.tell("assumed %s unknown-confirmation %s  0", e.ID, f.Lot)
		}
		return
	}
	from := place(f.From)
	var got []slowPortion
	if f.FromHolder != "" {
		from = holder(f.FromHolder)
		got = s.takeLot(e, from, f.Lot, rat(f.Weight.Mass), f.Last)
	} else {
		got = s.take(e, f.From, f.Lot, f.Weight, f.Last)
	}
	for _, p := range got {
		s.pass(e, f.Via, p.lot, false)
		s.write(e, holder(f.To), p.lot, new(big.Rat).Add(s.mass(holder(f.To), p.lot), p.mass))
	}
	s.tell("transfer %s %s with %s %v", e.ID, from, f.To, got)
}

func (s *slowFloor) step(e records.Entry, what string, in []slowPortion, out []records.Output, station records.StationCode, via []records.StationCode) {
	var st slowStep
	var made []string
	for _, p := range in {
		s.known[p.lot].used = new(big.Rat).Add(s.known[p.lot].used, p.mass)
		s.pass(e, via, p.lot, false)
		st.in = append(st.in, p.lot)
	}
	for _, o := range out {
		m := rat(o.Weight.Mass)
		s.enter(e, o.Lot, o.Item, o.Status, m)
		if station != "" && o.To != station {
			s.touch(e, station, o.Lot, e.Happened, false)
		}
		s.pass(e, via, o.Lot, false)
		s.put(e, o.To, o.Lot, m)
		st.out = append(st.out, o.Lot)
		made = append(made, fmt.Sprintf("[%s %s]", o.Lot, m.RatString()))
	}
	s.steps = append(s.steps, st)
	s.tell("step %s %s %v %v", e.ID, what, in, made)
	s.cycle(e, st)
}

// cycle looks whether an output of the newest step is made from itself, by walking every path there is.
func (s *slowFloor) cycle(e records.Entry, newest slowStep) {
	var walk func(lot, to records.LotCode, seen []records.LotCode) bool
	walk = func(lot, to records.LotCode, seen []records.LotCode) bool {
		if lot == to {
			return true
		}
		if slices.Contains(seen, lot) {
			return false
		}
		for _, st := range s.steps {
			if !slices.Contains(st.in, lot) {
				continue
			}
			for _, next := range st.out {
				if walk(next, to, append(slices.Clone(seen), lot)) {
					return true
				}
			}
		}
		return false
	}
	for _, o := range newest.out {
		for _, in := range newest.in {
			line := fmt.Sprintf(" cycle %s  0", o)
			if walk(o, in, nil) && !slices.ContainsFunc(s.told, func(t string) bool { return strings.HasSuffix(t, line) }) {
				s.tell("assumed %s%s", e.ID, line)
			}
		}
	}
}

func (s *slowFloor) count(e records.Entry, f *records.Count) {
	at := place(f.Station)
	total := new(big.Rat)
	for _, x := range f.Found {
		total.Add(total, rat(x.Weight.Mass))
	}
	write := func(lot records.LotCode, m *big.Rat) {
		s.adjust(e, lot, at, new(big.Rat).Sub(m, s.mass(at, lot)), lots.Counted)
		s.write(e, at, lot, m)
	}
	residents := slices.Clone(s.residents[f.Station])
	if mixed[f.Station] {
		list := residents
		var weights []*big.Rat
		for _, lot := range residents {
			weights = append(weights, s.mass(at, lot))
		}
		for _, x := range f.Found {
			if x.Lot == "" {
				continue
			}
			if s.hear(e, x.Lot); !slices.Contains(residents, x.Lot) {
				list, weights = append(list, x.Lot), append(weights, rat(x.Weight.Mass))
			}
		}
		switch {
		case len(list) > 0:
			shares := slowShares(total, weights)
			for k, lot := range list {
				write(lot, shares[k])
				if shares[k].Sign() != 0 && !slices.Contains(s.residents[f.Station], lot) {
					s.residents[f.Station] = append(s.residents[f.Station], lot)
				}
			}
		case total.Sign() != 0:
			s.tell("assumed %s nothing-there  %s %s", e.ID, at, total.RatString())
		}
	} else {
		here := s.here(f.Station)
		found := map[records.LotCode]*big.Rat{}
		for _, lot := range here {
			found[lot] = new(big.Rat)
		}
		for _, x := range f.Found {
			lot := x.Lot
			if lot == "" && len(here) == 1 {
				lot = here[0]
			}
			if lot == "" {
				if rat(x.Weight.Mass).Sign() != 0 {
					s.tell("assumed %s which-lot  %s %s", e.ID, at, rat(x.Weight.Mass).RatString())
				}
				continue
			}
			s.hear(e, lot)
			if found[lot] == nil {
				found[lot] = new(big.Rat)
			}
			found[lot] = new(big.Rat).Add(found[lot], rat(x.Weight.Mass))
		}
		for _, lot := range s.order {
			if m := found[lot]; m != nil {
				write(lot, m)
				if m.Sign() != 0 && !slices.Contains(s.residents[f.Station], lot) {
					s.residents[f.Station] = append(s.residents[f.Station], lot)
				}
			}
		}
		s.gone(f.Station)
	}
	s.keep(e)
	if total.Sign() == 0 {
		s.residents[f.Station], s.proven[f.Station] = nil, e.Happened
	}
}

func (s *slowFloor) clean(c *lots.CleanOut) {
	if !mixed[c.Station] {
		return
	}
	e := c.Record.Entry
	for _, lot := range s.here(c.Station) {
		m := s.mass(place(c.Station), lot)
		s.adjust(e, lot, place(c.Station), new(big.Rat).Neg(m), lots.Emptied)
		s.write(e, place(c.Station), lot, new(big.Rat))
	}
	s.residents[c.Station], s.proven[c.Station] = nil, c.To
	s.keep(e)
}

// lines is all that was found, with the stays read off the copies.
func (s *slowFloor) lines() []string {
	out := slices.Clone(s.told)
	stations := []records.StationCode{"conveyor", "floor-1", "floor-2", "silo-1", "silo-2", "store"}
	for _, station := range stations {
		began := map[records.LotCode]copied{}
		for i, c := range s.copies {
			now := s.present(station, i)
			for lot, from := range began {
				if !slices.Contains(now, lot) {
					out = append(out, fmt.Sprintf("contact %s %s %d %d %s %s false", station, lot, from.when, c.when, from.by, c.by))
					delete(began, lot)
				}
			}
			for _, lot := range now {
				if _, there := began[lot]; !there {
					began[lot] = c
				}
			}
		}
		for lot, from := range began {
			out = append(out, fmt.Sprintf("contact %s %s %d %d %s - false", station, lot, from.when, lots.Forever, from.by))
		}
		if r := s.residents[station]; len(r) > 0 {
			out = append(out, fmt.Sprintf("residents %s %v", station, r))
		}
		if p := s.proven[station]; p != 0 {
			out = append(out, fmt.Sprintf("proven %s %d", station, p))
		}
	}
	for key, m := range s.held {
		if m.Sign() != 0 {
			at, lot, _ := strings.Cut(key, "|")
			out = append(out, fmt.Sprintf("at %s %s %s", at, lot, m.RatString()))
		}
	}
	for _, code := range s.order {
		l := s.known[code]
		held := ""
		for at := records.Instant(8); at < 72; at++ {
			stopped := 0
			for _, st := range append(slices.Clone(l.stops), l.rejections...) {
				if st.from <= at && at < st.to {
					stopped = 1
				}
			}
			held += fmt.Sprint(stopped)
		}
		out = append(out, fmt.Sprintf("lot %s %s %s %d entered %s adjusted %s used %s samples %d held %s", code, l.item, l.status, l.begins, l.entered.RatString(), l.adjusted.RatString(),
			l.used.RatString(), l.samples, held))
	}
	slices.Sort(out)
	return out
}

// lines says what a floor says, in the words of the slow one.
func lines(f *lots.Floor) (out []string) {
	add := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	code := func(i int) records.LotCode { return f.Lots[i].Code }
	portions := func(list []lots.Portion, from bool) (out []slowPortion) {
		for _, p := range list {
			at := ""
			if from {
				at = p.From.String()
			}
			out = append(out, slowPortion{code(p.Lot), new(big.Rat).SetInt64(int64(p.Mass)), p.Estimated, at})
		}
		return out
	}
	for _, l := range f.Lots {
		held := ""
		for at := records.Instant(8); at < 72; at++ {
			held += map[bool]string{true: "1", false: "0"}[l.HeldAt(at)]
		}
		add("lot %s %s %s %d entered %d adjusted %d used %d samples %d held %s", l.Code, l.Item, l.Status, l.Begins, l.Entered, l.Adjusted, l.Used, l.Samples, held)
		for p, m := range l.At.All() {
			add("at %s %s %d", p, l.Code, m)
		}
	}
	for station, s := range f.Stations {
		var r []records.LotCode
		for _, i := range s.Residents {
			r = append(r, code(i))
		}
		if len(r) > 0 {
			add("residents %s %v", station, r)
		}
		if s.Proven != 0 {
			add("proven %s %d", station, s.Proven)
		}
	}
	for station, cs := range f.Contacts {
		for c := range cs.All() {
			ended := "-"
			if c.Ended != nil {
				ended = c.Ended.ID.String()
			}
			add("contact %s %s %d %d %s %s %t", station, code(c.Lot), c.From, c.To, c.Began.ID, ended, c.Purge)
		}
	}
	for _, a := range f.Adjustments {
		add("adjusted %s %s %s %d %s", a.Record.ID, code(a.Lot), a.Place, a.By, a.Why)
	}
	for _, a := range f.Assumed {
		add("assumed %s %s %s %s %d", a.Record.ID, a.Code, a.Lot, a.Place, a.Mass)
	}
	for _, s := range f.Steps {
		var made []string
		for _, m := range s.Out {
			made = append(made, fmt.Sprintf("[%s %d]", code(m.Lot), m.Mass))
		}
		add("step %s %s %v %v", s.Record.ID, s.What, portions(s.In, true), made)
	}
	for _, t := range f.Transfers {
		add("transfer %s %s %s %v", t.Record.ID, t.From, t.To, portions(t.Portions, t.Receipt == nil))
	}
	slices.Sort(out)
	return out
}

func without(a, b []string) string {
	left := slices.Clone(b)
	var out []string
	for _, x := range a {
		if k := slices.Index(left, x); k >= 0 {
			left = slices.Delete(left, k, k+1)
		} else {
			out = append(out, x)
		}
	}
	return strings.Join(out, "\n")
}

// The fold agrees with the slow floor, at the end and at any moment before.
func TestFoldAgainstSlowFloor(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lots.SmallPages(t, rapid.IntRange(1, 6).Draw(t, "per page"))
		h := drawHistory(t, false)
		st := h.state()
		for _, at := range []records.Instant{records.Instant(rapid.IntRange(5, 75).Draw(t, "moment")), 1000} {
			f := lots.Fold(st, at, h.cleanOuts)
			got, want := lines(f), slow(h.entries, h.cleanOuts, at).lines()
			if !slices.Equal(got, want) {
				t.Fatalf("at %d\nonly the fold has:\n%s\nonly the slow floor has:\n%s\n%s", at, without(got, want), without(want, got), h.told())
			}
		}
	})
}
