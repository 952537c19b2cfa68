package server

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"grainward/audit"
	"grainward/records"
	"grainward/server/pages"
)

const (
	papersMost = 50 // on one page
	reliesMost = 20 // records that rely on a document, listed
)

// documents is the register.
func (s *Server) documents(r *request) (reply, error) {
	rep := s.report()
	within, _ := strconv.Atoi(r.query.Get("within"))
	words := strings.Fields(folded(r.query.Get("q")))
	p := &pages.Documents{Frame: s.frame(r, r.say("documents"), "documents"), Words: r.query.Get("q"), MayFile: r.role >= lead}
	for _, days := range []int{0, 30, 60, 90} {
		c := pages.Choice{Link: pages.Link{Title: r.say("papers-all"), Href: "/documents"}, Current: days == within}
		if days > 0 {
			c.Title, c.Href = r.say("papers-within", days), addressed("/documents", "within", strconv.Itoa(days), "q", r.query.Get("q"))
		}
		if c.Current && days > 0 {
			p.Within = strconv.Itoa(days)
		}
		p.Days = append(p.Days, c)
	}
	soon := func(ends bool, left int, missing bool) bool { return within == 0 || missing || ends && left <= within }
	fits := func(texts ...string) bool {
		all := folded(strings.Join(texts, "\n"))
		return !slices.ContainsFunc(words, func(w string) bool { return !strings.Contains(all, w) })
	}
	var papers []pages.Paper
	for _, x := range rep.Register() {
		if x.Document != nil && x.Document.Type == photoType {
			continue // it is seen where it belongs
		}
		row := r.paperRow(&x)
		if soon(x.Ends(), x.Left, x.Standing == audit.PaperMissing) && fits(row.Title, row.Code, row.About) {
			papers = append(papers, row)
		}
	}
	p.Pager = r.pager("/documents", len(papers), papersMost)
	p.Papers = papers[p.From-1 : p.To]
	if p.From > 1 {
		return page(p)
	}
	for _, c := range rep.Calibrations() {
		row := r.calibrationRow(&c)
		if soon(true, c.Left, c.Lapsed) && fits(row.Title, row.Code, row.About) {
			p.Calibrations = append(p.Calibrations, row)
		}
	}
	for _, t := range rep.Training() {
		row := r.trainingRow(&t)
		if soon(false, 0, t.On == nil) && fits(row.Title, row.About) {
			p.Trainings = append(p.Trainings, row)
		}
	}
	p.Calibrations, p.Trainings = p.Calibrations[:min(len(p.Calibrations), papersMost)], p.Trainings[:min(len(p.Trainings), 2*papersMost)]
	return page(p)
}

var paperMarks = map[audit.PaperStanding]string{audit.PaperMissing: "missed", audit.PaperExpired: "failed", audit.PaperComing: "coming", audit.PaperHolds: "done", audit.PaperReplaced: "excused"}

func (r *request) paperRow(x *audit.Paper) pages.Paper {
	row := pages.Paper{Code: string(x.Code), Title: x.Title, Href: documentHref(x.Code), Standing: string(x.Standing), Mark: paperMarks[x.Standing], When: r.paperWhen(x)}
	if x.Standing == audit.PaperMissing {
		row.When = ""
	}
	if x.Document != nil {
		row.About = x.Document.Type + ", " + r.subjectTitle(x.Document.Subject)
	} else if x.Wanted != nil {
		row.About = r.subjectTitle(records.Subject{Of: x.Wanted.Of, Code: x.Wanted.About})
	}
	if r.role >= lead && (x.Standing == audit.PaperMissing || x.Standing == audit.PaperExpired || x.Ends() && x.Left <= 90) {
		row.Replaces = addressed("/documents/new", "code", string(x.Code), "next", "/documents")
	}
	return row
}

func (r *request) calibrationRow(c *audit.Calibration) pages.Paper {
	row := pages.Paper{Code: string(c.Instrument.Code), Title: c.Instrument.Title.In(r.lang), Standing: "holds", Mark: "done", About: taskTitle(r.plan, c.Instrument.Calibration, r.lang)}
	switch {
	case c.Last == nil:
		row.Standing, row.Mark = "missing", "missed"
		return row
	case c.Lapsed:
		row.Standing, row.Mark, row.When = "expired", "failed", r.say("paper-since", r.moment(c.Holds))
	default:
		row.When = r.say("paper-days", c.Left, r.moment(c.Holds))
	}
	row.Href = entryHref(c.Last.Position)
	return row
}

func (r *request) trainingRow(t *audit.Trained) pages.Paper {
	row := pages.Paper{Title: t.Person.Name, About: t.Task.Title.In(r.lang), Standing: "holds", Mark: "done"}
	if t.On == nil {
		row.Standing, row.Mark = "missing", "missed"
		return row
	}
	row.When = r.say("trained-on", r.date(*t.On))
	if t.Record != nil {
		row.Href = entryHref(t.Record.Position)
	}
	return row
}

