package book

import (
	"fmt"

	"grainward/records"
)

// goods checks a fact about goods: stations, items, partners, instruments, documents and people must be known. Lots need
// not be: grain that nobody wrote down is there all the same, and what is written about it is taken in and judged later.
// It says whether the fact was one about goods.
func (c *check) goods(at string, f records.Fact) bool {
	switch f := f.(type) {
	case *records.Receipt:
		c.item(at+".item", f.Item)
		c.weight(at+".weight", f.Weight)
		c.station(at+".to", f.To)
		c.stations(at+".via", f.Via)
		c.partner(at+".source", f.Source)
		c.partner(at+".lastCertified", f.LastCertified)
		c.document(at+".certificate", f.Certificate)
		c.partner(at+".vehicle.carrier", f.Vehicle.Carrier)
	case *records.Move:
		c.station(at+".from", f.From)
		c.station(at+".to", f.To)
		c.stations(at+".via", f.Via)
		c.weight(at+".weight", f.Weight)
	case *records.Process:
		c.station(at+".station", f.Station)
		for i := range f.Inputs {
			in := fmt.Sprintf("%s.inputs[%d]", at, i)
			c.station(in+".from", f.Inputs[i].From)
			c.weight(in+".weight", f.Inputs[i].Weight)
		}
		for i := range f.Outputs {
			c.output(fmt.Sprintf("%s.outputs[%d]", at, i), &f.Outputs[i])
		}
		c.stations(at+".via", f.Via)
	case *records.Count:
		c.station(at+".station", f.Station)
		for i := range f.Found {
			c.weight(fmt.Sprintf("%s.found[%d].weight", at, i), f.Found[i].Weight)
		}
	case *records.Hold, *records.Release: // name only lots
	case *records.Purge:
		c.stations(at+".stations", f.Stations)
		c.station(at+".from", f.From)
		c.weight(at+".weight", f.Weight)
		c.output(at+".became", &f.Became)
	case *records.Result:
		c.partner(at+".laboratory", f.Laboratory)
		c.document(at+".document", f.Document)
	case *records.Sample:
		c.station(at+".from", f.From)
	case *records.Drill:
		c.person(at+".lead", f.Lead)
		c.partner(at+".partner", f.Partner)
	default:
		return false
	}
	return true
}

func (c *check) output(at string, o *records.Output) {
	c.item(at+".item", o.Item)
	c.station(at+".to", o.To)
	c.weight(at+".weight", o.Weight)
}

func (c *check) handover(at string, f *records.Handover) {
	c.station(at+".from", f.From)
	c.partner(at+".fromHolder", f.FromHolder)
	c.partner(at+".to", f.To)
	c.weight(at+".weight", f.Weight)
	c.stations(at+".via", f.Via)
	c.partner(at+".vehicle.carrier", f.Vehicle.Carrier)
	if f.Confirms.IsZero() {
		return
	}
	// A confirmation of the wrong thing would leave the handover open for ever and nobody would see why.
	at += ".confirms"
	e := c.entry(at, f.Confirms)
	switch {
	case e == nil:
	case f.Confirms == c.self:
		c.faults = append(c.faults, field(at, f.Confirms.String(), "another entry: a handover can not confirm itself; put the signature under `received`"))
	case e.Kind != records.KindHandover:
		c.faults = append(c.faults, field(at, f.Confirms.String(), "a handover; this is a "+string(e.Kind)))
	case !e.Fact.(*records.Handover).Confirms.IsZero():
		c.faults = append(c.faults, field(at, f.Confirms.String(), "the handover itself; this one only confirms "+e.Fact.(*records.Handover).Confirms.String()))
	}
}

func (c *check) weight(at string, w records.Weight) {
	c.instrument(at+".scale", w.Scale)
	c.instrument(at+".meter", w.Meter)
}

func (c *check) stations(at string, list []records.StationCode) {
	for i, s := range list {
		c.station(fmt.Sprintf("%s[%d]", at, i), s)
	}
}

func (c *check) station(at string, s records.StationCode) {
	c.known(at, string(s), "station", c.plan.Station(s) != nil, stations(c.plan))
}

func (c *check) item(at string, i records.ItemCode) {
	c.known(at, string(i), "item", c.plan.Item(i) != nil, items(c.plan))
}

func (c *check) partner(at string, x records.PartnerCode) {
	c.known(at, string(x), "partner", c.plan.Partner(x) != nil, partners(c.plan))
}

func (c *check) person(at string, x records.PersonCode) {
	c.known(at, string(x), "person", c.plan.Person(x) != nil, people(c.plan))
}

func (c *check) instrument(at string, x records.InstrumentCode) {
	c.known(at, string(x), "instrument", c.plan.Instrument(x) != nil, instruments(c.plan))
}

// document is known when the plan asks for it or it was ever put on file: a laboratory's report is in no plan.
func (c *check) document(at string, d records.DocumentCode) {
	if d == "" || c.plan.Document(d) != nil || c.onFile(d) {
		return
	}
	c.faults = append(c.faults, field(at, string(d), "the plan then in force has no such document, and none is on file: put it on file first; of the plan's, "+nearest(string(d), documents(c.plan)())))
}

func (c *check) onFile(code records.DocumentCode) bool {
	for _, r := range c.a.st.Kind(records.KindDocument).All() {
		if r.Fact.(*records.Document).Code == code {
			return true
		}
	}
	for i := range c.a.entries {
		if d, ok := c.a.entries[i].Fact.(*records.Document); ok && d.Code == code {
			return true
		}
	}
	return false
}
