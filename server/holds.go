package server

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"grainward/audit"
	"grainward/records"
	"grainward/records/lots"
	"grainward/records/state"
	"grainward/server/pages"
)

const (
	holdsMost   = 50 // lots on one page
	offeredMost = 24 // lots offered to be ticked
)

// holds shows which lots are held or rejected.
func (s *Server) holds(r *request) (reply, error) {
	rep := s.report()
	var stopped []*lots.Lot
	for _, l := range rep.Goods.Lots {
		if l.HeldAt(rep.At) {
			stopped = append(stopped, l)
		}
	}
	slices.SortStableFunc(stopped, func(a, b *lots.Lot) int {
		return cmp.Or(cmp.Compare(boolInt(a.Rejected != nil), boolInt(b.Rejected != nil)), cmp.Compare(stopSince(b).Happened, stopSince(a).Happened))
	})
	p := &pages.Holds{Frame: s.frame(r, r.say("holds"), "holds"), Pager: r.pager("/holds", len(stopped), holdsMost)}
	for _, l := range stopped[p.From-1 : p.To] {
		by := stopSince(l)
		row := pages.Held{Lot: string(l.Code), Href: lotHref(l.Code), Item: r.itemTitle(l.Item), Status: string(statusWord(l.Status)), Rejected: l.Rejected != nil,
			Since: r.moment(by.Happened), Who: personName(r.planAt(by.Happened), by.By), Entry: entryHref(by.Position), Where: r.standing(l)}
		switch fact := by.Fact.(type) {
		case *records.Hold:
			row.Why = fact.Why
		case *records.Release:
			row.Why = fact.Why
		}
		if r.role >= lead {
			row.Release = addressed("/release", "lot", string(l.Code), "next", "/holds")
		}
		p.Lots = append(p.Lots, row)
	}
	return page(p)
}

// stopSince is the entry by which a lot that is stopped was stopped.
func stopSince(l *lots.Lot) *state.Record {
	if l.Rejected != nil {
		return l.Rejected
	}
	for i := len(l.Holds) - 1; i >= 0; i-- {
		if l.Holds[i].Release == nil {
			return l.Holds[i].Hold
		}
	}
	return l.Holds[len(l.Holds)-1].Hold
}

// standing is where a lot is, with its masses in the plant's unit.
func (r *request) standing(l *lots.Lot) (out []string) {
	for place, m := range l.At.All() {
		name := stationTitle(r.plan, place.Station, r.lang)
		switch {
		case place.Holder != "":
			name = r.partnerName(place.Holder)
		case place == lots.Samples:
			name = r.say("retained-samples")
		}
		out = append(out, name+", "+r.plan.Mass(m))
	}
	slices.Sort(out)
	return out
}

func (r *request) itemTitle(c records.ItemCode) string {
	if it := r.plan.Item(c); it != nil {
		return it.Title.In(r.lang)
	}
	return string(c)
}

func (r *request) partnerName(c records.PartnerCode) string {
	if p := r.plan.Partner(c); p != nil {
		return p.Name
	}
	return string(c)
}

// statusWord is an organic status the pages have a word for.
func statusWord(s records.Status) records.Status {
	switch s {
	case records.Organic100, records.Organic, records.MadeWith:
		return s
	}
	return records.Conventional
}

func (s *Server) holdForm(r *request) (reply, error) { return page(s.stopPage(r, false, nil, false)) }

func (s *Server) releaseForm(r *request) (reply, error) { return page(s.stopPage(r, true, nil, false)) }

// stopPage is the form that holds lots, or releases or rejects them. unknown says that a lot was named which no record has.
func (s *Server) stopPage(r *request, release bool, ms []pages.Message, unknown bool) *pages.Form {
	rep := s.report()
	title, button := "hold-lots", "sign-hold"
	if release {
		title, button = "release-lots", "sign-release"
	}
	f := s.form(r, title, "holds", button)
	f.Messages, f.Again = ms, asksAgain(r.stopMeaning(release))
	chosen := r.chosenLots()
	f.About = r.measuredOutside(rep, r.query.Get("after"))
	offer := pages.FormField{Type: "checks", Name: "lot", Label: r.say("which-lots")}
	for _, l := range s.offered(rep, release, chosen) {
		offer.Options = append(offer.Options, pages.Option{Value: string(l.Code), Title: string(l.Code) + ", " + r.itemTitle(l.Item) + " (" + strings.Join(r.standing(l), "; ") + ")", Chosen: slices.Contains(chosen, string(l.Code))})
	}
	if len(offer.Options) > 0 {
		f.Fields = append(f.Fields, offer)
	}
	rest := slices.DeleteFunc(chosen, func(c string) bool {
		return slices.ContainsFunc(offer.Options, func(o pages.Option) bool { return o.Value == c })
	})
	f.Fields = append(f.Fields, r.hinted(pages.FormField{Type: "text", Name: "lots", Label: r.say("other-lots"), Value: strings.Join(rest, " "), Max: 1000}, "lots-hint"))
	if release {
		out := r.form.Get("outcome")
		f.Fields = append(f.Fields, pages.FormField{Type: "choice", Name: "outcome", Label: r.say("release-outcome"), Options: []pages.Option{
			{Value: "released", Title: r.say("released-free"), Chosen: out == "released"}, {Value: "rejected", Title: r.say("released-rejected"), Chosen: out == "rejected"}}})
	}
	why := r.area("why", "stop-why")
	if id := r.query.Get("finding"); id != "" && why.Value == "" {
		if finding, err := s.theFinding(id); err == nil {
			why.Value = finding.Sentence(r.lang)
		}
	}
	f.Fields = append(f.Fields, why)
	if unknown {
		f.Fields = append(f.Fields, pages.FormField{Type: "confirm", Name: "unknown", Label: r.say("unknown-all-the-same")})
	}
	return f
}

