package server

import (
	"encoding/json"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"grainward/audit"
	"grainward/records"
	"grainward/records/plan"
	"grainward/records/state"
	"grainward/server/pages"
)

func (s *Server) entry(r *request) (reply, error) {
	pos, err := r.position()
	if err != nil {
		return reply{}, err
	}
	st := r.view.State
	first, now := st.First(pos), st.Now(pos)
	if !r.shows(first, now) {
		return reply{}, notFound()
	}
	leaf, err := s.Book.Leaf(pos)
	if err != nil {
		return reply{}, err
	}
	p := &pages.Entry{Frame: s.frame(r, r.say("position", positionText(pos)), ""), Position: positionText(pos), Kind: string(kindWord(first.Kind)), Who: personName(r.planAt(first.Happened), first.By),
		Meaning: string(first.Meaning), Happened: r.exactly(first.Happened), Recorded: r.exactly(first.Recorded), Device: string(first.Device), Leaf: hexOf(leaf[:]), Proof: "/proof/" + positionText(pos)}
	if first.Paper != nil {
		p.Typed = personName(r.planAt(first.Happened), first.By)
		p.Who = personName(r.planAt(first.Happened), first.Performer())
		if first.Paper.Sheet != "" {
			p.Sheet = "/photo/" + first.Paper.Sheet
		}
	}
	if first.DeviceTime != 0 {
		p.DeviceTime = r.exactly(first.DeviceTime)
	}
	p.Withdrawn = now == nil
	if first.Kind == records.KindCorrect {
		p.Withdrawn = undone(st, pos)
	}
	p.Corrected = now != nil && now.Corrected != nil
	if now != nil {
		p.Now = r.rows(now)
		p.Who = personName(r.planAt(now.Happened), now.Performer())
		p.Happened = r.exactly(now.Happened)
	}
	if p.Withdrawn || p.Corrected {
		p.First = append([]pages.Row{{Name: r.say("signed-by"), Value: personName(r.planAt(first.Happened), first.Performer())}, {Name: r.say("happened"), Value: r.exactly(first.Happened)}}, r.rows(first)...)
	}
	for _, at := range chain(st, pos) {
		c := st.First(at)
		fact := c.Fact.(*records.Correct)
		p.Corrections = append(p.Corrections, pages.Correction{Href: entryHref(at), Position: positionText(at), Who: personName(r.planAt(c.Happened), c.By),
			When: r.exactly(c.Recorded), Reason: fact.Reason, Withdraws: fact.Withdraw})
	}
	if !p.Withdrawn && r.mayFix(first) {
		p.Fix = "/correct/" + positionText(pos)
		if first.Kind != records.KindSignoff {
			p.Fix = "/reword/" + positionText(pos)
		}
	}
	return page(p)
}

// chain is every correction of an entry, and of those, in journal order.
func chain(st *state.State, pos records.Position) (all []records.Position) {
	for _, at := range st.Corrections(pos) {
		all = append(append(all, at), chain(st, at)...)
	}
	slices.Sort(all)
	return all
}

// undone says whether a correction was itself withdrawn: by the latest correction of it that still stands.
func undone(st *state.State, pos records.Position) bool {
	all := st.Corrections(pos)
	for i := len(all) - 1; i >= 0; i-- {
		if !undone(st, all[i]) {
			return st.First(all[i]).Fact.(*records.Correct).Withdraw
		}
	}
	return false
}

// kindWord is a kind the pages have a word for.
func kindWord(k records.Kind) records.Kind {
	if pages.Text("en", "kind-"+string(k)) == "kind-"+string(k) {
		return "other"
	}
	return k
}

func kindKey(k records.Kind) string { return "kind-" + string(kindWord(k)) }

