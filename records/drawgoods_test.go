package records

import (
	"crypto/sha256"
	"encoding/hex"

	"pgregory.net/rapid"

	"grainward/records/calendar"
)

// mass is any mass that can be weighed: a unit, and no more decimals than make whole micrograms of it.
func (d drawer) mass() Mass {
	decimals := map[string]int{"kg": 9, "g": 6, "t": 12, "lb": 1, "cwt": 3, "ton": 4}
	unit := rapid.SampledFrom([]string{"kg", "g", "t", "lb", "cwt", "ton"}).Draw(d.t, "unit")
	return Mass{NewDecimal(rapid.Int64Range(0, 9_999).Draw(d.t, "mass"), rapid.IntRange(0, decimals[unit]).Draw(d.t, "decimals")), unit}
}

func (d drawer) maybeMass() *Mass {
	if !d.maybe() {
		return nil
	}
	m := d.mass()
	return &m
}

func (d drawer) weight() Weight {
	w := Weight{Mass: d.mass(), Scale: InstrumentCode(d.maybeCode()), Meter: InstrumentCode(d.maybeCode())}
	if d.maybe() {
		m := NewDecimal(rapid.Int64Range(0, 1000).Draw(d.t, "moisture"), 1)
		w.Moisture = &m
	}
	return w
}

func (d drawer) lot() LotCode {
	return LotCode(rapid.StringMatching(`[A-Z0-9][A-Za-z0-9./_-]{0,19}`).Draw(d.t, "lot"))
}

func (d drawer) maybeLot() LotCode {
	if d.maybe() {
		return d.lot()
	}
	return ""
}

// distinctLots is at least one lot, each once.
func (d drawer) distinctLots() []LotCode {
	lot := rapid.Map(rapid.StringMatching(`[A-Z0-9]{1,20}`), func(s string) LotCode { return LotCode(s) })
	return rapid.SliceOfNDistinct(lot, 1, 4, rapid.ID[LotCode]).Draw(d.t, "lots")
}

func (d drawer) yes() *bool {
	if !d.maybe() {
		return nil
	}
	yes := d.maybe()
	return &yes
}

func (d drawer) stations() []StationCode {
	return several(d, func() StationCode { return StationCode(d.code()) })
}

func (d drawer) papers() []string { return several(d, func() string { return d.text(0) }) }

func (d drawer) status() Status {
	return rapid.SampledFrom([]Status{Organic100, Organic, MadeWith, Conventional}).Draw(d.t, "status")
}

func (d drawer) vehicle() Vehicle {
	if !d.maybe() {
		return Vehicle{}
	}
	return Vehicle{Carrier: PartnerCode(d.maybeCode()), Number: d.text(0), Clean: d.yes(), LastLoad: d.text(0),
		Seals: several(d, func() Seal { return Seal{Papers: d.text(1), Found: d.text(0)} })}
}

func (d drawer) output() Output {
	return Output{Lot: d.lot(), Item: ItemCode(d.code()), Status: d.status(), To: StationCode(d.code()), Weight: d.weight(), Bags: d.bags(), BagNet: d.maybeMass(),
		KilnDate: d.date(), BestBy: d.date(), Container: d.text(0), Disposal: d.text(0)}
}

func (d drawer) bags() int { return rapid.IntRange(0, 100_000).Draw(d.t, "bags") }

// measured is at least min named values, each name once.
func (d drawer) measured(min int) (out []Measured) {
	for _, name := range rapid.SliceOfNDistinct(rapid.StringN(1, 20, -1), min, 4, rapid.ID[string]).Draw(d.t, "names") {
		out = append(out, Measured{Name: name, Value: *d.quantity()})
	}
	return out
}

func (d drawer) otherThan(code string) string {
	other := d.code()
	if other == code {
		return "not-" + code
	}
	return other
}

