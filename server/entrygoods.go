package server

import (
	"strconv"
	"strings"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/plan"
	"grainward/server/pages"
)

// factRows words a fact row by row, by the plan of its day. What was not said has no row.
type factRows struct {
	*request
	plan *plan.Plan
	rows []pages.Row
}

func (x *factRows) add(key, value string) {
	if value != "" {
		x.rows = append(x.rows, pages.Row{Name: x.say(key), Value: value})
	}
}

func (x *factRows) lot(key string, code records.LotCode) {
	if code != "" {
		x.rows = append(x.rows, pages.Row{Name: x.say(key), Value: string(code), Href: lotHref(code)})
	}
}

func (x *factRows) lots(codes []records.LotCode) {
	for _, c := range codes {
		x.lot("row-lot", c)
	}
}

func (x *factRows) station(key string, code records.StationCode) {
	if code != "" {
		x.add(key, stationTitle(x.plan, code, x.lang))
	}
}

func (x *factRows) stations(key string, codes []records.StationCode) {
	var titles []string
	for _, c := range codes {
		titles = append(titles, stationTitle(x.plan, c, x.lang))
	}
	x.add(key, strings.Join(titles, ", "))
}

func (x *factRows) partner(key string, code records.PartnerCode) {
	if p := x.plan.Partner(code); p != nil {
		x.add(key, p.Name)
		return
	}
	x.add(key, string(code))
}

func (x *factRows) item(code records.ItemCode) {
	if it := x.plan.Item(code); it != nil {
		x.add("row-item", it.Title.In(x.lang))
		return
	}
	x.add("row-item", string(code))
}

func (x *factRows) instrument(key string, code records.InstrumentCode) {
	if in := x.plan.Instrument(code); in != nil {
		x.add(key, in.Title.In(x.lang))
		return
	}
	x.add(key, string(code))
}

func (x *factRows) yes(key string, said *bool) {
	switch {
	case said == nil:
	case *said:
		x.add(key, x.say("yes"))
	default:
		x.add(key, x.say("no"))
	}
}

func (x *factRows) mark(key string, said bool) {
	if said {
		x.add(key, x.say("yes"))
	}
}

func (x *factRows) count(key string, n int) {
	if n != 0 {
		x.add(key, strconv.Itoa(n))
	}
}

func (x *factRows) date(key string, d *calendar.Date) {
	if d != nil {
		x.add(key, d.String())
	}
}

func (x *factRows) mass(key string, m *records.Mass) {
	if m != nil {
		x.add(key, m.String())
	}
}

func (x *factRows) weight(w records.Weight) {
	if w.Mass.Unit == "" {
		return
	}
	text := w.Mass.String()
	if w.Moisture != nil {
		text += ", " + x.say("at-moisture", w.Moisture.String()+" %")
	}
	x.add("row-mass", text)
	x.instrument("row-scale", w.Scale)
	x.instrument("row-meter", w.Meter)
}

// status is an organic status in words; one of none of the statuses there are is shown as it is.
func (x *factRows) status(s records.Status) {
	if key, ok := map[records.Status]string{records.Organic100: "organic-status-organic-100", records.Organic: "organic-status-organic", records.MadeWith: "organic-status-made-with",
		records.Conventional: "organic-status-conventional"}[s]; ok {
		x.add("row-status", x.say(key))
		return
	}
	x.add("row-status", string(s))
}

func (x *factRows) vehicle(v *records.Vehicle) {
	x.partner("row-carrier", v.Carrier)
	x.add("row-vehicle", v.Number)
	x.yes("row-vehicle-clean", v.Clean)
	x.add("row-last-load", v.LastLoad)
	for _, seal := range v.Seals {
		papers, found := seal.Papers, seal.Found
		if papers == "" {
			papers = "–"
		}
		if found == "" {
			found = "–"
		}
		x.add("row-seal", x.say("seal-both", papers, found))
	}
}

