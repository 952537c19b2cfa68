package server

import (
	"slices"
	"strconv"
	"strings"

	"grainward/audit"
	"grainward/records"
	"grainward/records/plan"
	"grainward/server/pages"
)

const (
	listedMost = 24 // values of an item's certificate asked for
	freeValues = 3  // rows for what is measured besides
)

func (s *Server) resultForm(r *request) (reply, error) {
	if r.query.Get("lot") == "" {
		return page(s.resultChoose(r, nil))
	}
	if err := records.CheckLot(r.query.Get("lot")); err != nil {
		return again(s.resultChoose(r, []pages.Message{{Field: "lot", Text: r.say("lot-unreadable", r.query.Get("lot"))}}))
	}
	return page(s.resultPage(r, nil))
}

// resultChoose asks which lot was tested.
func (s *Server) resultChoose(r *request, ms []pages.Message) *pages.Form {
	f := s.form(r, "write-result", "result", "go-on")
	f.Get, f.To, f.Messages, f.Intro = true, "/result", ms, r.say("result-intro")
	f.Fields = []pages.FormField{r.line("lot", "which-lot", 20)}
	for _, l := range s.offered(s.report(), false, nil) {
		f.Others = append(f.Others, pages.Link{Title: string(l.Code) + ", " + r.itemTitle(l.Item), Href: addressed("/result", "lot", string(l.Code), "next", f.Next)})
	}
	return f
}

// resultPage asks for the values the plan has for the lot's item, and has room for others.
func (s *Server) resultPage(r *request, ms []pages.Message) *pages.Form {
	rep := s.report()
	code := records.LotCode(r.value("lot"))
	f := s.form(r, "write-result", "result", "sign-result")
	f.To, f.Messages = "/result", ms
	f.Hidden = []pages.Field{{Name: "lot", Value: string(code)}}
	about := pages.Notice{Text: string(code), Href: lotHref(code), Note: r.say("lot-no-record")}
	if l := rep.Goods.Find(code); l != nil {
		about.Note = r.itemTitle(l.Item) + " (" + strings.Join(r.standing(l), "; ") + ")"
	}
	f.About = []pages.Notice{about}
	for i, line := range s.resultLines(rep, code) {
		n := strconv.Itoa(i)
		f.Hidden = append(f.Hidden, pages.Field{Name: "n" + n, Value: line.Name}, pages.Field{Name: "u" + n, Value: line.Unit})
		f.Fields = append(f.Fields, pages.FormField{Type: "number", Name: "v" + n, Label: line.Name, Unit: line.Unit, Value: r.value("v" + n), Hint: r.band(line.Limits, line.Unit)})
	}
	for i := range freeValues {
		n := strconv.Itoa(i)
		f.Fields = append(f.Fields, pages.FormField{Type: "measure", Name: "free" + n, Label: r.say("another-value"), Parts: []pages.FormField{
			{Name: "fn" + n, Label: r.say("value-name"), Value: r.value("fn" + n), Max: 80},
			{Name: "fv" + n, Label: r.say("value-number"), Value: r.value("fv" + n), Max: 30},
			{Name: "fu" + n, Label: r.say("value-unit"), Value: r.value("fu" + n), Max: 20}}})
	}
	f.Fields = append(f.Fields, r.line("method", "method", 200), r.pick("laboratory", "laboratory", "own-bench", r.laboratories()), r.pick("document", "lab-report", "no-report", r.reports(rep)), r.area("note", "note"))
	return f
}

// resultLines are the values of a lot's certificate that the plan names.
func (s *Server) resultLines(rep *audit.Report, code records.LotCode) (out []audit.CertLine) {
	l := rep.Goods.Find(code)
	p := rep.State.PlanAt(rep.At)
	if l == nil || p == nil || p.Item(l.Item) == nil {
		return nil
	}
	for _, row := range p.Item(l.Item).Certificate {
		out = append(out, audit.CertLine{Name: row.Name, Unit: row.Unit, Limits: row.Limits})
	}
	return out[:min(len(out), listedMost)]
}