// rows words what an entry says.
func (r *request) rows(rec *state.Record) (rows []pages.Row) {
	p := r.planAt(rec.Happened)
	add := func(key, value string) {
		if value != "" {
			rows = append(rows, pages.Row{Name: r.say(key), Value: value})
		}
	}
	duty := func(t records.TaskCode, s records.StationCode) {
		add("row-task", taskTitle(p, t, r.lang))
		add("row-station", stationTitle(p, s, r.lang))
	}
	link := func(key string, id records.EntryID) {
		if pos, ok := r.view.State.Find(id); ok {
			rows = append(rows, pages.Row{Name: r.say(key), Value: r.say("position", positionText(pos)), Href: entryHref(pos)})
		}
	}
	switch f := rec.Fact.(type) {
	case *records.Signoff:
		duty(f.Task, f.Station)
		return append(rows, r.signoffRows(p, f)...)
	case *records.Deviation:
		duty(f.Task, f.Station)
		add("row-what", f.What)
		add("row-action", f.Action)
		x := &factRows{request: r, plan: p, rows: rows}
		x.lots(f.Lots)
		rows = x.rows
		for _, id := range f.Entries {
			if shown, is := r.factOf(id).(*records.Document); is && shown.File != nil {
				rows = append(rows, pages.Row{Name: r.say("row-photo"), Value: shown.Title, Href: "/photo/" + shown.File.SHA256})
				continue
			}
			link("evidence", id)
		}
	case *records.Answer:
		add("row-finding", f.Finding)
		if !f.Deviation.IsZero() {
			link("row-deviation", f.Deviation)
		}
		add("cause", f.Cause)
		add("answer-action", f.Action)
		add("lots", f.Lots)
		add("prevention", f.Prevention)
		closes := "closes-no"
		if f.Closes {
			closes = "closes-yes"
		}
		add("closes", r.say(closes))
	case *records.Review:
		add("row-from", positionText(f.From))
		add("row-to", positionText(f.To))
		for _, id := range f.Except {
			link("row-except", id)
		}
		add("row-note", f.Note)
	case *records.Excuse:
		duty(f.Task, f.Station)
		add("row-from", r.exactly(f.From))
		add("row-to", r.exactly(f.To))
		add("row-reason", f.Reason)
	case *records.Document:
		add("row-document", f.Title+" ("+string(f.Code)+")")
		add("row-type", f.Type)
		add("row-about", r.subjectTitle(f.Subject))
		add("row-issuer", f.Issuer)
		add("row-number", f.Number)
		if f.From != nil {
			add("row-from", f.From.String())
		}
		if f.To != nil {
			add("row-to", f.To.String())
		}
		if f.File != nil {
			rows = append(rows, pages.Row{Name: r.say("row-file"), Value: strings.TrimSpace(f.File.Name + " " + fileSize(f.File.Size) + ", " + f.File.Media), Href: fileHref(rec.Position, f)})
			add("row-file-hash", f.File.SHA256)
		}
		add("row-note", f.Note)
	case *records.Correct:
		link("row-target", f.Target)
		add("row-reason", f.Reason)
		if f.Withdraw {
			add("row-withdraws", r.say("yes"))
		} else if f.With != nil {
			rows = append(rows, r.rows(r.replaced(rec, f))...)
		}
	case *records.Adoption:
		add("row-plan-hash", f.SHA256)
		add("row-note", f.Note)
		rows = append(rows, pages.Row{Name: r.say("row-plan-text"), Value: f.Text, Long: true})
	default:
		if x := (&factRows{request: r, plan: p}); x.goods(rec.Fact) {
			return x.rows
		}
		// a kind these pages do not know yet is shown as it is stored
		if b, err := json.MarshalIndent(rec.Fact, "", "  "); err == nil {
			rows = append(rows, pages.Row{Name: r.say("row-says"), Value: string(b), Long: true})
		}
	}
	return rows
}

// fileHref is where the file of a document is: a picture is shown, all else is kept.
func fileHref(at records.Position, f *records.Document) string {
	if strings.HasPrefix(f.File.Media, "image/") {
		return "/photo/" + f.File.SHA256
	}
	return "/document/" + url.PathEscape(string(f.Code)) + "/file/" + positionText(at)
}

// factOf is the fact of an entry, or nil.
func (r *request) factOf(id records.EntryID) records.Fact {
	if pos, ok := r.view.State.Find(id); ok {
		return r.view.State.First(pos).Fact
	}
	return nil
}

// replaced is what a correction puts in place, as a record of its own.
func (r *request) replaced(rec *state.Record, f *records.Correct) *state.Record {
	e := rec.Entry
	e.Kind, e.Fact = f.With.Kind, f.With.Fact
	if root := r.view.State.First(r.view.State.Root(rec.Position)); root != nil {
		e.Happened = root.Happened
	}
	if f.With.Happened != 0 {
		e.Happened = f.With.Happened
	}
	return &state.Record{Position: rec.Position, Entry: e}
}

func (r *request) signoffRows(p *plan.Plan, f *records.Signoff) (rows []pages.Row) {
	add := func(key, value string) {
		if value != "" {
			rows = append(rows, pages.Row{Name: r.say(key), Value: value})
		}
	}
	t := p.Task(f.Task)
	outside := audit.Check(t, f).Outside
	if f.Window != 0 {
		add("row-window", r.exactly(f.Window))
	}
	add("row-outcome", r.say(string(f.Outcome)))
	for _, a := range f.Answers {
		row := pages.Row{Name: string(a.Ask), Value: r.answerText(a)}
		if t != nil {
			if ask := t.Ask(a.Ask); ask != nil {
				row.Name = ask.Title.In(r.lang)
				row.Outside = slices.Contains(outside, ask)
			}
		}
		if a.Photo != "" {
			row.Href = "/photo/" + a.Photo
		}
		rows = append(rows, row)
	}
	for _, use := range f.Agents {
		name := string(use.Agent)
		if a := p.Agent(use.Agent); a != nil {
			name = a.Title.In(r.lang)
		}
		if use.Strength != nil {
			name += ", " + use.Strength.String()
		}
		if use.Lot != "" {
			name += " (" + use.Lot + ")"
		}
		add("row-agent", name)
	}
	add("row-action", f.Action)
	add("row-lots", joined(f.Lots))
	if f.Second != "" {
		add("row-second", personName(p, f.Second))
	}
	for _, who := range f.Trainees {
		add("row-trainees", personName(p, who))
	}
	add("row-note", f.Note)
	return rows
}

func joined(lots []records.LotCode) string {
	var words []string
	for _, l := range lots {
		words = append(words, string(l))
	}
	return strings.Join(words, ", ")
}

// photo sends a picture to look at, and any other document as a file to keep: its bytes are whatever somebody once put
// there, and must not be taken for a page.
func (s *Server) photo(r *request) (reply, error) {
	key := r.params["key"]
	data, err := s.Book.Blob(r.ctx, key)
	if err != nil {
		return reply{}, err
	}
	if isPicture(data) {
		return reply{data: data, media: http.DetectContentType(data), keep: true}, nil
	}
	return reply{data: data, media: "application/octet-stream", name: key[:12] + ".bin", keep: true}, nil
}
