package server

import (
	"cmp"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"grainward/audit"
	"grainward/records"
	"grainward/records/lots"
	"grainward/server/pages"
)

// stages are those of the plan's items, in the way of the goods.
var stages = []string{"raw", "in-process", "finished", "by-product"}

var stageTexts = map[string]string{"raw": "stage-raw", "in-process": "stage-in-process", "finished": "stage-finished", "by-product": "stage-by-product", "": "stage-unknown"}

func (r *request) stageOf(l *lots.Lot) string {
	if i := r.plan.Item(l.Item); i != nil {
		return i.Stage
	}
	return ""
}

// sought is what a list of lots is asked for.
type sought struct {
	text, stage, status string
	all                 bool // also those of which nothing stands with us
	page                int
}

func (r *request) soughtLots() sought {
	q := sought{text: strings.TrimSpace(r.query.Get("q")), stage: r.query.Get("stage"), status: r.query.Get("status"), all: r.query.Get("all") == "yes"}
	q.page, _ = strconv.Atoi(r.query.Get("page"))
	return q
}

func (q sought) href(page int) string {
	v := url.Values{}
	for name, value := range map[string]string{"q": q.text, "stage": q.stage, "status": q.status} {
		if value != "" {
			v.Set(name, value)
		}
	}
	if q.all {
		v.Set("all", "yes")
	}
	if page > 0 {
		v.Set("page", strconv.Itoa(page))
	}
	return (&url.URL{Path: "/lots", RawQuery: v.Encode()}).String()
}

// finds says whether a lot is meant by a text: part of its code, the label of one of its bags, or part of the supplier's own lot.
func (q sought) finds(l *lots.Lot) bool {
	text := strings.ToLower(q.text)
	has := func(s string) bool { return strings.Contains(strings.ToLower(s), text) }
	if has(string(l.Code)) || l.Receipt != nil && has(l.Receipt.TheirLot) {
		return true
	}
	label := strings.TrimPrefix(text, "label:")
	if i := strings.IndexAny(label, "/# "); i > 0 { // a bag of it
		label = label[:i]
	}
	return strings.EqualFold(label, string(l.Code))
}

func standsHere(l *lots.Lot) bool {
	for p := range l.At.All() {
		if p.Holder == "" && p != lots.Samples {
			return true
		}
	}
	return false
}

// lots is what is where now: held ones first, then by stage, the newest first. A search looks at all there ever were.
func (s *Server) lots(r *request) (reply, error) {
	rep, q := s.report(), r.soughtLots()
	// By stage, after those that are held and before those of none. Lots are in order of coming to be, so that each part, from the back, hardly
	// needs sorting.
	parts, held := make([][]*lots.Lot, 1+len(stages)+1), 0
	for _, l := range slices.Backward(rep.Goods.Lots) {
		if q.text != "" && !q.finds(l) || q.stage != "" && r.stageOf(l) != q.stage || q.status != "" && string(l.Status) != q.status || q.text == "" && !q.all && !standsHere(l) {
			continue
		}
		part := len(stages) + 1
		if l.HeldAt(rep.At) {
			part, held = 0, held+1
		} else if i := slices.Index(stages, r.stageOf(l)); i >= 0 {
			part = 1 + i
		}
		parts[part] = append(parts[part], l)
	}
	for _, part := range parts {
		slices.SortStableFunc(part, func(a, b *lots.Lot) int {
			return cmp.Or(cmp.Compare(b.Begins, a.Begins), strings.Compare(string(a.Code), string(b.Code)))
		})
	}
	found := slices.Concat(parts...)
	if q.page < 0 || q.page*rowsMost >= len(found) {
		q.page = 0
	}
	p := &pages.Lots{Frame: s.frame(r, r.say("nav-lots"), "lots"), Query: q.text, All: q.all, Total: len(found), Held: held, From: min(len(found), q.page*rowsMost+1), To: min(len(found), (q.page+1)*rowsMost)}
	for _, stage := range stages {
		p.Stages = append(p.Stages, pages.Option{Value: stage, Title: r.say(stageTexts[stage]), Chosen: stage == q.stage})
	}
	for _, st := range []records.Status{records.Organic100, records.Organic, records.MadeWith, records.Conventional} {
		p.Statuses = append(p.Statuses, pages.Option{Value: string(st), Title: r.statusWord(st), Chosen: string(st) == q.status})
	}
	if q.page > 0 {
		p.Newer = q.href(q.page - 1)
	}
	if p.To < p.Total {
		p.Older = q.href(q.page + 1)
	}
	for _, l := range found[max(0, p.From-1):p.To] {
		row := r.lotRow(rep, l, r.plan.Mass(l.Standing()), false)
		row.Where = r.whereabouts(rep, l, 3)
		title := r.say("part-held")
		if !row.Held {
			title = r.say(stageTexts[r.stageOf(l)])
		}
		if n := len(p.Groups); n == 0 || p.Groups[n-1].Title != title {
			p.Groups = append(p.Groups, pages.LotGroup{Title: title})
		}
		g := &p.Groups[len(p.Groups)-1]
		g.Rows = append(g.Rows, row)
	}
	return page(p)
}

// whereabouts is where a lot is and how much of it, in words; at most so many places.
func (r *request) whereabouts(rep *audit.Report, l *lots.Lot, most int) (out []string) {
	type spot struct {
		name string
		mass records.Micrograms
	}
	var all []spot
	for p, m := range l.At.All() {
		name := stationTitle(r.plan, p.Station, r.lang)
		switch {
		case p.Holder != "":
			name = r.say("with", partnerName(r.planAt(rep.At), p.Holder))
		case p == lots.Samples:
			name = r.say("fl-retained-samples")
		}
		all = append(all, spot{name, m})
	}
	slices.SortFunc(all, func(a, b spot) int { return cmp.Or(cmp.Compare(b.mass, a.mass), strings.Compare(a.name, b.name)) })
	for i, x := range all {
		if i == most {
			return append(out, r.say("n-places-more", len(all)-most))
		}
		out = append(out, r.say("mass-at", r.plan.Mass(x.mass), x.name))
	}
	return out
}
