package server

import (
	"net/url"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/plan"
	"grainward/records/state"
	"grainward/server/pages"
)

// Sheets to print: one for each station, that leads a phone to the station's work; and log sheets for a day without power.

// base is the address that printed codes begin with.
func (s *Server) base() string { return strings.TrimSuffix(s.addresses()[0], "/") }

// paperOf is the size asked for, or the one that is likely in the printer: Letter where the plant weighs in pounds.
func (r *request) paperOf() string {
	if p := r.query.Get("paper"); p == "a4" || p == "letter" {
		return p
	}
	if r.plan.MassUnit() == "lb" {
		return "letter"
	}
	return "a4"
}

// sheets is where a lead chooses what to print.
func (s *Server) sheets(r *request) (reply, error) {
	p := &pages.Sheets{Frame: s.frame(r, r.say("sheets"), "sheets"), Paper: r.paperOf(), Day: r.plan.Day(r.now).String(), Only: s.Network == nil, Base: s.base()}
	for i := range r.plan.Stations {
		st := &r.plan.Stations[i]
		p.Stations = append(p.Stations, pages.Option{Value: string(st.Code), Title: st.Title.In(r.lang)})
	}
	for _, l := range pages.Languages() {
		p.Languages = append(p.Languages, pages.Option{Value: l, Chosen: l == r.lang})
	}
	return page(p)
}

// stationsAsked are the stations of a request: the one named, or all.
func (r *request) stationsAsked() (all []*plan.Station, err error) {
	code := records.StationCode(r.query.Get("station"))
	if code != "" {
		st := r.plan.Station(code)
		if st == nil {
			return nil, notFound()
		}
		return []*plan.Station{st}, nil
	}
	for i := range r.plan.Stations {
		all = append(all, &r.plan.Stations[i])
	}
	return all, nil
}

func (s *Server) stationSheets(r *request) (reply, error) {
	all, err := r.stationsAsked()
	if err != nil {
		return reply{}, err
	}
	p := &pages.StationSheets{Frame: s.frame(r, r.say("station-sheets"), "sheets"), Paper: r.paperOf()}
	for _, st := range all {
		sheet := pages.StationSheet{Code: string(st.Code)}
		for _, lang := range r.plantLanguages() {
			if title := st.Title.In(lang); !slices.ContainsFunc(sheet.Titles, func(have pages.Said) bool { return have.Text == title }) {
				sheet.Titles = append(sheet.Titles, pages.Said{Lang: lang, Text: title})
			}
			sheet.Scan = append(sheet.Scan, pages.Said{Lang: lang, Text: pages.Text(lang, "scan-station")})
			for _, c := range r.cautionsAt(st.Code, lang) {
				sheet.Cautions = append(sheet.Cautions, pages.Said{Lang: lang, Text: c})
			}
		}
		if sheet.QR, err = code(s.base() + "/crew?" + url.Values{"station": {string(st.Code)}}.Encode()); err != nil {
			return reply{}, err
		}
		p.Sheets = append(p.Sheets, sheet)
	}
	return page(p)
}

// plantLanguages are those of the plan that the pages speak; where it names none, the one of whoever asks.
func (r *request) plantLanguages() (all []string) {
	for _, l := range r.plan.Plant.Languages {
		if slices.Contains(pages.Languages(), l) && !slices.Contains(all, l) {
			all = append(all, l)
		}
	}
	if len(all) == 0 {
		return []string{r.lang}
	}
	return all
}

// cautionsMost is how many warnings a station's sheet has room for; all of them stand before the work itself.
const cautionsMost = 4

// cautionsAt are the warnings of a station's tasks, each once.
func (r *request) cautionsAt(station records.StationCode, lang string) (all []string) {
	for i := range r.plan.Tasks {
		t := &r.plan.Tasks[i]
		if !slices.Contains(t.Stations, station) {
			continue
		}
		for _, c := range t.Cautions {
			if text := c.Text.In(lang); !slices.Contains(all, text) && len(all) < cautionsMost {
				all = append(all, text)
			}
		}
	}
	return all
}

const logDaysMost = 7

// logSheets are blank log sheets for a day of every station, or up to a week of one.
func (s *Server) logSheets(r *request) (reply, error) {
	if l := r.query.Get("in"); slices.Contains(pages.Languages(), l) {
		r.lang = l
	}
	all, err := r.stationsAsked()
	if err != nil {
		return reply{}, err
	}
	first, err := calendar.ParseDate(r.query.Get("day"))
	if err != nil {
		first = r.plan.Day(r.now)
	}
	days := 1
	if r.query.Get("days") == "7" && r.query.Get("station") != "" {
		days = logDaysMost
	}
	p := &pages.LogSheets{Frame: s.frame(r, r.say("log-sheets"), "sheets"), Paper: r.paperOf()}
	rep := s.report()
	for i := range days {
		day := first.AddDays(i)
		g := gridOf(rep, r.plan, day, 1)
		for _, st := range all {
			blocks := r.logBlocks(g, st.Code)
			if len(blocks) == 0 {
				continue
			}
			made, err := s.logPages(r, st, day, blocks)
			if err != nil {
				return reply{}, err
			}
			p.Sheets = append(p.Sheets, made...)
		}
	}
	return page(p)
}

