package server

import (
	"crypto/sha256"
	"net/http"
	"strings"

	"grainward/records"
	"grainward/server/pages"
)

func (s *Server) deviationForm(r *request) (reply, error) { return page(s.deviationPage(r, nil)) }

func (s *Server) deviationPage(r *request, ms []pages.Message) *pages.Form {
	f := s.form(r, "report-deviation", "deviation", "sign-deviation")
	f.Intro, f.Messages = r.say("deviation-intro"), ms
	f.Fields = []pages.FormField{
		r.area("what", "row-what"),
		r.pick("station", "where", "at-no-station", r.stationOptions()),
		r.pick("task", "deviation-task", "at-no-task", r.taskOptions()),
		r.hinted(r.line("lots", "deviation-lots", 1000), "lots-hint"),
		r.area("action", "deviation-action"),
		r.hinted(pages.FormField{Type: "file", Name: "photo", Label: r.say("deviation-photo"), Value: "image/jpeg,image/png", Kept: r.form.Get("kept.photo")}, "photo-hint"),
		r.hinted(pages.FormField{Type: "when", Name: "when", Label: r.say("deviation-when"), Value: r.value("when")}, "when-hint"),
	}
	return f
}

// deviation writes down that something went wrong. Its photo is put on file as a document of its own, which the deviation names.
func (s *Server) deviation(r *request) (reply, error) {
	wrong, err := s.keepPhotos(r)
	if err != nil {
		return reply{}, err
	}
	x := r.sheet()
	for field, text := range wrong {
		x.fault(field, text)
	}
	fact := &records.Deviation{What: x.text("what", textMost, "row-what"), Station: records.StationCode(x.form.Get("station")), Task: records.TaskCode(x.form.Get("task")),
		Lots: x.lots("lots"), Action: x.text("action", textMost, "")}
	when := x.when("when")
	e := r.entryOfForm(records.Performed, fact, when)
	if key := r.form.Get("kept.photo"); key != "" {
		shown, err := s.photoOf(r, e, key)
		if err != nil {
			return reply{}, err
		}
		fact.Entries = []records.EntryID{shown.ID}
		if _, sent, _ := s.written(e, when != 0); !sent && len(x.ms) == 0 {
			if _, x.ms, err = s.put(r, shown, true); err != nil {
				return reply{}, err
			}
		}
	}
	at, ms, err := s.signEntry(r, e, when != 0, x.ms)
	if err != nil {
		return reply{}, err
	}
	if len(ms) > 0 {
		return again(s.deviationPage(r, ms))
	}
	return redirect(entryHref(at))
}

// photoOf is the document by which a deviation's photo is on file. Its id follows from the deviation's and the photo, so that a
// second tap files it once, and another photo is another document.
func (s *Server) photoOf(r *request, e records.Entry, key string) (records.Entry, error) {
	data, err := s.Book.Blob(r.ctx, key)
	if err != nil {
		return records.Entry{}, err
	}
	id := records.EntryID(e.ID)
	sum := sha256.Sum256(append(id[:], key...))
	copy(id[6:], sum[:])
	id[6], id[8] = id[6]&0x0f|0x70, id[8]&0x3f|0x80 // still a version 7 id, RFC 9562 5.7
	fact := &records.Document{Code: records.DocumentCode("photo-" + strings.ReplaceAll(id.String(), "-", "")), Title: pages.Text("en", "photo-of-deviation"), Type: photoType,
		Subject: records.Subject{Of: "plant"}, File: &records.File{SHA256: key, Size: int64(len(data)), Media: http.DetectContentType(data)}}
	when := e.Happened
	if pos, ok := r.view.State.Find(id); ok {
		when = r.view.State.First(pos).Happened
	}
	return records.Entry{ID: id, Happened: when, By: e.By, Meaning: records.Performed, Kind: records.KindDocument, Fact: fact}, nil
}

// photoType is what a document is that only shows something.
const photoType = "photo"