// subjectTitle is what a document is about.
func (r *request) subjectTitle(x records.Subject) string {
	switch x.Of {
	case "partner":
		return r.partnerName(records.PartnerCode(x.Code))
	case "station":
		return stationTitle(r.plan, records.StationCode(x.Code), r.lang)
	case "person":
		return personName(r.plan, records.PersonCode(x.Code))
	case "item":
		return r.itemTitle(records.ItemCode(x.Code))
	case "agent":
		if a := r.plan.Agent(records.AgentCode(x.Code)); a != nil {
			return a.Title.In(r.lang)
		}
	case "instrument":
		if in := r.plan.Instrument(records.InstrumentCode(x.Code)); in != nil {
			return in.Title.In(r.lang)
		}
	default:
		return r.say("the-plant")
	}
	return x.Code
}

// document is one code: how it stands, what relies on it, every time it was put on file.
func (s *Server) document(r *request) (reply, error) {
	rep := s.report()
	code := records.DocumentCode(r.params["code"])
	i := slices.IndexFunc(rep.Register(), func(p audit.Paper) bool { return p.Code == code })
	if i < 0 {
		return reply{}, notFound()
	}
	x := rep.Register()[i]
	relies := rep.ReliesOn(code)
	p := &pages.Document{Frame: s.frame(r, x.Title, "documents"), Code: string(code), Heading: x.Title, Standing: string(x.Standing), Mark: paperMarks[x.Standing], When: r.paperWhen(&x), Wanted: relies.Wanted}
	if x.Standing == audit.PaperMissing {
		p.When = ""
	}
	if r.role >= lead {
		p.File = addressed("/documents/new", "code", string(code), "next", documentHref(code))
	}
	for _, t := range relies.Tasks {
		p.Relies = append(p.Relies, pages.Notice{Text: t.Title.In(r.lang), Note: r.say("row-task")})
	}
	for _, a := range relies.Agents {
		p.Relies = append(p.Relies, pages.Notice{Text: a.Title.In(r.lang), Note: r.say("row-agent-of")})
	}
	for _, x := range relies.Partners {
		p.Relies = append(p.Relies, pages.Notice{Text: x.Name, Note: r.say("row-partner")})
	}
	for _, rec := range relies.Records[:min(reliesMost, len(relies.Records))] {
		p.Relies = append(p.Relies, pages.Notice{Text: r.say(kindKey(rec.Kind)), Note: r.moment(rec.Happened), Href: entryHref(rec.Position)})
	}
	if n := len(relies.Records) - reliesMost; n > 0 {
		p.Rest = r.say("and-more", n)
	}
	filings := rep.Filings(code)
	for i := range filings[:min(papersMost, len(filings))] {
		p.Filings = append(p.Filings, r.filing(&filings[i]))
	}
	return page(p)
}

func (r *request) filing(x *audit.Paper) pages.Filing {
	rec := x.Filing
	f := pages.Filing{Standing: string(x.Standing), Mark: paperMarks[x.Standing], When: r.paperWhen(x), Entry: entryHref(rec.Position), Who: personName(r.planAt(rec.Happened), rec.Performer()), Date: r.moment(rec.Recorded)}
	for _, row := range r.rows(rec) {
		if row.Name != r.say("row-file") {
			f.Rows = append(f.Rows, row)
		}
	}
	if x.By != nil {
		f.When = r.say("replaced-on", r.moment(x.By.Recorded))
	}
	if x.Document.File != nil {
		f.Download = "/document/" + url.PathEscape(string(x.Code)) + "/file/" + positionText(rec.Position)
		f.Rows = append(f.Rows, pages.Row{Name: r.say("row-file"), Value: x.Document.File.Name + " " + fileSize(x.Document.File.Size)})
	}
	return f
}

// documentFile sends the bytes of a filing to be kept: they are whatever somebody once put there, so they are never shown as part of a
// page. What they are is told by the bytes.
func (s *Server) documentFile(r *request) (reply, error) {
	pos, err := r.position()
	if err != nil {
		return reply{}, err
	}
	rec := r.view.State.Now(pos)
	if rec == nil {
		rec = r.view.State.First(pos)
	}
	fact, is := rec.Fact.(*records.Document)
	if !is || !r.within(rec.Happened) || fact.File == nil || string(fact.Code) != r.params["code"] {
		return reply{}, notFound()
	}
	data, err := s.Book.Blob(r.ctx, fact.File.SHA256)
	if err != nil {
		return reply{}, err
	}
	media, ending := documentMedia(data)
	if media == "" {
		media, ending = "application/octet-stream", "bin"
	}
	return reply{data: data, media: media, name: string(fact.Code) + "-" + positionText(pos) + "." + ending}, nil
}

// documentMedia is what a file is by its bytes, with the ending of its name; empty when it is none of what is put on file.
func documentMedia(data []byte) (media, ending string) {
	switch media = http.DetectContentType(data); media {
	case "application/pdf":
		return media, "pdf"
	case "image/jpeg":
		return media, "jpg"
	case "image/png":
		return media, "png"
	}
	return "", ""
}