// logBlocks are the rows of a station's day: each window, and a blank or two for work that has no hour.
func (r *request) logBlocks(g *grid, station records.StationCode) (blocks []logBlock) {
	for i := range r.plan.Tasks {
		t := &r.plan.Tasks[i]
		if !slices.Contains(t.Stations, station) {
			continue
		}
		var windows []string
		for _, c := range g.cells[state.Duty{Task: t.Code, Station: station}] {
			for _, j := range c.windows {
				windows = append(windows, r.hour(j.Opens)+"–"+r.hour(j.Due))
			}
		}
		if len(windows) == 0 {
			windows = []string{r.say("as-needed")}
			if len(t.When) == 0 {
				windows = append(windows, r.say("as-needed"))
			}
		}
		for _, w := range windows {
			blocks = append(blocks, r.logBlock(t, w))
		}
	}
	return blocks
}

func (r *request) hour(at records.Instant) string {
	return at.Time().In(r.plan.Location()).Format("15:04")
}

// logBlock is one row with its height on paper.
type logBlock struct {
	pages.LogBlock
	task   *plan.Task
	height float64 // mm, as sheets.css makes it
}

// Heights of the parts of a log sheet in millimetres; sheets.css has the same. A page leaves what US Letter has less of than A4, so
// that the rows of a sheet lie on the same pages on either.
const (
	logPage  = 252.0 // of 279.4 less the margins and a rest
	logFrame = 74.0  // the head with its code, the foot with its signatures
	logLine  = 8.5   // one line to write on
	logGap   = 2.0   // between rows
	logWarn  = 4.6   // one line of a caution
	logHalf  = 40    // characters of a question that fit beside another
	logWide  = 112   // characters of a caution's line
)

func (r *request) logBlock(t *plan.Task, window string) logBlock {
	b := logBlock{LogBlock: pages.LogBlock{Task: t.Title.In(r.lang), Window: window, Second: t.Second, Lead: roleOf(t.Who) >= lead}, task: t}
	lines, half := 3, false // its head, how it went, and what was done about it
	for i := range t.Asks {
		a := &t.Asks[i]
		ask := pages.LogAsk{Title: a.Title.In(r.lang), Unit: a.Unit, Limits: r.limits(a), Choices: a.Choices}
		switch a.Type {
		case "yesno":
			ask.Choices = []string{r.say("yes"), r.say("no")}
		case "photo":
			ask.Choices = []string{r.say("photo-taken")}
		}
		n := utf8.RuneCountInString(ask.Title + ask.Limits + strings.Join(ask.Choices, "    "))
		ask.Wide = n > logHalf || a.Type == "text"
		switch {
		case ask.Wide:
			lines, half = lines+1+n/(2*logHalf+8), false
		case half:
			half = false
		default:
			lines, half = lines+1, true
		}
		b.Asks = append(b.Asks, ask)
	}
	if b.Second {
		lines++
	}
	b.height = float64(lines)*logLine + logGap
	return b
}

// logPages lays a station's rows out on pages.
func (s *Server) logPages(r *request, st *plan.Station, day calendar.Date, blocks []logBlock) (out []pages.LogSheet, err error) {
	sheet := sheetCode(st.Code, day)
	drawn, err := code(s.base() + "/paper?" + url.Values{"sheet": {sheet}}.Encode())
	if err != nil {
		return nil, err
	}
	var page pages.LogSheet
	used := 0.0
	start := func() {
		page = pages.LogSheet{Station: st.Title.In(r.lang), Day: r.dateWithYear(day), Code: sheet, QR: drawn}
		used = logFrame
	}
	start()
	for _, b := range blocks {
		more, height := r.room(page.Cautions, b)
		if len(page.Blocks) > 0 && used+height > logPage {
			out = append(out, page)
			start()
			more, height = r.room(nil, b)
		}
		page.Cautions = append(page.Cautions, more...)
		page.Blocks = append(page.Blocks, b.LogBlock)
		used += height
	}
	out = append(out, page)
	for i := range out {
		out[i].Page, out[i].Pages = i+1, len(out)
	}
	return out, nil
}

// room is the cautions a row brings to a page, and the height of both.
func (r *request) room(have []pages.Caution, b logBlock) (more []pages.Caution, height float64) {
	more, height = r.newCautions(have, b.task), b.height
	for _, c := range more {
		height += logWarn * float64(1+utf8.RuneCountInString(c.Text+c.Source)/logWide)
	}
	return more, height
}

func (r *request) newCautions(have []pages.Caution, t *plan.Task) (more []pages.Caution) {
	for _, c := range t.Cautions {
		one := pages.Caution{Text: c.Text.In(r.lang), Source: c.Source}
		if !slices.Contains(have, one) && !slices.Contains(more, one) {
			more = append(more, one)
		}
	}
	return more
}

// dateWithYear is a date for paper, which is kept longer than its year.
func (r *request) dateWithYear(day calendar.Date) string {
	y, _, _ := day.Civil()
	if text := r.date(day); strings.HasSuffix(text, strconv.Itoa(y)) {
		return text
	}
	return r.date(day) + " " + strconv.Itoa(y)
}

// sheetCode names a log sheet: a station's day.
func sheetCode(station records.StationCode, day calendar.Date) string {
	return string(station) + "." + day.String()
}

// readSheet is the station and the day of a sheet's code, as printed or scanned.
func (r *request) readSheet(text string) (station *plan.Station, day calendar.Date, ok bool) {
	text = strings.ToLower(strings.TrimSpace(text))
	i := strings.LastIndex(text, ".")
	if i < 0 {
		return nil, 0, false
	}
	day, err := calendar.ParseDate(text[i+1:])
	if err != nil {
		return nil, 0, false
	}
	p := r.planAt(r.plan.At(day, plan.DayTime{Clock: noon}))
	if station = p.Station(records.StationCode(text[:i])); station == nil {
		station = r.plan.Station(records.StationCode(text[:i]))
	}
	return station, day, station != nil
}
