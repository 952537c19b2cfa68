package server

import (
	"cmp"
	"fmt"
	"hash/fnv"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"grainward/audit"
	"grainward/records"
	"grainward/server/pages"
)

const (
	findingsMost = 50 // on one page
	outlookMost  = 3  // of each sort at the top
	outlookDays  = 60 // ahead for documents that run out
)

// asked is what somebody wants to see of the findings.
type asked struct {
	every                       bool // the closed ones too
	severity, station, rule, by string
	words                       string
	page                        int
}

func (r *request) askedFindings() asked {
	q := r.query
	a := asked{every: q.Get("show") == "all", severity: q.Get("severity"), station: q.Get("station"), rule: q.Get("rule"), by: q.Get("by"), words: strings.TrimSpace(q.Get("q"))}
	a.page, _ = strconv.Atoi(q.Get("page"))
	if len(a.words) > 100 {
		a.words = strings.ToValidUTF8(a.words[:100], "")
	}
	return a
}

func (a asked) href() string {
	q := url.Values{}
	for name, value := range map[string]string{"severity": a.severity, "station": a.station, "rule": a.rule, "by": a.by, "q": a.words} {
		if value != "" {
			q.Set(name, value)
		}
	}
	if a.every {
		q.Set("show", "all")
	}
	if a.page > 0 {
		q.Set("page", strconv.Itoa(a.page))
	}
	return (&url.URL{Path: "/findings", RawQuery: q.Encode()}).String()
}

// with is another page of the same list, or another list from its start.
func (a asked) with(change func(*asked)) string {
	a.page = 0
	change(&a)
	return a.href()
}

func (s *Server) findings(r *request) (reply, error) {
	rep := s.report()
	a := r.askedFindings()
	p := &pages.Findings{Frame: s.frame(r, r.say("findings"), "findings"), At: r.exactly(rep.At), OnlyOpen: !a.every}
	if r.link == nil {
		outlook := r.outlook(rep)
		p.Outlook = &outlook
	} else {
		p.Period = r.say("period", r.link.From.String(), r.link.To.String())
	}
	n := map[string]int{}
	open := 0
	var standing, shown []*audit.Finding
	words := strings.Fields(folded(a.words))
	all := r.shown(rep.Findings)
	for _, f := range all {
		if !f.Closed {
			open++
		}
		if f.Closed && !a.every {
			continue
		}
		n[f.Severity.String()]++
		standing = append(standing, f)
		if (a.severity == "" || f.Severity.String() == a.severity) && (a.station == "" || string(f.Subject.Station) == a.station) &&
			(a.rule == "" || f.Rule == a.rule) && r.mentions(f, words) {
			shown = append(shown, f)
		}
	}
	p.Open = pages.Link{Href: a.with(func(a *asked) { a.every = false }), Title: r.say("open-ones", open)}
	p.Every = pages.Link{Href: a.with(func(a *asked) { a.every = true }), Title: r.say("all-of-them", len(all))}
	for _, sev := range []string{"critical", "major", "minor", "note"} {
		c := pages.Count{Severity: sev, N: n[sev], Current: sev == a.severity}
		c.Href = a.with(func(a *asked) {
			if a.severity = sev; c.Current {
				a.severity = ""
			}
		})
		p.Counts = append(p.Counts, c)
	}
	p.Filter = r.filter(a, standing)
	r.group(a, shown)
	if a.page < 0 || a.page*findingsMost >= len(shown) {
		a.page = 0
	}
	p.Total, p.Some = len(shown), len(standing) > 0
	p.From, p.To = a.page*findingsMost+1, min(len(shown), (a.page+1)*findingsMost)
	if a.page > 0 {
		at := a.page - 1
		p.Newer = a.with(func(a *asked) { a.page = at })
	}
	if p.To < p.Total {
		at := a.page + 1
		p.Older = a.with(func(a *asked) { a.page = at })
	}
	if len(shown) > 0 {
		p.Groups = r.grouped(rep, a, a.href(), shown[p.From-1:p.To])
	}
	return page(p)
}