// chosenLots are the codes in the address or the form.
func (r *request) chosenLots() []string {
	if len(r.form) > 0 {
		return append(slices.Clone(r.form["lot"]), strings.Fields(r.form.Get("lots"))...)
	}
	return strings.Fields(strings.Join(r.query["lot"], " "))
}

// offered are lots to be ticked: those chosen, then for a release those that are held, else the newest that stand with us.
func (s *Server) offered(rep *audit.Report, release bool, chosen []string) (out []*lots.Lot) {
	oldest := len(rep.Goods.Lots) // of those chosen, behind which nothing more is looked for once there are enough
	for _, code := range chosen {
		if i := rep.Goods.Index(records.LotCode(code)); i >= 0 {
			oldest = min(oldest, i)
		}
	}
	for i := len(rep.Goods.Lots) - 1; i >= 0 && (i >= oldest || len(out) < offeredMost); i-- {
		l := rep.Goods.Lots[i]
		mine := slices.Contains(chosen, string(l.Code))
		fits := l.HeldAt(rep.At) == release && (release && l.Rejected == nil || !release && hereNow(l))
		if mine || fits && len(out) < offeredMost {
			out = append(out, l)
		}
	}
	slices.SortStableFunc(out, func(a, b *lots.Lot) int {
		return cmp.Compare(boolInt(slices.Contains(chosen, string(b.Code))), boolInt(slices.Contains(chosen, string(a.Code))))
	})
	return out[:min(len(out), max(offeredMost, len(chosen)))]
}

// hereNow says whether any of a lot stands at a station of ours.
func hereNow(l *lots.Lot) bool {
	for place := range l.At.All() {
		if place.Holder == "" && place != lots.Samples {
			return true
		}
	}
	return false
}

// stopMeaning is what a signature under a hold or release means: whoever stops a lot does it, whoever frees it approves that.
func (r *request) stopMeaning(release bool) records.Meaning {
	if release {
		return records.Approved
	}
	return records.Performed
}

func (s *Server) holdLots(r *request) (reply, error) { return s.stop(r, false) }

func (s *Server) freeLots(r *request) (reply, error) { return s.stop(r, true) }

func (s *Server) stop(r *request, release bool) (reply, error) {
	x := r.sheet()
	named, why := x.lots("lots"), x.text("why", textMost, "stop-why")
	if len(named) == 0 && len(x.ms) == 0 {
		x.fault("lots", r.say("which-lots-missing"))
	}
	var fact records.Fact = &records.Hold{Lots: named, Why: why}
	if release {
		out := r.form.Get("outcome")
		if out != "released" && out != "rejected" {
			x.fault("outcome", r.say("answer-missing", r.say("release-outcome")))
		}
		fact = &records.Release{Lots: named, Rejected: out == "rejected", Why: why}
	}
	rep, unknown := s.report(), false
	for _, code := range named {
		l := rep.Goods.Find(code)
		switch {
		case l == nil && r.form.Get("unknown") != "yes":
			unknown = true
			x.fault("lots", r.say("lot-unknown", string(code)))
		case l != nil && release && !l.HeldAt(rep.At) && r.form.Get("outcome") == "released":
			x.fault("lots", r.say("lot-not-held", string(code)))
		}
	}
	_, ms, err := s.signEntry(r, r.entryOfForm(r.stopMeaning(release), fact, 0), false, x.ms)
	if err != nil {
		return reply{}, err
	}
	if len(ms) > 0 {
		return again(s.stopPage(r, release, ms, unknown || r.form.Get("unknown") == "yes"))
	}
	return redirect(r.back("/holds"))
}

// pager is which part of a list of n is shown, by the page in the address.
func (r *request) pager(path string, n, most int) pages.Pager {
	at, err := strconv.Atoi(r.query.Get("page"))
	if err != nil || at < 0 || at*most >= n {
		at = 0
	}
	p := pages.Pager{From: at*most + 1, To: min(n, (at+1)*most), Total: n}
	to := func(page int) string {
		q := r.query
		q.Set("page", strconv.Itoa(page))
		return path + "?" + q.Encode()
	}
	if at > 0 {
		p.Newer = to(at - 1)
	}
	if p.To < n {
		p.Older = to(at + 1)
	}
	return p
}