func (d drawer) handover() *Handover {
	h := &Handover{Lot: d.maybeLot(), To: PartnerCode(d.code()), Bags: d.bags(), Last: d.maybe(), Via: d.stations(), Label: d.text(0), Packaging: d.text(0),
		Container: d.text(0), Checked: d.yes(), Vehicle: d.vehicle(), Papers: d.papers(), Note: d.text(0)}
	if d.maybe() {
		h.Status = d.status()
	}
	if d.maybe() {
		h.Received = &Acceptance{By: d.text(1), Mass: d.maybeMass()}
		if d.maybe() {
			sum := sha256.Sum256([]byte(d.text(0)))
			h.Received.Signature = hex.EncodeToString(sum[:])
		}
		if d.maybe() {
			h.Received.At = d.instant()
		}
	}
	switch rapid.IntRange(0, 2).Draw(d.t, "handover") {
	case 0:
		h.From = StationCode(d.code())
	case 1:
		h.FromHolder, h.Lot = PartnerCode(d.otherThan(string(h.To))), d.lot()
	case 2:
		h.Confirms = d.id()
		if h.Received == nil {
			h.Received = &Acceptance{By: d.text(1)}
		}
	}
	if h.Confirms.IsZero() || d.maybe() {
		h.Weight, h.Use = d.weight(), rapid.SampledFrom([]Use{Sale, Storage, Feed, Compost, Landfill, ForTest, Return}).Draw(d.t, "use")
	}
	return h
}

// goods draws a fact about goods, or nil.
func (d drawer) goods(k Kind) Fact {
	switch k {
	case KindReceipt:
		return &Receipt{Lot: d.lot(), Item: ItemCode(d.code()), Status: d.status(), Weight: d.weight(), Theirs: d.maybeMass(), To: StationCode(d.code()), Via: d.stations(),
			Source: PartnerCode(d.code()), TheirLot: d.text(0), Variety: d.text(0), Packaging: d.text(0), LastCertified: PartnerCode(d.maybeCode()),
			Certificate: DocumentCode(d.maybeCode()), LookedUp: d.date(), Vehicle: d.vehicle(), Papers: d.papers(), ReleasedBy: d.text(0), Note: d.text(0)}
	case KindMove:
		from := d.code()
		return &Move{Lot: d.maybeLot(), From: StationCode(from), To: StationCode(d.otherThan(from)), Via: d.stations(), Weight: d.weight(), Last: d.maybe(), Note: d.text(0)}
	case KindProcess:
		p := &Process{Process: d.text(1), Station: StationCode(d.code()), Via: d.stations(), Note: d.text(0), Outputs: append(several(d, d.output), d.output())}
		in := func() Input {
			return Input{Lot: d.maybeLot(), From: StationCode(d.code()), Weight: d.weight(), Last: d.maybe()}
		}
		if p.Inputs = append(several(d, in), in()); d.maybe() {
			p.Started = d.instant()
		}
		return p
	case KindHandover:
		return d.handover()
	case KindCount:
		c := &Count{Station: StationCode(d.code()), Note: d.text(0)}
		if d.maybe() {
			c.Found = append(c.Found, Found{Weight: d.weight()}, Found{Weight: d.weight()})
		}
		if d.maybe() {
			for _, l := range d.distinctLots() {
				c.Found = append(c.Found, Found{Lot: l, Weight: d.weight()})
			}
		}
		return c
	case KindHold:
		return &Hold{Lots: d.distinctLots(), Why: d.text(1)}
	case KindRelease:
		return &Release{Lots: d.distinctLots(), Rejected: d.maybe(), Why: d.text(1)}
	case KindPurge:
		return &Purge{Stations: append(d.stations(), StationCode(d.code())), Lot: d.maybeLot(), From: StationCode(d.code()), Weight: d.weight(), Last: d.maybe(),
			Became: d.output(), Note: d.text(0)}
	case KindResult:
		return &Result{Lot: d.lot(), Method: d.text(0), Laboratory: PartnerCode(d.maybeCode()), Values: d.measured(1), Document: DocumentCode(d.maybeCode()), Note: d.text(0)}
	case KindSample:
		s := &Sample{Lot: d.lot(), Act: rapid.SampledFrom([]string{"kept", "discarded"}).Draw(d.t, "act"), Number: rapid.IntRange(1, 1000).Draw(d.t, "number"),
			Where: d.text(0), Note: d.text(0)}
		if s.Act == "kept" && d.maybe() {
			m := d.mass()
			s.From, s.Mass = StationCode(d.code()), &m
		}
		return s
	case KindDrill:
		f := &Drill{Drill: d.code(), Step: rapid.SampledFrom([]string{"start", "contact", "finish"}).Draw(d.t, "step"), Note: d.text(0)}
		switch f.Step {
		case "start":
			f.Subject, f.Why, f.Lead = d.text(1), d.text(1), PersonCode(d.code())
			f.Level = rapid.SampledFrom([]string{"", "A", "B", "C", "D", "E"}).Draw(d.t, "level")
		case "contact":
			f.Partner, f.Method, f.Reached, f.Spoke, f.Holds = PartnerCode(d.code()), d.text(0), d.maybe(), d.text(0), d.maybeMass()
		case "finish":
			f.Figures, f.Lessons = d.measured(0), d.text(1)
		}
		return f
	}
	return nil
}