// filter offers the stations and rules there are findings of, with how many.
func (r *request) filter(a asked, fs []*audit.Finding) pages.Filter {
	stations, rules := map[string]int{}, map[string]int{}
	for _, f := range fs {
		rules[f.Rule]++
		if f.Subject.Station != "" {
			stations[string(f.Subject.Station)]++
		}
	}
	options := func(n map[string]int, chosen string, title func(string) string) (out []pages.Option) {
		if chosen != "" && n[chosen] == 0 {
			n[chosen] = 0 // it stays chosen, though nothing is left of it
		}
		for code, k := range n {
			out = append(out, pages.Option{Value: code, Title: fmt.Sprintf("%s (%d)", title(code), k), Chosen: code == chosen})
		}
		slices.SortFunc(out, func(a, b pages.Option) int {
			return cmp.Or(strings.Compare(folded(a.Title), folded(b.Title)), strings.Compare(a.Value, b.Value))
		})
		return out
	}
	out := pages.Filter{Words: a.words, Severity: a.severity, Every: a.every,
		Stations: options(stations, a.station, func(c string) string { return stationTitle(r.plan, records.StationCode(c), r.lang) }),
		Rules:    options(rules, a.rule, func(c string) string { return r.say("rule-" + c) })}
	for _, by := range [][2]string{{"severity", "by-severity"}, {"station", "by-station"}, {"rule", "by-rule"}} {
		out.By = append(out.By, pages.Option{Value: by[0], Title: r.say(by[1]), Chosen: by[0] == a.by})
	}
	if a.words+a.station+a.rule+a.by+a.severity != "" {
		out.Clear = asked{every: a.every}.href()
	}
	return out
}

// group puts the findings in the order of what they are grouped by; within a group they stay worst first, then newest first.
func (r *request) group(a asked, fs []*audit.Finding) {
	if a.by != "station" && a.by != "rule" {
		return
	}
	titles := map[*audit.Finding]string{}
	for _, f := range fs {
		titles[f] = r.heading(a, f)
	}
	slices.SortStableFunc(fs, func(x, y *audit.Finding) int {
		return cmp.Or(cmp.Compare(boolInt(x.Subject.Station == "" && a.by == "station"), boolInt(y.Subject.Station == "" && a.by == "station")),
			strings.Compare(titles[x], titles[y]))
	})
}

func boolInt(b bool) int {
	if b {
		return 1
	}
	return 0
}

func (r *request) heading(a asked, f *audit.Finding) string {
	switch {
	case a.by == "rule":
		return r.say("rule-" + f.Rule)
	case a.by == "station" && f.Subject.Station == "":
		return r.say("no-station")
	case a.by == "station":
		return stationTitle(r.plan, f.Subject.Station, r.lang)
	}
	return ""
}

// grouped words findings under their headings; back is the page they are on.
func (r *request) grouped(rep *audit.Report, a asked, back string, fs []*audit.Finding) (gs []pages.FindingGroup) {
	last := ""
	for _, f := range fs {
		g := pages.FindingGroup{Title: r.heading(a, f)}
		if g.Title == "" {
			g.Severity = f.Severity.String()
		}
		if key := g.Title + g.Severity; len(gs) == 0 || key != last {
			gs, last = append(gs, g), key
		}
		to := &gs[len(gs)-1]
		to.Rows = append(to.Rows, r.findingRow(rep, f, back))
	}
	return gs
}

func (r *request) findingRow(rep *audit.Report, f *audit.Finding, back string) pages.Finding {
	row := pages.Finding{Anchor: anchor(f), Severity: f.Severity.String(), Rule: f.Rule, Sentence: f.Sentence(r.lang), When: r.moment(f.When), Age: r.age(f.When),
		Standing: standing(f), Evidence: entryLinks(f.Evidence), Answers: entryLinks(f.Answers)}
	for _, c := range f.Clauses {
		row.Clauses = append(row.Clauses, string(c))
	}
	if at := f.Subject.Station; at != "" && r.plan.Station(at) != nil {
		row.About = append(row.About, pages.Link{Href: stationHref(at), Title: stationTitle(r.plan, at, r.lang)})
	}
	if f.Subject.Lot != "" {
		row.About = append(row.About, pages.Link{Href: lotHref(f.Subject.Lot), Title: string(f.Subject.Lot)})
	}
	row.Do = r.todo(rep, f, back+"#"+row.Anchor)
	return row
}

