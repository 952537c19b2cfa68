package trace

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

// Subject is what a trace starts from, as somebody asked for it.
type Subject struct {
	Text string // as asked
	Of   Of
	Code string // of the lot, partner, station, agent or person; the supplier's own lot
	Bag  int    // number of a bag of the lot; 0 none
	// The stretch of time at a station, both ends included; 0 and lots.Forever when open.
	From, To records.Instant
}

// Of says what a subject is.
type Of string

const (
	OfLot      Of = "lot"
	OfLabel    Of = "label"
	OfPartner  Of = "partner"
	OfTheirLot Of = "their-lot"
	OfStation  Of = "station"
	OfAgent    Of = "agent"
	OfPerson   Of = "person"
)

const forms = "a lot code, label:LOT or label:LOT/BAG, partner:CODE, their-lot:TEXT, station:CODE, station:CODE@FROM..TO, agent:CODE or person:CODE"

// ParseSubject reads a subject:
//
//	LOT, lot:LOT          a lot
//	label:LOT/12          a bag: its lot, then optionally "/", "#" or a space and the bag's number
//	partner:CODE          every lot received from the partner, handed to it or by it, or carried by it
//	their-lot:TEXT        every lot received under that lot name of the supplier's, letter case aside
//	station:CODE@A..B     every lot in contact with the station from A to B: dates, local times (2026-03-01T07:30) or RFC 3339;
//	                      an end may be left out, one date alone is that day, and without @ it is all time
//	agent:CODE            every lot that could have met residue of a cleaning agent (see exposed)
//	person:CODE           every lot that a person handled or wrote about (see handled)
//
// Times without an offset are in zone. A text without a known word before its first colon is a lot.
func ParseSubject(text string, zone *time.Location) (Subject, error) {
	trimmed := strings.TrimSpace(text)
	s := Subject{Text: trimmed, Of: OfLot, Code: trimmed, To: lots.Forever}
	of, rest, ok := strings.Cut(trimmed, ":")
	if ok && slices.Contains([]Of{OfLot, OfLabel, OfPartner, OfTheirLot, OfStation, OfAgent, OfPerson}, Of(of)) {
		s.Of, s.Code = Of(of), strings.TrimSpace(rest)
	}
	if s.Code == "" {
		return Subject{}, badSubject(trimmed, "nothing is named: give "+forms)
	}
	switch s.Of {
	case OfLot:
		if err := records.CheckLot(s.Code); err != nil {
			return Subject{}, badSubject(trimmed, err.Error()+"; give "+forms)
		}
		return s, nil
	case OfLabel, OfTheirLot:
		return s, nil
	case OfStation:
		code, stretch, timed := strings.Cut(s.Code, "@")
		s.Code = strings.TrimSpace(code)
		if timed {
			var err error
			if s.From, s.To, err = parseStretch(strings.TrimSpace(stretch), zone); err != nil {
				return Subject{}, badSubject(trimmed, err.Error())
			}
		}
	}
	if err := records.CheckCode(s.Code); err != nil {
		return Subject{}, badSubject(trimmed, err.Error())
	}
	return s, nil
}

func badSubject(text, want string) error {
	return &records.Error{Kind: records.Invalid, What: "that is nothing a trace can start from",
		Fields: []records.FieldError{{Field: "subject", Value: text, Want: want}}}
}

// parseStretch reads A..B, A.., ..B, or one day.
func parseStretch(text string, zone *time.Location) (from, to records.Instant, err error) {
	a, b, two := strings.Cut(text, "..")
	if !two {
		if _, err := calendar.ParseDate(text); err != nil {
			return 0, 0, fmt.Errorf("%q is no stretch of time: write A..B, or one day such as 2026-03-01", text)
		}
		b = a
	}
	from, to = 0, lots.Forever
	if a != "" {
		if from, err = parseEnd(a, zone, false); err != nil {
			return 0, 0, err
		}
	}
	if b != "" {
		if to, err = parseEnd(b, zone, true); err != nil {
			return 0, 0, err
		}
	}
	if to < from {
		return 0, 0, fmt.Errorf("it ends (%s) before it begins (%s)", to, from)
	}
	return from, to, nil
}

