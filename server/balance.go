package server

import (
	"cmp"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync"

	"grainward/audit"
	"grainward/exports/balance"
	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/plan"
	"grainward/server/pages"
)

// balanceDays is how far back a balance goes when nobody says.
const balanceDays = 30

// balanced keeps the last balance: going through its pages asks for the same again and again.
type balanced struct {
	mu       sync.Mutex
	version  uint64
	from, to records.Instant
	sheet    *balance.Sheet
}

// of is the balance of a period, of a version of the journal or a later one.
func (b *balanced) of(j *judge, version uint64, from, to records.Instant) *balance.Sheet {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.sheet == nil || b.version != version || b.from != from || b.to != to {
		st, floors := j.floors(from-1, to)
		b.version, b.from, b.to, b.sheet = st.Version(), from, to, balance.Of(st, floors[0], floors[1])
	}
	return b.sheet
}

// period reads the days asked for; nonsense gives the days before now.
func (r *request) period() (first, last calendar.Date, ms []pages.Message) {
	today := r.plan.Day(r.now)
	first, last = today.AddDays(1-balanceDays), today
	for _, end := range []struct {
		name string
		to   *calendar.Date
	}{{"from", &first}, {"to", &last}} {
		if text := r.query.Get(end.name); text != "" {
			d, err := calendar.ParseDate(text)
			if err != nil || !drawable(d) {
				ms = append(ms, pages.Message{Field: end.name, Text: r.say("day-unreadable")})
				continue
			}
			*end.to = d
		}
	}
	if last < first {
		ms = append(ms, pages.Message{Field: "to", Text: r.say("days-reversed")})
		first = last
	}
	return first, last, ms
}

// balance is what the masses of a period come to.
func (s *Server) balance(r *request) (reply, error) {
	first, last, ms := r.period()
	rep := s.report()
	from, to := r.plan.At(first, plan.DayTime{}), min(r.plan.At(last.AddDays(1), plan.DayTime{})-1, max(rep.At, r.plan.At(first, plan.DayTime{})))
	if last >= r.plan.Day(r.now) { // until this minute began, so that the next page asks for the same
		to -= to % 60_000
	}
	sheet := s.balances.of(&s.judge, rep.State.Version(), from, max(from, to))
	all := r.query.Get("all") == "yes"
	p := &pages.Balance{Frame: s.frame(r, r.say("nav-balance"), "balance"), From: first.String(), To: last.String(), All: all, Messages: ms, Unit: r.plan.MassUnit()}
	href := func(all bool, at int) string {
		q := url.Values{"from": {p.From}, "to": {p.To}}
		if all {
			q.Set("all", "yes")
		}
		if at > 0 {
			q.Set("page", strconv.Itoa(at))
		}
		return "/balance?" + q.Encode()
	}
	n := map[audit.Verdict]int{}
	var shown []*balance.Process
	for i := range sheet.Processes {
		x := &sheet.Processes[i]
		n[x.Verdict]++
		if all || balance.Called(x.Verdict) || balance.Called(x.ByProductVerdict) {
			shown = append(shown, x)
		}
	}
	slices.Reverse(shown)
	p.Counts = r.say("process-counts", len(sheet.Processes), n[audit.Within], n[audit.Above], n[audit.Below], n[audit.Unknown])
	p.CalledOut = pages.Way{Link: pages.Link{Href: href(false, 0), Title: r.say("called-out-only")}, Current: !all}
	p.Every = pages.Way{Link: pages.Link{Href: href(true, 0), Title: r.say("every-process")}, Current: all}
	at, err := strconv.Atoi(r.query.Get("page"))
	if err != nil || at < 0 || at*rowsMost >= len(shown) {
		at = 0
	}
	end := min(len(shown), (at+1)*rowsMost)
	if at > 0 {
		p.Newer = href(all, at-1)
	}
	if end < len(shown) {
		p.Older = href(all, at+1)
	}
	for _, x := range shown[at*rowsMost : end] {
		p.Processes = append(p.Processes, r.processRow(x))
	}
	r.wholes(sheet, p)
	r.inventory(sheet, p)
	o := &sheet.Sums
	p.Organic = []pages.Row{{Name: r.say("organic-in"), Value: r.plan.Mass(o.In.Dry)}, {Name: r.say("organic-out"), Value: r.plan.Mass(o.Out.Dry)}, {Name: r.say("organic-standing"), Value: r.plan.Mass(o.Standing.Dry)}}
	if o.Unknown > 0 {
		p.Organic = append(p.Organic, pages.Row{Name: r.say("organic-unknown"), Value: strconv.Itoa(o.Unknown)})
	}
	return page(p)
}

