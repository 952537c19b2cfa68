package server

import (
	"fmt"
	"strings"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/plan"
	"grainward/records/state"
	"grainward/server/pages"
)

// goodsRows words an entry about goods; nil when it is about something else.
func (r *request) goodsRows(rec *state.Record) []pages.Row {
	w := &goodsWords{r: r, p: r.planAt(rec.Happened)}
	switch f := rec.Fact.(type) {
	case *records.Receipt:
		w.receipt(f)
	case *records.Move:
		w.add("g-lot", string(f.Lot))
		w.station("g-from", f.From)
		w.station("g-to", f.To)
		w.via(f.Via)
		w.weight(f.Weight, f.Last)
		w.add("row-note", f.Note)
	case *records.Process:
		w.process(f)
	case *records.Handover:
		w.handover(f)
	case *records.Count:
		w.station("row-station", f.Station)
		if len(f.Found) == 0 {
			w.add("g-found", r.say("g-nothing"))
		}
		for _, x := range f.Found {
			w.add("g-found", strings.TrimSpace(string(x.Lot)+" "+w.weightText(x.Weight)))
		}
		w.add("row-note", f.Note)
	case *records.Hold:
		w.add("row-lots", joined(f.Lots))
		w.add("row-reason", f.Why)
	case *records.Release:
		w.add("row-lots", joined(f.Lots))
		if f.Rejected {
			w.add("g-decided", r.say("g-rejected"))
		} else {
			w.add("g-decided", r.say("g-freed"))
		}
		w.add("row-reason", f.Why)
	case *records.Purge:
		for _, s := range f.Stations {
			w.station("g-purged", s)
		}
		w.add("g-lot", string(f.Lot))
		w.station("g-from", f.From)
		w.weight(f.Weight, f.Last)
		w.output(&f.Became)
		w.add("row-note", f.Note)
	case *records.Sample:
		w.add("g-lot", string(f.Lot))
		w.add("g-samples", r.say(sampleKeys[f.Act], f.Number))
		w.station("g-from", f.From)
		if f.Mass != nil {
			w.add("g-mass", f.Mass.String())
		}
		w.add("g-where", f.Where)
		w.add("row-note", f.Note)
	default:
		return nil
	}
	return w.rows
}

var (
	statusKeys = map[records.Status]string{records.Organic100: "g-organic-100", records.Organic: "g-organic", records.MadeWith: "g-made-with", records.Conventional: "g-conventional"}
	useKeys    = map[records.Use]string{records.Sale: "g-use-sale", records.Storage: "g-use-storage", records.Feed: "g-use-feed", records.Compost: "g-use-compost",
		records.Landfill: "g-use-landfill", records.ForTest: "g-use-sample", records.Return: "g-use-return"}
	sampleKeys = map[string]string{"kept": "g-samples-kept", "discarded": "g-samples-discarded"}
)

// goodsWords gathers the rows of one entry.
type goodsWords struct {
	r    *request
	p    *plan.Plan
	rows []pages.Row
}

func (w *goodsWords) add(key, value string) {
	if value != "" {
		w.rows = append(w.rows, pages.Row{Name: w.r.say(key), Value: value})
	}
}

func (w *goodsWords) station(key string, s records.StationCode) {
	if s != "" {
		w.add(key, stationTitle(w.p, s, w.r.lang))
	}
}

func (w *goodsWords) via(list []records.StationCode) {
	var names []string
	for _, s := range list {
		names = append(names, stationTitle(w.p, s, w.r.lang))
	}
	w.add("g-via", strings.Join(names, ", "))
}

func (w *goodsWords) partner(key string, c records.PartnerCode) {
	if x := w.p.Partner(c); x != nil {
		w.add(key, x.Name)
		return
	}
	w.add(key, string(c))
}

func (w *goodsWords) weight(x records.Weight, last bool) {
	w.add("g-mass", w.weightText(x))
	if last {
		w.add("g-left", w.r.say("g-nothing"))
	}
}

// weightText is a weight as written, with what measured it.
func (w *goodsWords) weightText(x records.Weight) string {
	if x.Mass.Unit == "" {
		return ""
	}
	text := x.Mass.String()
	if x.Moisture != nil {
		text += ", " + w.r.say("g-moisture", x.Moisture.String())
	}
	for _, c := range []records.InstrumentCode{x.Scale, x.Meter} {
		if c == "" {
			continue
		}
		name := string(c)
		if i := w.p.Instrument(c); i != nil {
			name = i.Title.In(w.r.lang)
		}
		text += " (" + name + ")"
	}
	return text
}

func (w *goodsWords) itemText(c records.ItemCode, s records.Status) string {
	name := string(c)
	if i := w.p.Item(c); i != nil {
		name = i.Title.In(w.r.lang)
	}
	if s == "" {
		return name
	}
	return name + ", " + w.r.say(statusKeys[s])
}