// parseEnd reads one end; a date as the last end means to the end of that day.
func parseEnd(text string, zone *time.Location, last bool) (records.Instant, error) {
	if zone == nil {
		zone = time.UTC
	}
	if d, err := calendar.ParseDate(text); err == nil {
		if last {
			return records.InstantOf(calendar.At(d.AddDays(1), 0, zone)) - 1, nil
		}
		return records.InstantOf(calendar.At(d, 0, zone)), nil
	}
	for _, layout := range []string{"2006-01-02T15:04", "2006-01-02T15:04:05"} {
		if t, err := time.ParseInLocation(layout, text, zone); err == nil {
			if y := t.Year(); y < 1900 || y > 2199 {
				return 0, fmt.Errorf("the year of %q is outside 1900 to 2199", text)
			}
			return records.InstantOf(t), nil
		}
	}
	at, err := records.ParseInstant(text)
	if err != nil {
		return 0, fmt.Errorf("%q is no time: write 2026-03-01, 2026-03-01T07:30 (the plant's clock) or a time with its offset", text)
	}
	return at, nil
}

// Resolve finds the lots a subject means, by index in the floor, in order. What never existed is NotFound, with what is
// spelt nearly so. None at all, without an error, means that what is named exists but no lot had to do with it by then.
func Resolve(st *state.State, f *lots.Floor, s Subject) (Subject, []int32, error) {
	x := &resolver{st: st, f: f, p: st.PlanAt(f.At), found: newSet(len(f.Lots))}
	if i := f.Index(records.LotCode(s.Text)); i >= 0 { // lot codes may look like anything
		s.Of, s.Code = OfLot, s.Text
	}
	var err error
	switch s.Of {
	case OfLot:
		err = x.lot(s)
	case OfLabel:
		s, err = x.label(s)
	case OfPartner:
		err = x.partner(records.PartnerCode(s.Code))
	case OfTheirLot:
		err = x.theirLot(s.Code)
	case OfStation:
		err = x.station(s)
	case OfAgent:
		err = x.exposed(records.AgentCode(s.Code))
	case OfPerson:
		err = x.handled(records.PersonCode(s.Code))
	default:
		err = badSubject(s.Text, "give "+forms)
	}
	if err != nil {
		return s, nil, err
	}
	var out []int32
	for i := range int32(len(f.Lots)) {
		if x.found.has(i) {
			out = append(out, i)
		}
	}
	return s, out, nil
}

type resolver struct {
	st    *state.State
	f     *lots.Floor
	p     *plan.Plan // in force at the moment; may be nil
	found set
}

func (x *resolver) add(lot int) { x.found.add(int32(lot)) }

func (x *resolver) lot(s Subject) error {
	i := x.f.Index(records.LotCode(s.Code))
	if i < 0 {
		return neverExisted("lot", s.Code, x.lotCodes())
	}
	x.add(i)
	return nil
}

func (x *resolver) lotCodes() []string {
	out := make([]string, len(x.f.Lots))
	for i, l := range x.f.Lots {
		out[i] = string(l.Code)
	}
	return out
}