// goods words a fact about goods; ok is false when it is none.
func (x *factRows) goods(f records.Fact) (ok bool) {
	switch f := f.(type) {
	case *records.Receipt:
		x.receipt(f)
	case *records.Move:
		x.lot("row-lot", f.Lot)
		x.station("row-from-station", f.From)
		x.station("row-to-station", f.To)
		x.stations("row-via", f.Via)
		x.weight(f.Weight)
		x.mark("row-last", f.Last)
		x.add("row-note", f.Note)
	case *records.Process:
		x.add("row-process", f.Process)
		x.station("row-station", f.Station)
		if f.Started != 0 {
			x.add("row-started", x.exactly(f.Started))
		}
		for i := range f.Inputs {
			in := &f.Inputs[i]
			x.part("part-in", i, len(f.Inputs))
			x.lot("row-lot", in.Lot)
			x.station("row-from-station", in.From)
			x.weight(in.Weight)
			x.mark("row-last", in.Last)
		}
		for i := range f.Outputs {
			x.part("part-out", i, len(f.Outputs))
			x.output(&f.Outputs[i])
		}
		x.stations("row-via", f.Via)
		x.add("row-note", f.Note)
	case *records.Handover:
		x.handover(f)
	case *records.Count:
		x.station("row-station", f.Station)
		if len(f.Found) == 0 {
			x.add("row-found", x.say("found-nothing"))
		}
		for i := range f.Found {
			x.part("part-found", i, len(f.Found))
			x.lot("row-lot", f.Found[i].Lot)
			x.weight(f.Found[i].Weight)
		}
		x.add("row-note", f.Note)
	case *records.Hold:
		x.lots(f.Lots)
		x.add("row-reason", f.Why)
	case *records.Release:
		x.lots(f.Lots)
		key := "released-free"
		if f.Rejected {
			key = "released-rejected"
		}
		x.add("row-outcome", x.say(key))
		x.add("row-reason", f.Why)
	case *records.Purge:
		x.stations("row-run-through", f.Stations)
		x.lot("row-lot", f.Lot)
		x.station("row-from-station", f.From)
		x.weight(f.Weight)
		x.mark("row-last", f.Last)
		x.part("part-became", 0, 1)
		x.output(&f.Became)
		x.add("row-note", f.Note)
	case *records.Result:
		x.lot("row-lot", f.Lot)
		for _, v := range f.Values {
			x.rows = append(x.rows, pages.Row{Name: v.Name, Value: v.Value.String()})
		}
		x.add("row-method", f.Method)
		x.partner("row-laboratory", f.Laboratory)
		if f.Document != "" {
			x.rows = append(x.rows, pages.Row{Name: x.say("lab-report"), Value: string(f.Document), Href: documentHref(f.Document)})
		}
		x.add("row-note", f.Note)
	case *records.Sample:
		x.lot("row-lot", f.Lot)
		key := "sample-kept"
		if f.Act == "discarded" {
			key = "sample-discarded"
		}
		x.add("row-act", x.say(key))
		x.count("row-number-of", f.Number)
		x.station("row-from-station", f.From)
		x.mass("row-mass", f.Mass)
		x.add("row-where", f.Where)
		x.add("row-note", f.Note)
	case *records.Drill:
		x.drill(f)
	default:
		return false
	}
	return true
}

// part is a heading among rows, numbered when there are several.
func (x *factRows) part(key string, i, n int) {
	value := ""
	if n > 1 {
		value = strconv.Itoa(i + 1)
	}
	x.rows = append(x.rows, pages.Row{Name: x.say(key), Value: value, Part: true})
}

