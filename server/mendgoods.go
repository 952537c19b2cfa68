package server

import (
	"strconv"

	"grainward/records"
	"grainward/server/pages"
)

// fact goes through a fact; ok is false for a kind that has no such form. Lots of a hold, what a release said, the lines of a process
// and the numbers of an entry that is confirmed stay: such an entry is withdrawn and written again.
func (m *mender) fact(f records.Fact) (ok bool) {
	long := func(name, label string, required bool, to *string) { mendText(m, name, label, textMost, required, to) }
	switch f := f.(type) {
	case *records.Deviation:
		long("what", "row-what", true, &f.What)
		long("action", "row-action", false, &f.Action)
	case *records.Answer:
		long("cause", "cause", true, &f.Cause)
		long("action", "answer-action", true, &f.Action)
		long("lots", "lots", true, &f.Lots)
		long("prevention", "prevention", true, &f.Prevention)
	case *records.Excuse:
		long("text", "excuse-why", true, &f.Reason)
	case *records.Review:
		long("note", "row-note", false, &f.Note)
	case *records.Hold:
		long("why", "stop-why", true, &f.Why)
	case *records.Release:
		long("why", "stop-why", true, &f.Why)
	case *records.Document:
		mendText(m, "title", "paper-title", 200, true, &f.Title)
		mendText(m, "type", "paper-type", 60, true, &f.Type)
		mendText(m, "issuer", "row-issuer", 200, false, &f.Issuer)
		mendText(m, "number", "row-number", 100, false, &f.Number)
		long("note", "row-note", false, &f.Note)
		m.date("from", "paper-first", &f.From)
		m.date("to", "paper-last", &f.To)
	case *records.Receipt:
		m.receipt(f)
	case *records.Move:
		m.lot("lot", "row-lot", false, &f.Lot)
		m.station("from", "row-from-station", true, &f.From)
		m.station("to", "row-to-station", true, &f.To)
		m.through("via", "row-via", &f.Via)
		m.weight(&f.Weight)
		m.yes("last", "row-last", &f.Last)
		long("note", "row-note", false, &f.Note)
	case *records.Process:
		mendText(m, "process", "row-process", 60, true, &f.Process)
		m.station("station", "row-station", true, &f.Station)
		m.moment("started", "row-started", &f.Started)
		for i := range f.Inputs {
			in := &f.Inputs[i]
			m.of("part-in", "in", i, len(f.Inputs), func() {
				m.lot("lot", "row-lot", false, &in.Lot)
				m.station("from", "row-from-station", true, &in.From)
				m.weight(&in.Weight)
				m.yes("last", "row-last", &in.Last)
			})
		}
		for i := range f.Outputs {
			m.of("part-out", "out", i, len(f.Outputs), func() { m.output(&f.Outputs[i]) })
		}
		m.through("via", "row-via", &f.Via)
		long("note", "row-note", false, &f.Note)
	case *records.Handover:
		m.handover(f)
	case *records.Count:
		m.station("station", "row-station", true, &f.Station)
		for i := range f.Found {
			m.of("part-found", "found", i, len(f.Found), func() {
				m.lot("lot", "row-lot", false, &f.Found[i].Lot)
				m.weight(&f.Found[i].Weight)
			})
		}
		long("note", "row-note", false, &f.Note)
	case *records.Purge:
		m.through("stations", "row-run-through", &f.Stations)
		m.lot("lot", "row-lot", false, &f.Lot)
		m.station("from", "row-from-station", true, &f.From)
		m.weight(&f.Weight)
		m.yes("last", "row-last", &f.Last)
		m.of("part-became", "became", 0, 1, func() { m.output(&f.Became) })
		long("note", "row-note", false, &f.Note)
	case *records.Result:
		m.result(f)
	case *records.Sample:
		m.lot("lot", "row-lot", true, &f.Lot)
		mendCode(m, "act", "row-act", []pages.Option{{Value: "kept", Title: m.say("sample-kept")}, {Value: "discarded", Title: m.say("sample-discarded")}}, true, &f.Act)
		m.count("number", "row-number-of", &f.Number)
		m.station("from", "row-from-station", false, &f.From)
		m.mass("mass", "row-mass", false, &f.Mass)
		mendText(m, "where", "row-where", 100, false, &f.Where)
		long("note", "row-note", false, &f.Note)
	default:
		return false
	}
	return true
}