func (w *goodsWords) receipt(f *records.Receipt) {
	w.add("g-lot", string(f.Lot))
	w.add("g-item", strings.TrimSuffix(w.itemText(f.Item, f.Status)+", "+f.Variety, ", "))
	w.partner("g-source", f.Source)
	w.add("g-their-lot", f.TheirLot)
	w.weight(f.Weight, false)
	if f.Theirs != nil {
		w.add("g-theirs", f.Theirs.String())
	}
	w.station("g-to", f.To)
	w.via(f.Via)
	w.add("g-packaging", f.Packaging)
	w.add("g-certificate", documentTitle(w.p, f.Certificate))
	w.date("g-looked-up", f.LookedUp)
	w.partner("g-last-certified", f.LastCertified)
	w.vehicle(f.Vehicle)
	w.add("g-papers", strings.Join(f.Papers, "; "))
	w.add("g-released-by", f.ReleasedBy)
	w.add("row-note", f.Note)
}

func documentTitle(p *plan.Plan, c records.DocumentCode) string {
	if d := p.Document(c); d != nil {
		return d.Title
	}
	return string(c)
}

func (w *goodsWords) date(key string, d *calendar.Date) {
	if d != nil {
		w.add(key, d.String())
	}
}

func (w *goodsWords) vehicle(v records.Vehicle) {
	w.partner("g-carrier", v.Carrier)
	w.add("g-vehicle", v.Number)
	w.yesNo("g-clean", v.Clean)
	w.add("g-last-load", v.LastLoad)
	for _, s := range v.Seals {
		w.add("g-seal", w.r.say("g-seal-pair", orDash(s.Papers), orDash(s.Found)))
	}
}

func (w *goodsWords) yesNo(key string, yes *bool) {
	switch {
	case yes == nil:
	case *yes:
		w.add(key, w.r.say("yes"))
	default:
		w.add(key, w.r.say("no"))
	}
}

func orDash(s string) string {
	if s == "" {
		return "–"
	}
	return s
}

func (w *goodsWords) process(f *records.Process) {
	w.add("g-process", f.Process)
	w.station("row-station", f.Station)
	if f.Started != 0 {
		w.add("g-started", w.r.exactly(f.Started))
	}
	for i := range f.Inputs {
		in := &f.Inputs[i]
		text := strings.TrimSpace(string(in.Lot) + " " + w.weightText(in.Weight))
		if in.Last {
			text += "; " + w.r.say("g-last")
		}
		w.add("g-input", fmt.Sprintf("%s (%s)", text, stationTitle(w.p, in.From, w.r.lang)))
	}
	for i := range f.Outputs {
		w.output(&f.Outputs[i])
	}
	w.via(f.Via)
	w.add("row-note", f.Note)
}

func (w *goodsWords) output(o *records.Output) {
	w.add("g-output", fmt.Sprintf("%s: %s; %s (%s)", o.Lot, w.itemText(o.Item, o.Status), w.weightText(o.Weight), stationTitle(w.p, o.To, w.r.lang)))
	if o.Bags > 0 {
		text := fmt.Sprint(o.Bags)
		if o.BagNet != nil {
			text += " × " + o.BagNet.String()
		}
		w.add("g-bags", text)
	}
	w.date("g-kiln-date", o.KilnDate)
	w.date("g-best-by", o.BestBy)
	w.add("g-container", o.Container)
	w.add("g-disposal", o.Disposal)
}

func (w *goodsWords) handover(f *records.Handover) {
	if !f.Confirms.IsZero() {
		if pos, ok := w.r.view.State.Find(f.Confirms); ok {
			w.rows = append(w.rows, pages.Row{Name: w.r.say("g-confirms"), Value: w.r.say("position", positionText(pos)), Href: entryHref(pos)})
		}
	}
	w.add("g-lot", string(f.Lot))
	if f.Status != "" {
		w.add("g-status", w.r.say(statusKeys[f.Status]))
	}
	w.station("g-from", f.From)
	w.partner("g-from", f.FromHolder)
	w.partner("g-to", f.To)
	if f.Use != "" {
		w.add("g-use", w.r.say(useKeys[f.Use]))
	}
	w.weight(f.Weight, f.Last)
	if f.Bags > 0 {
		w.add("g-bags", fmt.Sprint(f.Bags))
	}
	w.via(f.Via)
	w.add("g-label", f.Label)
	w.add("g-packaging", f.Packaging)
	w.add("g-container", f.Container)
	w.yesNo("g-checked", f.Checked)
	w.vehicle(f.Vehicle)
	w.add("g-papers", strings.Join(f.Papers, "; "))
	w.acceptance(f.Received)
	w.add("row-note", f.Note)
}

// acceptance is the other party's signature: a name always, and the drawing where there is one.
func (w *goodsWords) acceptance(a *records.Acceptance) {
	if a == nil {
		return
	}
	text := a.By
	if a.At != 0 {
		text += ", " + w.r.exactly(a.At)
	}
	w.add("g-received-by", text)
	if a.Mass != nil {
		w.add("g-theirs", a.Mass.String())
	}
	if a.Signature != "" {
		w.rows = append(w.rows, pages.Row{Name: w.r.say("g-signature"), Value: w.r.say("g-signature-of", a.By), Href: "/photo/" + a.Signature, Picture: true})
	}
}
