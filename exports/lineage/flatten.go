package lineage

import (
	"strings"
	"time"

	"grainward/audit/trace"
	"grainward/records"
	"grainward/records/lots"
)

// Flatten puts a trace into its outward form. A zone that can not be found is an error.
func Flatten(in Input) (*Form, error) {
	t := in.Trace
	zone, err := time.LoadLocation(t.Zone)
	if err != nil {
		return nil, &records.Error{Kind: records.Invalid, What: "the plant's time zone is not known here", Err: err}
	}
	f := &Form{Format: Format, Subject: Subject{Text: t.Subject.Text, Of: string(t.Subject.Of), Code: t.Subject.Code, Bag: t.Subject.Bag,
		From: open(t.Subject.From), To: open(t.Subject.To)}, Direction: [...]string{"both", "back", "forward"}[t.Dir], At: t.At,
		Zone: zone.String(), Units: t.Units, Estimated: t.Estimated, Cycles: list(t.Cycles), words: wordsIn(in.Lang), zone: zone}
	if f.Units == "" {
		f.Units = "kg" // no plan says otherwise
	}
	for _, line := range in.Stamp.Fields() {
		f.Stamp = append(f.Stamp, StampLine{line.Name, line.Value})
	}
	f.Account = accountOf(&t.Account)
	f.Lots, f.Paths, f.Movements = []Lot{}, []Path{}, []Movement{}
	f.byLot = map[records.LotCode]int{}
	for i := range t.Lots {
		f.byLot[t.Lots[i].Code] = i
		f.Lots = append(f.Lots, lotOf(t, &t.Lots[i], in.Lang))
	}
	for _, p := range t.Paths {
		f.Paths = append(f.Paths, Path{p.From, p.To, p.What, p.Station, p.When, Kg(p.In), Kg(p.Out), p.Estimated, p.Entry})
	}
	for i := range t.Movements {
		f.Movements = append(f.Movements, movementOf(&t.Movements[i]))
	}
	f.partners(t)
	f.Touches = []Touch{}
	for i := range t.Touches {
		f.Touches = append(f.Touches, touchOf(&t.Touches[i], in.Lang))
	}
	f.Documents = []Document{}
	for _, p := range t.Papers {
		d := Document{Lot: p.Lot, For: p.For, Code: p.Code, OnFile: p.OnFile, Held: p.Holds, Title: p.Title, Type: p.Type, Issuer: p.Issuer, Number: p.Number,
			SHA256: p.SHA256, When: p.When, Entry: p.Entry}
		for _, m := range p.Results {
			d.Results = append(d.Results, m.Name+" "+m.Value.String())
		}
		f.Documents = append(f.Documents, d)
	}
	return f, nil
}

// list makes an empty list of none, so that JSON has [] and not null.
func list[T any](s []T) []T {
	if s == nil {
		return []T{}
	}
	return s
}

func accountOf(a *trace.Account) Account {
	best, dry := a.Best()
	out := Account{Basis: "as-is", Sums: sumsOf(best), AsIs: sumsOf(a.AsIs), Undried: a.Undried, Unbanded: a.Unbanded, Whole: a.Whole, Estimated: a.Estimated}
	if dry {
		out.Basis = "dry"
	}
	if share, ok := best.Share(); ok {
		out.Share = &share
	}
	return out
}

func sumsOf(s trace.Sums) Sums {
	return Sums{Kg(s.Received), Kg(s.Joined), Kg(s.OnHand), Kg(s.HandedOver), Kg(s.ByProduct), Kg(s.Samples), Kg(s.Destroyed), Kg(s.Loss),
		Kg(s.Unbanded), Kg(s.Excess), Kg(s.Unexplained)}
}