func (m *mender) receipt(f *records.Receipt) {
	m.lot("lot", "row-lot", true, &f.Lot)
	m.item(&f.Item)
	mendText(m, "variety", "row-variety", 100, false, &f.Variety)
	m.status(true, &f.Status)
	m.weight(&f.Weight)
	m.mass("theirs", "row-theirs", false, &f.Theirs)
	m.partner("source", "row-source", true, &f.Source)
	mendText(m, "their-lot", "row-their-lot", 60, false, &f.TheirLot)
	m.station("to", "row-to-station", true, &f.To)
	m.through("via", "row-via", &f.Via)
	mendText(m, "packaging", "row-packaging", 100, false, &f.Packaging)
	m.partner("last-certified", "row-last-certified", false, &f.LastCertified)
	mendText(m, "certificate", "row-certificate", 60, false, &f.Certificate)
	m.date("looked-up", "row-looked-up", &f.LookedUp)
	m.vehicle(&f.Vehicle)
	m.lines("papers", "row-papers", &f.Papers)
	mendText(m, "released-by", "row-released-by", 100, false, &f.ReleasedBy)
	mendText(m, "note", "row-note", textMost, false, &f.Note)
}

func (m *mender) vehicle(v *records.Vehicle) {
	m.partner("carrier", "row-carrier", false, &v.Carrier)
	mendText(m, "vehicle", "row-vehicle", 60, false, &v.Number)
	m.maybe("clean", "row-vehicle-clean", false, &v.Clean)
	mendText(m, "last-load", "row-last-load", 200, false, &v.LastLoad)
	for i := range v.Seals {
		s := &v.Seals[i]
		m.of("row-seal", "seal", i, len(v.Seals), func() {
			mendText(m, "papers", "seal-on-papers", 60, false, &s.Papers)
			mendText(m, "found", "seal-as-found", 60, false, &s.Found)
		})
	}
}

func (m *mender) output(o *records.Output) {
	m.lot("lot", "row-lot", true, &o.Lot)
	m.item(&o.Item)
	m.status(true, &o.Status)
	m.weight(&o.Weight)
	m.station("to", "row-to-station", true, &o.To)
	m.count("bags", "row-bags", &o.Bags)
	m.mass("bag-net", "row-bag-net", false, &o.BagNet)
	m.date("kiln-date", "row-kiln-date", &o.KilnDate)
	m.date("best-by", "row-best-by", &o.BestBy)
	mendText(m, "container", "row-container", 60, false, &o.Container)
	mendText(m, "disposal", "row-disposal", 200, false, &o.Disposal)
}

func (m *mender) handover(f *records.Handover) {
	m.lot("lot", "row-lot", false, &f.Lot)
	m.station("from", "row-from-station", false, &f.From)
	m.partner("from-holder", "row-from-holder", false, &f.FromHolder)
	m.partner("to", "row-to-partner", true, &f.To)
	var all []pages.Option
	for _, u := range []records.Use{records.Sale, records.Storage, records.Feed, records.Compost, records.Landfill, records.ForTest, records.Return} {
		all = append(all, pages.Option{Value: string(u), Title: m.say(uses[u])})
	}
	mendCode(m, "use", "row-use", all, false, &f.Use)
	m.weight(&f.Weight)
	m.count("bags", "row-bags", &f.Bags)
	m.yes("last", "row-last", &f.Last)
	m.through("via", "row-via", &f.Via)
	m.status(false, &f.Status)
	mendText(m, "label", "row-label", 200, false, &f.Label)
	mendText(m, "packaging", "row-packaging", 100, false, &f.Packaging)
	mendText(m, "container", "row-container", 60, false, &f.Container)
	m.maybe("checked", "row-checked", false, &f.Checked)
	m.vehicle(&f.Vehicle)
	m.lines("papers", "row-papers", &f.Papers)
	if a := f.Received; a != nil {
		mendText(m, "received-by", "row-received-by", 100, true, &a.By)
		m.moment("received-at", "row-received-at", &a.At)
		m.mass("theirs", "row-theirs", false, &a.Mass)
	}
	mendText(m, "note", "row-note", textMost, false, &f.Note)
}

func (m *mender) result(f *records.Result) {
	m.lot("lot", "row-lot", true, &f.Lot)
	for i := range f.Values {
		v := &f.Values[i]
		name := "value" + strconv.Itoa(i)
		have := &v.Value.Value
		if m.sheet == nil {
			m.show(pages.FormField{Type: "number", Name: name, Label: v.Name, Unit: v.Value.Unit}, have.String())
			continue
		}
		if m.number(name, v.Name, v.Value.Unit, &have); have == nil {
			m.fault(name, "answer-missing", v.Name)
			continue
		}
		v.Value.Value = *have
	}
	mendText(m, "method", "method", 200, false, &f.Method)
	m.partner("laboratory", "row-laboratory", false, &f.Laboratory)
	mendText(m, "document", "lab-report", 60, false, &f.Document)
	mendText(m, "note", "row-note", textMost, false, &f.Note)
}
