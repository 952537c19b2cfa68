package server

import (
	"html/template"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync"

	"grainward/audit"
	"grainward/audit/trace"
	"grainward/exports/lineage"
	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
	"grainward/server/pages"
)

// What a lot's page shows at most: lots drawn, and lines of history before one asks for more.
const (
	lotsDrawn   = 60
	historyMost = 40
)

// joined keeps the graph of the lots while nothing about goods changes.
type joinedLots struct {
	mu    sync.Mutex
	of    *audit.Segregation // the same as long as the floor is
	graph *trace.Graph
}

func (j *joinedLots) graphOf(g *audit.Goods) *trace.Graph {
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.of != g.Segregation {
		j.of, j.graph = g.Segregation, trace.Build(g.Floor)
	}
	return j.graph
}

// traceOf traces a subject at the moment of a report.
func (s *Server) traceOf(rep *audit.Report, p *plan.Plan, text string, dir trace.Direction) (*trace.Trace, error) {
	subject, err := trace.ParseSubject(text, p.Location())
	if err != nil {
		return nil, err
	}
	return trace.Make(rep.State, rep.Goods.Floor, s.graphs.graphOf(rep.Goods), subject, dir)
}

func partnerName(p *plan.Plan, c records.PartnerCode) string {
	if x := p.Partner(c); x != nil {
		return x.Name
	}
	return string(c)
}

// lot is one lot: where it is, what happened to it, and what it was made of and became.
func (s *Server) lot(r *request) (reply, error) {
	rep := s.report()
	i := rep.Goods.Index(records.LotCode(r.params["lot"]))
	if i < 0 {
		return reply{}, notFound()
	}
	l := rep.Goods.Lots[i]
	if !r.touched(l) {
		return reply{}, notFound()
	}
	p := &pages.Lot{Frame: s.frame(r, r.say("the-lot", l.Code), "lots"), Lot: r.lotRow(rep, l, r.plan.Mass(l.Standing()), false), Facts: r.lotFacts(rep, i), Where: r.whereabouts(rep, l, rowsMost)}
	for _, h := range l.Holds {
		p.Holds = append(p.Holds, r.stopped(h))
	}
	for _, e := range l.Events {
		switch f := e.Fact.(type) {
		case *records.Result:
			p.Results = append(p.Results, r.resultOf(e, f))
		case *records.Sample:
			word := r.say("samples-kept", f.Number)
			if f.Act != "kept" {
				word = r.say("samples-thrown", f.Number)
			}
			p.Samples = append(p.Samples, pages.Happening{When: r.moment(e.Happened), What: word, Detail: f.Where, Who: personName(r.planAt(e.Happened), e.By), Entry: r.entryLink(e)})
		}
	}
	var about []*audit.Finding
	for _, f := range rep.Findings {
		if f.Subject.Lot == l.Code {
			about = append(about, f)
		}
	}
	p.MoreFindings = max(0, len(about)-rowsMost)
	for _, f := range about[:min(len(about), rowsMost)] {
		p.Findings = append(p.Findings, r.findingRow(rep, f, lotHref(l.Code)))
	}
	p.History, p.MoreHistory = r.history(l)
	return s.withLineage(r, rep, l, p)
}