func (x *factRows) receipt(f *records.Receipt) {
	x.lot("row-lot", f.Lot)
	x.item(f.Item)
	x.add("row-variety", f.Variety)
	x.status(f.Status)
	x.weight(f.Weight)
	x.mass("row-theirs", f.Theirs)
	x.partner("row-source", f.Source)
	x.add("row-their-lot", f.TheirLot)
	x.station("row-to-station", f.To)
	x.stations("row-via", f.Via)
	x.add("row-packaging", f.Packaging)
	x.partner("row-last-certified", f.LastCertified)
	if f.Certificate != "" {
		x.rows = append(x.rows, pages.Row{Name: x.say("row-certificate"), Value: string(f.Certificate), Href: documentHref(f.Certificate)})
	}
	x.date("row-looked-up", f.LookedUp)
	x.vehicle(&f.Vehicle)
	x.add("row-papers", strings.Join(f.Papers, ", "))
	x.add("row-released-by", f.ReleasedBy)
	x.add("row-note", f.Note)
}

func (x *factRows) output(o *records.Output) {
	x.lot("row-lot", o.Lot)
	x.item(o.Item)
	x.status(o.Status)
	x.weight(o.Weight)
	x.station("row-to-station", o.To)
	x.count("row-bags", o.Bags)
	x.mass("row-bag-net", o.BagNet)
	x.date("row-kiln-date", o.KilnDate)
	x.date("row-best-by", o.BestBy)
	x.add("row-container", o.Container)
	x.add("row-disposal", o.Disposal)
}

var uses = map[records.Use]string{records.Sale: "use-sale", records.Storage: "use-storage", records.Feed: "use-feed", records.Compost: "use-compost", records.Landfill: "use-landfill",
	records.ForTest: "use-sample", records.Return: "use-return"}

func (x *factRows) handover(f *records.Handover) {
	if pos, ok := x.view.State.Find(f.Confirms); ok && !f.Confirms.IsZero() {
		x.rows = append(x.rows, pages.Row{Name: x.say("row-confirms"), Value: x.say("position", positionText(pos)), Href: entryHref(pos)})
	}
	x.lot("row-lot", f.Lot)
	x.station("row-from-station", f.From)
	x.partner("row-from-holder", f.FromHolder)
	x.partner("row-to-partner", f.To)
	if key, ok := uses[f.Use]; ok {
		x.add("row-use", x.say(key))
	}
	x.weight(f.Weight)
	x.count("row-bags", f.Bags)
	x.mark("row-last", f.Last)
	x.stations("row-via", f.Via)
	if f.Status != "" {
		x.status(f.Status)
	}
	x.add("row-label", f.Label)
	x.add("row-packaging", f.Packaging)
	x.add("row-container", f.Container)
	x.yes("row-checked", f.Checked)
	x.vehicle(&f.Vehicle)
	x.add("row-papers", strings.Join(f.Papers, ", "))
	if a := f.Received; a != nil {
		x.add("row-received-by", a.By)
		if a.At != 0 {
			x.add("row-received-at", x.exactly(a.At))
		}
		x.mass("row-theirs", a.Mass)
		if a.Signature != "" {
			x.rows = append(x.rows, pages.Row{Name: x.say("g-signature"), Value: x.say("g-signature-of", a.By), Href: "/photo/" + a.Signature, Picture: true})
		}
	}
	x.add("row-note", f.Note)
}

func (x *factRows) drill(f *records.Drill) {
	x.add("row-drill", f.Drill)
	if key, ok := map[string]string{"start": "drill-start", "contact": "drill-contact", "finish": "drill-finish"}[f.Step]; ok {
		x.add("row-step", x.say(key))
	}
	x.add("row-subject", f.Subject)
	x.add("row-reason", f.Why)
	if f.Lead != "" {
		x.add("row-leads", personName(x.plan, f.Lead))
	}
	x.add("row-level", f.Level)
	x.partner("row-called", f.Partner)
	x.add("row-how", f.Method)
	if f.Step == "contact" {
		x.yes("row-reached", &f.Reached)
	}
	x.add("row-spoke", f.Spoke)
	x.mass("row-they-hold", f.Holds)
	for _, v := range f.Figures {
		x.rows = append(x.rows, pages.Row{Name: v.Name, Value: v.Value.String()})
	}
	x.add("row-lessons", f.Lessons)
	x.add("row-note", f.Note)
}