// label finds the lot of a bag; a number beyond the bags that were filled is a bag that never existed.
func (x *resolver) label(s Subject) (Subject, error) {
	code := s.Code
	if x.f.Index(records.LotCode(code)) < 0 {
		if at := strings.LastIndexAny(code, "/# "); at > 0 {
			if n, err := strconv.Atoi(code[at+1:]); err == nil && n > 0 {
				s.Bag, code = n, strings.TrimRight(code[:at], "/# ")
			}
		}
	}
	i := x.f.Index(records.LotCode(code))
	if i < 0 {
		return s, neverExisted("lot on a label", code, x.lotCodes())
	}
	s.Code = code
	bags, counted := 0, true
	for _, o := range x.f.Lots[i].Outputs {
		bags += o.Bags
		counted = counted && o.Bags > 0
	}
	if counted && bags > 0 && s.Bag > bags {
		return s, &records.Error{Kind: records.NotFound, What: fmt.Sprintf("lot %s has %d bags; a bag %d was never filled", code, bags, s.Bag),
			Do: "Read the label again, or trace the lot: " + code}
	}
	x.add(i)
	return s, nil
}

func (x *resolver) partner(code records.PartnerCode) error {
	known := x.p != nil && x.p.Partner(code) != nil
	var named []string
	for i := range x.f.Transfers {
		t := x.f.Transfers[i]
		parties := partiesOf(t)
		for _, c := range parties {
			named = append(named, string(c))
		}
		if slices.Contains(parties, code) {
			known = true
			for _, p := range t.Portions {
				x.add(p.Lot)
			}
		}
	}
	if known {
		return nil
	}
	if x.p != nil {
		for _, p := range x.p.Partners {
			named = append(named, string(p.Code))
		}
	}
	return neverExisted("partner", string(code), named)
}

// partiesOf are the partners a transfer names: giver, taker, carrier.
func partiesOf(t *lots.Transfer) (out []records.PartnerCode) {
	carrier := records.PartnerCode("")
	switch {
	case t.Receipt != nil:
		carrier = t.Receipt.Vehicle.Carrier
	case t.Handover != nil:
		carrier = t.Handover.Vehicle.Carrier
	}
	for _, c := range []records.PartnerCode{t.From.Holder, t.To.Holder, carrier} {
		if c != "" {
			out = append(out, c)
		}
	}
	return out
}

func (x *resolver) theirLot(text string) error {
	var named []string
	found := false
	for i := range x.f.Transfers {
		t := x.f.Transfers[i]
		if t.Receipt == nil || t.Receipt.TheirLot == "" {
			continue
		}
		named = append(named, t.Receipt.TheirLot)
		if strings.EqualFold(strings.TrimSpace(t.Receipt.TheirLot), text) {
			found = true
			for _, p := range t.Portions {
				x.add(p.Lot)
			}
		}
	}
	if found {
		return nil
	}
	return neverExisted("supplier's lot", text, named)
}

func (x *resolver) station(s Subject) error {
	code := records.StationCode(s.Code)
	if !x.stationKnown(code) {
		return neverExisted("station", s.Code, x.stationCodes())
	}
	for c := range x.f.Contacts[code].All() {
		if c.From > s.To {
			break
		}
		// A stay that ended at the instant the stretch begins was over; a passage at that instant was not.
		if c.To > s.From || c.From == c.To && c.From >= s.From {
			x.add(c.Lot)
		}
	}
	return nil
}

func (x *resolver) stationKnown(code records.StationCode) bool {
	if x.p != nil && x.p.Station(code) != nil {
		return true
	}
	_, used := x.f.Contacts[code]
	_, held := x.f.Stations[code]
	return used || held
}

func (x *resolver) stationCodes() (out []string) {
	if x.p != nil {
		for _, s := range x.p.Stations {
			out = append(out, string(s.Code))
		}
	}
	for c := range x.f.Contacts {
		out = append(out, string(c))
	}
	return out
}

// neverExisted says that there is no such thing, and what is spelt nearly so.
func neverExisted(what, code string, have []string) error {
	e := &records.Error{Kind: records.NotFound, What: fmt.Sprintf("no %s %q is on record by that moment", what, code)}
	if near := nearest(code, have); len(near) > 0 {
		e.Do = "Did you mean " + strings.Join(near, ", ") + "?"
	} else {
		e.Do = "Check how it is written; a trace can start from " + forms + "."
	}
	return e
}