// verdictMark is the mark of a verdict.
func verdictMark(v audit.Verdict) string {
	switch {
	case balance.Called(v):
		return "major"
	case v == audit.Within:
		return "done"
	}
	return "is-unknown"
}

func (r *request) verdictOf(v audit.Verdict) pages.Verdict {
	return pages.Verdict{Mark: verdictMark(v), Word: balance.Word(v, r.lang), Called: balance.Called(v)}
}

func (r *request) processRow(x *balance.Process) pages.ProcessRow {
	row := pages.ProcessRow{When: r.moment(x.When), What: r.processWord(x.What), Station: stationTitle(r.planAt(x.When), x.Station, r.lang), In: balance.Known(x.In, r.plan.Mass), Out: balance.Known(x.Out, r.plan.Mass), Expected: x.Band.In(r.lang), Verdict: r.verdictOf(x.Verdict),
		Entry: pages.Link{Href: entryHref(x.Position), Title: positionText(x.Position)}}
	for _, c := range x.Lots {
		row.Lots = append(row.Lots, pages.Link{Href: lotHref(c), Title: string(c)})
	}
	if x.Loss != nil {
		row.Loss, row.TwoU = balance.Percent(*x.Loss), "± "+r.plan.Mass(x.TwoU)
	}
	if balance.Called(x.ByProductVerdict) {
		v := r.verdictOf(x.ByProductVerdict)
		row.ByProduct = &v
	}
	return row
}

// wholes are the finished lots and bags that are not as expected.
func (r *request) wholes(sheet *balance.Sheet, p *pages.Balance) {
	add := func(to *[]pages.Called, code records.LotCode, says string, twoU records.Micrograms, v audit.Verdict, entry pages.Link) {
		if len(*to) < 2*rowsMost {
			*to = append(*to, pages.Called{Lot: pages.Link{Href: lotHref(code), Title: string(code)}, Says: says, TwoU: "± " + r.plan.Mass(twoU), Verdict: r.verdictOf(v), Entry: entry})
		}
	}
	for i := range sheet.Whole {
		if x := &sheet.Whole[i]; balance.Called(x.Verdict) {
			add(&p.Whole, x.Lot, x.LossWords(r.lang), x.TwoU, x.Verdict, pages.Link{})
		}
	}
	for i := range sheet.Bags {
		if x := &sheet.Bags[i]; balance.Called(x.Verdict) {
			add(&p.Bags, x.Lot, x.DifferWords(r.lang, r.plan.Mass), x.TwoU, x.Verdict, pages.Link{Href: entryHref(x.Position), Title: positionText(x.Position)})
		}
	}
	p.WholeN, p.BagsN = len(sheet.Whole), len(sheet.Bags)
}

// inventory is opening to closing by status and item, in the plant's unit.
func (r *request) inventory(sheet *balance.Sheet, p *pages.Balance) {
	unit := r.plan.MassUnit()
	amount := func(m records.Micrograms) string {
		if m == 0 {
			return "–"
		}
		return strconv.FormatFloat(m.In(unit), 'f', 1, 64)
	}
	lines := slices.Clone(sheet.Lines)
	slices.SortStableFunc(lines, func(a, b audit.Line) int {
		return cmp.Or(strings.Compare(string(b.Status), string(a.Status)), strings.Compare(string(a.Item), string(b.Item)))
	})
	for _, x := range lines {
		word := r.statusWord(x.Status)
		if n := len(p.Inventory); n == 0 || p.Inventory[n-1].StatusWord != word {
			p.Inventory = append(p.Inventory, pages.InventoryGroup{Status: statusShape(x.Status), StatusWord: word})
		}
		g := &p.Inventory[len(p.Inventory)-1]
		g.Rows = append(g.Rows, pages.InventoryRow{Item: itemTitle(r.plan, x.Item, r.lang), Differs: x.Unexplained != 0, Lots: "/lots?" + url.Values{"all": {"yes"}, "status": {string(x.Status)}}.Encode(),
			Amounts: []string{amount(x.Opening), amount(x.Received), amount(x.Made), amount(x.Used), amount(x.Sent), amount(x.Sampled), amount(x.Unexplained), amount(x.Closing)}})
	}
}