// exampleGoods is the fact of one plausible entry about goods.
func exampleGoods(k Kind) Fact {
	yes, kilned := true, calendar.Date(20_500)
	kg := func(text string) Mass {
		m, err := ParseMass(text + " kg")
		if err != nil {
			panic(err)
		}
		return m
	}
	weight := func(mass, moisture string) Weight {
		m := mustDecimal(moisture)
		return Weight{Mass: kg(mass), Moisture: &m, Scale: "floor-scale"}
	}
	truck, found := kg("20010"), kg("1.5")
	switch k {
	case KindReceipt:
		return &Receipt{Lot: "R26-014", Item: "barley", Status: Organic, Weight: weight("20000", "12.5"), Theirs: &truck, To: "silo-1", Via: []StationCode{"pit", "conveyor-1"},
			Source: "north-farm", TheirLot: "NF-7", Certificate: "north-farm-organic", ReleasedBy: "A. Driver",
			Vehicle: Vehicle{Carrier: "haulier", Number: "TRK 12", Clean: &yes, LastLoad: "oats", Seals: []Seal{{Papers: "S-1", Found: "S-1"}}}, Papers: []string{"weigh ticket 81"}}
	case KindMove:
		return &Move{From: "silo-1", To: "steep-1", Via: []StationCode{"conveyor-1"}, Weight: weight("2000", "12.5")}
	case KindProcess:
		return &Process{Process: "kilning", Station: "kiln-1", Started: mustInstant("2026-03-07T07:30:00Z"), Inputs: []Input{{Lot: "G26-014", From: "floor-1", Weight: weight("2900", "44.0"), Last: true}},
			Outputs: []Output{{Lot: "M26-014", Item: "malt", Status: Organic, To: "store", Weight: weight("1600", "4.5"), Bags: 64, BagNet: &found, KilnDate: &kilned}}}
	case KindHandover:
		return &Handover{Lot: "M26-014", From: "store", To: "brewery-1", Use: Sale, Weight: weight("500", "4.5"), Status: Organic, Checked: &yes,
			Received: &Acceptance{By: "B. Clerk", At: mustInstant("2026-03-08T09:00:00Z"), Mass: &found}}
	case KindCount:
		return &Count{Station: "store", Found: []Found{{Lot: "M26-014", Weight: weight("1100", "4.5")}}}
	case KindHold:
		return &Hold{Lots: []LotCode{"M26-014", "M26-015"}, Why: "musty smell"}
	case KindRelease:
		return &Release{Lots: []LotCode{"M26-014"}, Why: "tested clean"}
	case KindPurge:
		return &Purge{Stations: []StationCode{"conveyor-1"}, Lot: "R26-014", From: "silo-1", Weight: weight("100", "12.5"),
			Became: Output{Lot: "P26-001", Item: "feed", Status: Conventional, To: "yard", Weight: weight("100", "12.5")}}
	case KindResult:
		return &Result{Lot: "M26-014", Method: "oven", Laboratory: "lab-1", Values: []Measured{{"moisture", Quantity{mustDecimal("4.5"), "%"}}}, Document: "lab-report-9"}
	case KindSample:
		return &Sample{Lot: "M26-014", Act: "kept", Number: 3, From: "store", Mass: &found, Where: "shelf 2"}
	case KindDrill:
		return &Drill{Drill: "spring-2026", Step: "start", Subject: "lot M26-014", Why: "yearly drill", Lead: "lead-1", Level: "A"}
	}
	return nil
}