// withLineage draws what a lot was made of and what became of it, and says how much of its mass is accounted for.
func (s *Server) withLineage(r *request, rep *audit.Report, l *lots.Lot, p *pages.Lot) (reply, error) {
	t, err := s.traceOf(rep, r.plan, "lot:"+string(l.Code), trace.Both)
	if err != nil {
		return reply{}, err
	}
	deep, err := strconv.Atoi(r.query.Get("deep"))
	if err != nil || deep < 1 || deep > 1000 {
		deep = 2
	}
	near, left := t.Within(deep, lotsDrawn)
	var b strings.Builder
	if err := lineage.WriteInline(&b, lineage.Input{Trace: near, Lang: r.lang}, lotHref); err != nil {
		return reply{}, err
	}
	p.Drawing = template.HTML(b.String()) // the drawing writes every text as text
	p.Left = left
	if left > 0 && len(near.Lots) < lotsDrawn {
		p.Deeper = lotHref(l.Code) + "?" + url.Values{"deep": {strconv.Itoa(deep + 2)}}.Encode() + "#lineage"
	}
	for i := range near.Lots {
		if x := &near.Lots[i]; !x.Subject() {
			p.Kin = append(p.Kin, r.kin(x))
		}
	}
	p.Estimated = near.Estimated
	best, dry := t.Account.Best()
	if share, ok := best.Share(); ok {
		key := "accounted-as-is"
		if dry {
			key = "accounted-dry"
		}
		p.Accounted = r.say(key, percent(share))
		if t.Account.Estimated {
			p.Accounted += " (" + r.say("est") + ")"
		}
	}
	return page(p)
}

func percent(x float64) string { return strconv.FormatFloat(100*x, 'f', 1, 64) + " %" }

func (r *request) kin(x *trace.Lot) pages.Kin {
	k := pages.Kin{LotRow: pages.LotRow{Link: pages.Link{Href: lotHref(x.Code), Title: string(x.Code)}, Item: x.Title.In(r.lang), Status: statusShape(x.Status), StatusWord: r.statusWord(x.Status), Mass: r.plan.Mass(x.Entered), Held: x.Held},
		Share: percent(x.Share), Estimated: x.Estimated, Way: r.say("downstream", x.Down)}
	if x.Up > 0 {
		k.Way = r.say("upstream", x.Up)
	}
	return k
}

var modelTexts = map[audit.Model]string{audit.IdentityPreserved: "model-preserved", audit.Segregated: "model-segregated", audit.NotSegregated: "model-neither"}

func (r *request) lotFacts(rep *audit.Report, i int) (rows []pages.Row) {
	l := rep.Goods.Lots[i]
	add := func(key, value string) {
		if value != "" {
			rows = append(rows, pages.Row{Name: r.say(key), Value: value})
		}
	}
	add("item", itemTitle(r.plan, l.Item, r.lang))
	add("stage", r.say(stageTexts[r.stageOf(l)]))
	add("status", r.statusWord(l.Status))
	if key := modelTexts[rep.Goods.Segregation.Models[i]]; key != "" {
		add("custody", r.say(key))
	}
	if broken := rep.Goods.Segregation.Broken[i]; broken != nil {
		rows = append(rows, pages.Row{Name: r.say("status-shown"), Value: r.say("status-broken", r.moment(broken.When), stationTitle(r.plan, broken.Station, r.lang)), Outside: true})
	}
	if l.Origin != nil {
		rows = append(rows, pages.Row{Name: r.say("since"), Value: r.moment(l.Begins), Href: r.entryLink(l.Origin).Href})
	}
	if f := l.Receipt; f != nil {
		add("supplier", partnerName(r.planAt(l.Begins), f.Source))
		add("their-lot", f.TheirLot)
		add("variety", f.Variety)
	}
	add("entered", r.plan.Mass(l.Entered))
	add("used-up", r.plan.Mass(l.Used))
	if l.Adjusted != 0 {
		add("unexplained", r.plan.Mass(l.Adjusted))
	}
	add("standing", r.plan.Mass(l.Standing()))
	bags := 0
	var best []string
	for _, o := range l.Outputs {
		bags += o.Bags
		if o.BestBy != nil && !slices.Contains(best, o.BestBy.String()) {
			best = append(best, o.BestBy.String())
		}
	}
	if bags > 0 {
		add("bags-filled", strconv.Itoa(bags))
	}
	var kilned []string
	for _, d := range l.KilnDates() {
		kilned = append(kilned, d.String())
	}
	add("kiln-dates", strings.Join(kilned, ", "))
	add("best-by", strings.Join(best, ", "))
	if l.Samples > 0 {
		add("samples-there", strconv.Itoa(l.Samples))
	}
	return rows
}

