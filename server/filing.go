package server

import (
	"path/filepath"
	"strings"

	"grainward/records"
	"grainward/server/pages"
)

// documentForm puts a document on file: a new one, or a newer one of a code that is there.
func (s *Server) documentForm(r *request) (reply, error) {
	return page(s.filePage(r, nil))
}

func (s *Server) filePage(r *request, ms []pages.Message) *pages.Form {
	f := s.form(r, "file-document", "documents", "sign-document")
	f.To, f.Messages, f.Intro = "/documents", ms, r.say("file-intro")
	rep := s.report()
	code := records.DocumentCode(r.value("code"))
	have := &records.Document{}
	for _, x := range rep.Register() {
		if x.Code != code || code == "" {
			continue
		}
		f.About = []pages.Notice{{Text: x.Title, Note: r.paperWhen(&x), Href: documentHref(x.Code)}}
		have.Title = x.Title
		if x.Document != nil {
			have.Type, have.Issuer, have.Subject, have.Number = x.Document.Type, x.Document.Issuer, x.Document.Subject, ""
		} else if x.Wanted != nil {
			have.Subject = records.Subject{Of: x.Wanted.Of, Code: x.Wanted.About}
		}
	}
	with := func(f pages.FormField, value string) pages.FormField {
		if _, sent := r.form[f.Name]; !sent && f.Value == "" {
			f.Value = value
		}
		return f
	}
	subject := r.pick("subject", "paper-about", "the-plant", r.subjects())
	if _, sent := r.form["subject"]; !sent {
		for i := range subject.Options {
			subject.Options[i].Chosen = subject.Options[i].Value == subjectValue(have.Subject)
		}
	}
	f.Fields = []pages.FormField{
		r.hinted(pages.FormField{Type: "file", Name: "file", Label: r.say("paper-file"), Value: "application/pdf,image/jpeg,image/png", Kept: r.form.Get("kept.file")}, "paper-file-hint"),
		with(r.line("title", "paper-title", 200), have.Title),
		r.hinted(with(r.line("type", "paper-type", 60), have.Type), "paper-type-hint"),
		r.hinted(r.line("code", "paper-code", 40), "paper-code-hint"),
		subject,
		with(r.line("issuer", "row-issuer", 200), have.Issuer),
		r.line("number", "row-number", 100),
		r.hinted(r.dateField("from", "paper-first"), "paper-open-hint"),
		r.hinted(r.dateField("to", "paper-last"), "paper-open-hint"),
		r.area("note", "note"),
	}
	if name := r.form.Get("filename"); name != "" {
		f.Hidden = []pages.Field{{Name: "filename", Value: name}}
	}
	return f
}

// kindsOf names what a subject is.
var kindsOf = map[string]string{"partner": "row-partner", "agent": "row-agent-of", "instrument": "of-instrument", "person": "of-person", "item": "of-item", "station": "row-station"}

// subjects are what a document can be about besides the plant.
func (r *request) subjects() (out []pages.Option) {
	add := func(of, code, title string) {
		out = append(out, pages.Option{Value: of + ":" + code, Title: r.say(kindsOf[of]) + ": " + title})
	}
	for i := range r.plan.Partners {
		add("partner", string(r.plan.Partners[i].Code), r.plan.Partners[i].Name)
	}
	for i := range r.plan.Agents {
		add("agent", string(r.plan.Agents[i].Code), r.plan.Agents[i].Title.In(r.lang))
	}
	for i := range r.plan.Instruments {
		add("instrument", string(r.plan.Instruments[i].Code), r.plan.Instruments[i].Title.In(r.lang))
	}
	for i := range r.plan.People {
		add("person", string(r.plan.People[i].Code), r.plan.People[i].Name)
	}
	for i := range r.plan.Items {
		add("item", string(r.plan.Items[i].Code), r.plan.Items[i].Title.In(r.lang))
	}
	for i := range r.plan.Stations {
		add("station", string(r.plan.Stations[i].Code), r.plan.Stations[i].Title.In(r.lang))
	}
	return out
}

func subjectValue(x records.Subject) string {
	if x.Of == "" || x.Of == "plant" {
		return ""
	}
	return x.Of + ":" + x.Code
}

// keepDocument puts the file of a form beside the journal and notes its key in the form, so that it comes back with it.
func (s *Server) keepDocument(r *request, x *sheet) error {
	data, sent := r.files["file"]
	r.files = nil
	if !sent {
		return nil
	}
	media, _ := documentMedia(data)
	switch {
	case len(data) > records.MaxBlob:
		x.fault("file", r.say("file-large"))
		return nil
	case media == "":
		x.fault("file", r.say("file-wrong"))
		return nil
	}
	key, err := s.Book.PutBlob(r.ctx, data)
	if err != nil {
		return err
	}
	r.form.Set("kept.file", key)
	r.form.Set("filename", fileName(r.names["file"]))
	return nil
}

// fileName is the last part of the name a browser sent, as text and not too long.
func fileName(name string) string {
	name = filepath.Base(strings.ReplaceAll(strings.ToValidUTF8(name, ""), "\\", "/"))
	if name == "." || name == "/" {
		return ""
	}
	if runes := []rune(name); len(runes) > 200 {
		name = string(runes[len(runes)-200:])
	}
	return name
}

func (s *Server) fileDocument(r *request) (reply, error) {
	x := r.sheet()
	if err := s.keepDocument(r, x); err != nil {
		return reply{}, err
	}
	fact := &records.Document{Code: records.DocumentCode(x.text("code", 40, "paper-code")), Title: x.text("title", 200, "paper-title"), Type: x.text("type", 60, "paper-type"),
		Subject: records.Subject{Of: "plant"}, Issuer: x.text("issuer", 200, ""), Number: x.text("number", 100, ""), From: x.date("from"), To: x.date("to"), Note: x.text("note", textMost, "")}
	if of, code, named := strings.Cut(r.form.Get("subject"), ":"); named {
		fact.Subject = records.Subject{Of: of, Code: code}
	}
	if err := records.CheckCode(string(fact.Code)); err != nil && fact.Code != "" {
		x.fault("code", r.say("paper-code-wrong", string(fact.Code)))
	}
	if fact.From != nil && fact.To != nil && *fact.To < *fact.From {
		x.fault("to", r.say("days-reversed"))
	}
	key := r.form.Get("kept.file")
	if key == "" && !x.about("file") {
		x.fault("file", r.say("file-missing"))
	}
	if key != "" {
		data, err := s.Book.Blob(r.ctx, key)
		if err != nil {
			return reply{}, err
		}
		media, _ := documentMedia(data)
		fact.File = &records.File{SHA256: key, Size: int64(len(data)), Media: media, Name: fileName(r.form.Get("filename"))}
	}
	_, ms, err := s.signEntry(r, r.entryOfForm(records.Received, fact, 0), false, x.ms)
	if err != nil {
		return reply{}, err
	}
	if len(ms) > 0 {
		return again(s.filePage(r, ms))
	}
	return redirect(documentHref(fact.Code))
}

// about says whether a fault of a field was found already.
func (x *sheet) about(field string) bool {
	for _, m := range x.ms {
		if m.Field == field {
			return true
		}
	}
	return false
}