// todo is what whoever asks may do about a finding, from its row.
func (r *request) todo(rep *audit.Report, f *audit.Finding, back string) (out []pages.Link) {
	add := func(key, path string, pairs ...string) {
		q := url.Values{"next": {back}}
		for i := 0; i < len(pairs); i += 2 {
			if pairs[i+1] != "" {
				q.Set(pairs[i], pairs[i+1])
			}
		}
		out = append(out, pages.Link{Href: (&url.URL{Path: path, RawQuery: q.Encode()}).String(), Title: r.say(key)})
	}
	if r.role >= lead && !f.Closed {
		add("answer-it", "/answer", "finding", f.ID)
	}
	if j := rep.WindowOf(f); j != nil && !f.Closed {
		if j.Waiting(rep.At) && r.plan.Task(f.Subject.Task) != nil {
			out = append(out, pages.Link{Href: signHref(f.Subject.Task, f.Subject.Station, j.Opens), Title: r.say("sign-it")})
		}
		if r.role >= lead && (j.Result == audit.Missed || j.Result == audit.Overdue) {
			add("excuse-it", "/excuse", "task", string(f.Subject.Task), "station", string(f.Subject.Station), "from", j.Opens.String(), "to", j.Due.String())
		}
	}
	if day, is := strings.CutPrefix(f.ID, "review-missed:"); is && r.role >= lead {
		out = append(out, pages.Link{Href: "/review/" + url.PathEscape(day), Title: r.say("review-it")})
	}
	if strings.HasPrefix(f.Rule, "document-") && f.Subject.Document != "" && r.role >= lead {
		add("file-it", "/documents/new", "code", string(f.Subject.Document))
	}
	if lot := rep.Goods.Find(f.Subject.Lot); lot != nil {
		switch {
		case !lot.HeldAt(rep.At):
			add("hold-it", "/hold", "lot", string(lot.Code), "finding", f.ID)
		case r.role >= lead:
			add("release-it", "/release", "lot", string(lot.Code))
		}
	}
	return out
}

// outlook is the top of the page.
func (r *request) outlook(rep *audit.Report) (out pages.Outlook) {
	o := rep.Outlook(outlookDays)
	if f := o.Oldest; f != nil {
		out.Oldest = pages.Notice{Text: f.Sentence(r.lang), Note: r.age(f.When), Href: asked{words: "", rule: f.Rule}.href() + "#" + anchor(f), Mark: f.Severity.String()}
	}
	overdue := pages.Digest{Key: "overdue", N: len(o.Overdue), More: moreThan(len(o.Overdue), "/today")}
	for _, w := range o.Overdue[:min(outlookMost, len(o.Overdue))] {
		overdue.First = append(overdue.First, pages.Notice{Text: taskTitle(w.Plan, w.Duty.Task, r.lang) + ", " + stationTitle(w.Plan, w.Duty.Station, r.lang),
			Note: r.say("due-by", r.clock(w.Due)), Href: signHref(w.Duty.Task, w.Duty.Station, w.Opens), Mark: "overdue"})
	}
	expiring := pages.Digest{Key: "expiring", N: len(o.Expiring), More: moreThan(len(o.Expiring), "/documents")}
	for i := range o.Expiring[:min(outlookMost, len(o.Expiring))] {
		expiring.First = append(expiring.First, r.paperNotice(&o.Expiring[i]))
	}
	owed := pages.Digest{Key: "owed", N: len(o.Owed), More: moreThan(len(o.Owed), "/reviews")}
	for _, b := range o.Owed[:min(outlookMost, len(o.Owed))] {
		owed.First = append(owed.First, r.owedNotice(rep, b))
	}
	if r.role < lead { // crew may not open what only a lead does
		owed.More = ""
		for i := range owed.First {
			owed.First[i].Href = ""
		}
	}
	out.Parts = []pages.Digest{overdue, expiring, owed}
	return out
}

func moreThan(n int, href string) string {
	if n > outlookMost {
		return href
	}
	return ""
}