func (r *request) stopped(h lots.Stop) pages.Happening {
	f := h.Hold.Fact.(*records.Hold)
	out := pages.Happening{When: r.moment(h.Hold.Happened), What: f.Why, Who: personName(r.planAt(h.Hold.Happened), h.Hold.By), Entry: r.entryLink(h.Hold), Detail: r.say("hold-stands"), Mark: "held"}
	if h.Release != nil {
		key := "hold-freed"
		if h.Release.Fact.(*records.Release).Rejected {
			key = "hold-rejected"
		}
		out.Detail, out.Mark = r.say(key, r.moment(h.Release.Happened), personName(r.planAt(h.Release.Happened), h.Release.By)), ""
	}
	return out
}

func (r *request) resultOf(e *state.Record, f *records.Result) pages.Happening {
	out := pages.Happening{When: r.moment(e.Happened), Who: personName(r.planAt(e.Happened), e.By), Entry: r.entryLink(e), Detail: f.Method}
	var values []string
	for _, v := range f.Values {
		values = append(values, v.Name+" "+v.Value.String())
	}
	out.What = strings.Join(values, "; ")
	return out
}

// history is a lot's entries, newest first; h says how many more than usual are asked for.
func (r *request) history(l *lots.Lot) (out []pages.Happening, more string) {
	n, err := strconv.Atoi(r.query.Get("h"))
	if err != nil || n < historyMost || n > 2000 {
		n = historyMost
	}
	for i := len(l.Events) - 1; i >= 0 && len(out) < n; i-- {
		e := l.Events[i]
		out = append(out, pages.Happening{When: r.moment(e.Happened), What: r.say(kindKey(e.Kind)), Detail: r.gist(e, l.Code), Who: personName(r.planAt(e.Happened), e.By), Entry: r.entryLink(e)})
	}
	if len(l.Events) > n {
		more = lotHref(l.Code) + "?" + url.Values{"h": {strconv.Itoa(n + 200)}}.Encode() + "#history"
	}
	return out, more
}

// gist is what an entry about goods says, in a line.
func (r *request) gist(e *state.Record, about records.LotCode) string {
	at := func(c records.StationCode) string { return stationTitle(r.planAt(e.Happened), c, r.lang) }
	switch f := e.Fact.(type) {
	case *records.Receipt:
		return r.say("gist-from-to", f.Weight.Mass.String(), partnerName(r.planAt(e.Happened), f.Source), at(f.To))
	case *records.Move:
		return r.say("gist-from-to", f.Weight.Mass.String(), at(f.From), at(f.To))
	case *records.Process:
		for _, o := range f.Outputs {
			if o.Lot == about {
				return r.say("gist-made", r.processWord(f.Process), at(f.Station), o.Weight.Mass.String())
			}
		}
		return r.say("gist-used", r.processWord(f.Process), at(f.Station))
	case *records.Handover:
		if f.Weight.Mass.Unit == "" {
			return partnerName(r.planAt(e.Happened), f.To)
		}
		return r.say("gist-to", f.Weight.Mass.String(), partnerName(r.planAt(e.Happened), f.To))
	case *records.Count:
		return at(f.Station)
	case *records.Hold:
		return f.Why
	case *records.Release:
		return f.Why
	case *records.Sample:
		return strconv.Itoa(f.Number)
	case *records.Purge:
		return f.Weight.Mass.String()
	}
	return ""
}

// processTexts are the processes that have a word in each language; others are shown as they were written.
var processTexts = map[string]string{"steeping": "proc-steeping", "germination": "proc-germination", "kilning": "proc-kilning", "cleaning": "proc-cleaning", "bagging": "proc-bagging", "milling": "proc-milling", "blending": "proc-blending",
	"downgrading": "proc-downgrading", "purge": "proc-purge"}

func (r *request) processWord(name string) string {
	if key := processTexts[name]; key != "" {
		return r.say(key)
	}
	return name
}