// band says a range of the plan in words.
func (r *request) band(b plan.Range, unit string) string {
	return r.limits(&plan.Ask{Type: "number", Unit: unit, Limits: b})
}

func (r *request) laboratories() (out []pages.Option) {
	for i := range r.plan.Partners {
		if p := &r.plan.Partners[i]; slices.Contains(p.Roles, "laboratory") {
			out = append(out, pages.Option{Value: string(p.Code), Title: p.Name})
		}
	}
	return out
}

// reports are documents a result can come from: what is on file, but for photos.
func (r *request) reports(rep *audit.Report) (out []pages.Option) {
	for _, p := range rep.Register() {
		if p.Document != nil && p.Document.Type != photoType {
			out = append(out, pages.Option{Value: string(p.Code), Title: p.Title + " (" + string(p.Code) + ")"})
		}
	}
	return out
}

func (s *Server) result(r *request) (reply, error) {
	x := r.sheet()
	fact := &records.Result{Lot: records.LotCode(r.form.Get("lot")), Method: x.text("method", 200, ""), Laboratory: records.PartnerCode(r.form.Get("laboratory")),
		Document: records.DocumentCode(r.form.Get("document")), Note: x.text("note", textMost, "")}
	add := func(field, name, value, unit string) {
		value = strings.TrimSpace(value)
		if value == "" {
			return
		}
		d, err := records.ParseDecimal(pointed(value))
		switch {
		case err != nil:
			x.fault(field, strings.TrimSpace(name)+": "+r.say("not-a-number", value))
		case strings.TrimSpace(name) == "":
			x.fault(field, r.say("value-name-missing", value))
		default:
			fact.Values = append(fact.Values, records.Measured{Name: strings.TrimSpace(name), Value: records.Quantity{Value: d, Unit: strings.TrimSpace(unit)}})
		}
	}
	for i := range listedMost {
		n := strconv.Itoa(i)
		add("v"+n, r.form.Get("n"+n), r.form.Get("v"+n), r.form.Get("u"+n))
	}
	for i := range freeValues {
		n := strconv.Itoa(i)
		add("free"+n, r.form.Get("fn"+n), r.form.Get("fv"+n), r.form.Get("fu"+n))
	}
	if len(fact.Values) == 0 && len(x.ms) == 0 {
		x.fault("", r.say("value-none"))
	}
	meaning := records.Performed
	if fact.Laboratory != "" {
		meaning = records.Received
	}
	at, ms, err := s.signEntry(r, r.entryOfForm(meaning, fact, 0), false, x.ms)
	if err != nil {
		return reply{}, err
	}
	if len(ms) > 0 {
		return again(s.resultPage(r, ms))
	}
	if l := s.report().Goods.Find(fact.Lot); l != nil && !l.HeldAt(r.now) && len(r.measuredOutside(s.report(), positionText(at))) > 0 {
		return redirect(addressed("/hold", "lot", string(fact.Lot), "after", positionText(at), "next", entryHref(at)))
	}
	return redirect(entryHref(at))
}

// measuredOutside is what a result at a position found outside the plan's limits.
func (r *request) measuredOutside(rep *audit.Report, at string) (out []pages.Notice) {
	n, err := strconv.ParseInt(at, 10, 64)
	if err != nil {
		return nil
	}
	rec := rep.State.Now(records.Position(n))
	if rec == nil {
		return nil
	}
	fact, is := rec.Fact.(*records.Result)
	if !is {
		return nil
	}
	for _, line := range audit.Certificate(nil, rep.Goods.Floor, rep.State, fact.Lot) {
		if line.Outside && line.Source != nil && line.Source.Position == rec.Position {
			out = append(out, pages.Notice{Text: r.say("is-outside", line.Name, records.Quantity{Value: *line.Value, Unit: line.Unit}.String(), r.band(line.Limits, line.Unit)), Href: entryHref(rec.Position), Mark: "failed"})
		}
	}
	return out
}