func lotOf(t *trace.Trace, l *trace.Lot, lang string) Lot {
	out := Lot{Code: l.Code, Role: "downstream", Item: string(l.Item), Title: l.Title.In(lang), Stage: l.Stage, Status: l.Status, Begins: l.Begins,
		Share: l.Share, Estimated: l.Estimated, Entered: Kg(l.Entered), Used: Kg(l.Used), Standing: Kg(l.Standing), Adjusted: Kg(l.Adjusted), Dry: kgOf(l.Dry),
		Where: []Where{}, TheirLots: l.TheirLots, KilnDates: l.KilnDates, BestBy: l.BestBy, Bags: l.Bags, Held: l.Held, Samples: l.Samples}
	switch {
	case l.Subject():
		out.Role = "subject"
	case l.Down < 0:
		out.Role = "upstream"
	}
	if l.Up >= 0 {
		out.Up = &l.Up
	}
	if l.Down >= 0 {
		out.Down = &l.Down
	}
	for _, w := range l.Where {
		row := Where{Station: w.Place.Station, Holder: w.Place.Holder, Title: w.Title.In(lang), Mass: Kg(w.Mass)}
		switch {
		case w.Place.Holder != "":
			row.Station, row.Title = "", t.Partner(w.Place.Holder).Name
		case w.Place == lots.Samples:
			row.Title = wordsIn(lang)["retained samples"]
		}
		out.Where = append(out.Where, row)
	}
	for _, h := range l.Holds {
		out.Holds = append(out.Holds, Hold{h.From, open(h.To), h.Why, h.Rejected, h.Entry})
	}
	return out
}

func movementOf(m *trace.Movement) Movement {
	place := func(p lots.Place) string {
		if p.Holder != "" {
			return string(p.Holder)
		}
		return string(p.Station)
	}
	out := Movement{When: m.When, Kind: "handed-over", Lot: m.Lot, Mass: Kg(m.Mass), Estimated: m.Estimated, Bags: m.Bags, From: place(m.From), To: place(m.To), Use: m.Use,
		Status: m.Status, TheirLot: m.TheirLot, Packaging: m.Packaging, Carrier: m.Carrier, Vehicle: m.Vehicle, Papers: m.Papers, Signed: m.Signed,
		Forward: m.Forward, Entry: m.Entry}
	switch {
	case m.Inward:
		out.Kind = "received"
	case m.Onward:
		out.Kind = "onward"
	}
	for _, a := range m.Accepted {
		out.Accepted = append(out.Accepted, Acceptance{a.By, a.At, kgOf(a.Mass), a.Drawn, a.Entry})
	}
	return out
}

func (f *Form) partners(t *trace.Trace) {
	f.Consigned, f.Partners = []Consignee{}, []Partner{}
	for _, c := range t.Consignees {
		f.Consigned = append(f.Consigned, Consignee{c.Partner, t.Partner(c.Partner).Name, c.Direct, Kg(c.Sent), Kg(c.Onward), Kg(c.Standing), c.Estimated, c.Lots, c.First, c.Last, c.Confirmed})
	}
	for _, p := range t.Partners {
		row := Partner{Code: p.Code, Name: p.Name, Address: p.Address, Roles: p.Roles, Contacts: []Contact{}}
		for _, c := range p.Contacts {
			row.Contacts = append(row.Contacts, Contact(c))
		}
		f.Partners = append(f.Partners, row)
	}
}

// partner is one by its code.
func (f *Form) partner(code string) Partner {
	for _, p := range f.Partners {
		if string(p.Code) == code {
			return p
		}
	}
	return Partner{Code: records.PartnerCode(code), Name: code}
}

// Index is where a lot is in Lots, or -1.
func (f *Form) Index(code records.LotCode) int {
	if i, ok := f.byLot[code]; ok {
		return i
	}
	return -1
}

// lot is one by its code; an empty one when it is not there.
func (f *Form) lot(code records.LotCode) Lot {
	if i, ok := f.byLot[code]; ok {
		return f.Lots[i]
	}
	return Lot{Code: code}
}

func touchOf(x *trace.Touch, lang string) Touch {
	out := Touch{Lot: x.Lot, Station: x.Station, Title: x.Title.In(lang), From: x.From, To: open(x.To), Purge: x.Purge, People: []Person{}, Entry: x.Began}
	clean := func(c *trace.Clean) *Clean {
		if c == nil {
			return nil
		}
		return &Clean{c.To, c.Title.In(lang), c.By, c.Entry}
	}
	out.Before, out.After = clean(x.Before), clean(x.After)
	for _, a := range x.Agents {
		out.Agents = append(out.Agents, Agent{a.Code, a.Title.In(lang), a.Lot, a.Strength, a.When, a.Entry})
	}
	for _, p := range x.People {
		out.People = append(out.People, Person(p))
	}
	return out
}

// join is texts as one, without those that are empty.
func join(sep string, texts ...string) string {
	var have []string
	for _, t := range texts {
		if t != "" {
			have = append(have, t)
		}
	}
	return strings.Join(have, sep)
}