// mentions says whether every word stands in what a finding says or is about, in the reader's language.
func (r *request) mentions(f *audit.Finding, words []string) bool {
	if len(words) == 0 {
		return true
	}
	x := &f.Subject
	text := []string{f.Sentence(r.lang), f.Rule, r.say("rule-" + f.Rule), string(x.Task), string(x.Station), string(x.Person), string(x.Document), string(x.Instrument), string(x.Agent),
		string(x.Lot), string(x.Partner), string(x.Item), taskTitle(r.plan, x.Task, r.lang), stationTitle(r.plan, x.Station, r.lang), personName(r.plan, x.Person)}
	if p := r.plan.Partner(x.Partner); p != nil {
		text = append(text, p.Name)
	}
	if it := r.plan.Item(x.Item); it != nil {
		text = append(text, it.Title.In(r.lang))
	}
	all := folded(strings.Join(text, "\n"))
	return !slices.ContainsFunc(words, func(w string) bool { return !strings.Contains(all, w) })
}

var accents = strings.NewReplacer("á", "a", "é", "e", "í", "i", "ó", "o", "ú", "u", "ü", "u", "ñ", "n")

// folded is text as it is compared when somebody searches: without capitals and accents.
func folded(text string) string { return accents.Replace(strings.ToLower(text)) }

// anchor names a finding's row within its page.
func anchor(f *audit.Finding) string {
	h := fnv.New64a()
	h.Write([]byte(f.ID))
	return fmt.Sprintf("f-%x", h.Sum64())
}

func signHref(t records.TaskCode, at records.StationCode, opens records.Instant) string {
	return (&url.URL{Path: "/sign/" + string(t) + "/" + string(at), RawQuery: url.Values{"window": {opens.String()}}.Encode()}).String()
}

func standing(f *audit.Finding) string {
	switch {
	case f.Closed:
		return "closed"
	case len(f.Answers) > 0:
		return "answered"
	}
	return "open"
}

func entryLinks(ps []records.Position) (ls []pages.Link) {
	for _, p := range ps {
		ls = append(ls, pages.Link{Href: entryHref(p), Title: positionText(p)})
	}
	return ls
}

// owedNotice and paperNotice are one line each at the top of the findings.
func (r *request) owedNotice(rep *audit.Report, b *audit.Batch) pages.Notice {
	n := pages.Notice{Text: r.date(b.Day) + ", " + r.say("n-records", b.Open), Note: r.owedWhen(rep, b), Href: "/review/" + b.Day.String(), Mark: "open"}
	if b.Late(rep.At) {
		n.Mark = "overdue"
	}
	return n
}

func (r *request) owedWhen(rep *audit.Report, b *audit.Batch) string {
	switch left := b.Left(rep.At); {
	case b.Late(rep.At):
		return r.say("owed-late", r.date(b.Limit))
	case left == 0:
		return r.say("owed-today")
	case left == 1:
		return r.say("owed-one", r.date(b.Limit))
	default:
		return r.say("owed-days", left, r.date(b.Limit))
	}
}

func (r *request) paperNotice(p *audit.Paper) pages.Notice {
	n := pages.Notice{Text: p.Title, Note: r.paperWhen(p), Href: documentHref(p.Code), Mark: "open"}
	if p.Standing == audit.PaperMissing || p.Standing == audit.PaperExpired {
		n.Mark = "failed"
	}
	return n
}

func (r *request) paperWhen(p *audit.Paper) string {
	switch {
	case p.Standing == audit.PaperMissing:
		return r.say("paper-is-missing")
	case p.Standing == audit.PaperComing:
		return r.say("paper-from", r.date(*p.Document.From))
	case !p.Ends():
		return r.say("paper-no-end")
	case p.Left < 0:
		return r.say("paper-since", r.date(*p.Document.To))
	case p.Left == 0:
		return r.say("paper-today")
	case p.Left == 1:
		return r.say("paper-one", r.date(*p.Document.To))
	}
	return r.say("paper-days", p.Left, r.date(*p.Document.To))
}

func documentHref(c records.DocumentCode) string { return "/document/" + url.PathEscape(string(c)) }
