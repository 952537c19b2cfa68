package server

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"grainward/records"
)

// as signs somebody in and gives a way to send an entry as them.
func (w *world) as(who records.PersonCode) func(method, path, media string, body []byte) answered {
	w.Helper()
	token := w.signedIn(who)
	return func(method, path, media string, body []byte) answered {
		w.Helper()
		req := httptest.NewRequest(method, "http://localhost"+path, bytes.NewReader(body))
		req.Header.Set("Content-Type", media)
		req.AddCookie(&http.Cookie{Name: cookieName, Value: token})
		return w.send(req)
	}
}

// replan adopts the plan with a change.
func (w *world) replan(old, fresh string) {
	w.Helper()
	text := thePlan()
	if !strings.Contains(text, old) {
		w.Fatalf("%q is not in the plan", old)
	}
	text = strings.ReplaceAll(text, old, fresh)
	w.write(records.Entry{By: "nora", Fact: &records.Adoption{Text: text, SHA256: hexOf(sum([]byte(text)))}})
}

// Whatever is wrong with what somebody sends, they are told in their language, with a code for the page that sent it; nothing is
// written, and what they had can be sent again when it has been put right.
func TestBadInputInBothLanguages(t *testing.T) {
	type say struct{ en, es string }
	jpeg := []byte("\xff\xd8\xff\xe0\x00\x10JFIF\x00 and then nothing")
	photo := func(b []byte) func(string) (string, string, string, []byte) {
		return func(string) (string, string, string, []byte) {
			return "PUT", "/api/photos/" + hexOf(sum(b)), "image/jpeg", b
		}
	}
	entry := func(change ...member) func(string) (string, string, string, []byte) {
		return func(as string) (string, string, string, []byte) {
			return "POST", "/api/entries", "application/json", draftJSON(as, change...)
		}
	}
	used := q(records.NewEntryID().String())
	for name, c := range map[string]struct {
		send   func(as string) (method, path, media string, body []byte)
		status int
		code   string
		says   say // in the detail
		wants  say // in what would be right of the first value at fault
	}{
		"no photo at all": {photo([]byte("%PDF-1.7 a paper")), 422, "invalid", say{"not a JPEG or PNG", "no es una imagen JPEG o PNG"}, say{}},
		"a damaged photo": {photo(jpeg), 422, "invalid", say{"damaged", "dañada"}, say{}},
		"an id used for something else": {entry(member{"id", used}, member{"fact", `{"task":"hygiene-check","station":"entrance","outcome":"failed"}`}), 409, "id-used",
			say{"already sent once", "ya se envió una vez"}, say{}},
		"of somebody else": {entry(member{"by", `"grete"`}), 403, "somebody-else", say{"Grete Holm", "Es de Grete Holm"}, say{}},
		"a station that is gone": {entry(member{"fact", `{"task":"hygiene-check","station":"entrence","outcome":"passed"}`}), 422, "invalid", say{"names what is not there", "Nombra algo que no existe: firma de trabajo"},
			say{"did you mean entrance?", "¿quiso decir entrance?"}},
		"a photo that was not sent": {entry(member{"fact", `{"task":"everything","station":"bench","outcome":"passed","answers":[{"ask":"picture","photo":"` + strings.Repeat("0f", 32) + `"}]}`}), 422, "invalid",
			say{"names what is not there", "Nombra algo que no existe"}, say{"send the file first", "envíe primero el archivo"}},
		"work of tomorrow": {entry(member{"happened", q("2026-03-10T07:30:00Z")}), 422, "invalid", say{"in the future", "en el futuro"}, say{"set the device's clock right", "ponga en hora el reloj"}},
		"before any plan":  {entry(member{"happened", q("2024-03-10T07:30:00Z")}), 422, "invalid", say{"no plan was in force", "ningún plan en vigor"}, say{"after a plan was adopted", "posterior a la adopción"}},
		"an unknown member": {entry(member{"colour", `"red"`}), 422, "invalid", say{"can not be read", "No se puede leer el registro"},
			say{"check its spelling", "revise cómo se escribe"}},
		"not JSON": {func(string) (string, string, string, []byte) {
			return "POST", "/api/entries", "application/json", []byte("<html>")
		}, 400, "body-not-json", say{"not JSON", "no es JSON"}, say{}},
		"for a lead": {entry(member{"kind", `"release"`}, member{"fact", `{"lots":["L1"],"why":"w"}`}), 403, "role", say{"lead", "responsable"}, say{}},
	} {
		for _, as := range []records.PersonCode{"hank", "lucia"} {
			t.Run(name+" "+string(as), func(t *testing.T) {
				w := plant(t)
				send := w.as(as)
				w.enteredOf(send("POST", "/api/entries", "application/json", draftJSON(string(as), member{"id", used})), 201)
				before := w.size()
				method, path, media, body := c.send(string(as))
				a := send(method, path, media, body)
				d := w.problemOf(a, c.status)
				want, value := c.says.en, c.wants.en
				if as == "lucia" {
					want, value = c.says.es, c.wants.es
				}
				if d.Code != c.code || !strings.Contains(strings.ToLower(d.Detail), strings.ToLower(want)) {
					t.Errorf("%+v\nis not %q", d, want)
				}
				if value != "" && (len(d.Errors) == 0 || !strings.Contains(d.Errors[0].Want, value)) {
					t.Errorf("%+v\nis not %q", d.Errors, value)
				}
				if w.size() != before {
					t.Error("it wrote")
				}
			})
		}
	}
}

// A photo that is too large is refused before it is read, in the language of whose sign-in came with it.
func TestPhotoTooLargeInBothLanguages(t *testing.T) {
	w := plant(t)
	base := w.serve()
	for who, want := range map[records.PersonCode]string{"hank": "Pictures may be 16 MiB at most", "lucia": "Las imágenes pueden ocupar 16 MiB como máximo"} {
		token := w.signedIn(who)
		req, err := http.NewRequest("PUT", base+"/api/photos/"+strings.Repeat("0", 64), io.LimitReader(zeros{}, 1))
		if err != nil {
			t.Fatal(err)
		}
		conn, err := net.Dial("tcp", req.URL.Host)
		if err != nil {
			t.Fatal(err)
		}
		defer conn.Close()
		// only the head: it says how much would come
		if _, err := fmt.Fprintf(conn, "PUT %s HTTP/1.1\r\nHost: %s\r\nCookie: %s=%s\r\nContent-Type: image/png\r\nContent-Length: %d\r\n\r\n", req.URL.Path, req.URL.Host, cookieName, token, records.MaxBlob+1); err != nil {
			t.Fatal(err)
		}
		res, err := http.ReadResponse(bufio.NewReader(conn), req)
		if err != nil {
			t.Fatal(err)
		}
		defer res.Body.Close()
		b, err := io.ReadAll(res.Body)
		if err != nil || res.StatusCode != 413 || !strings.Contains(string(b), want) {
			t.Errorf("%s: %d %s %v", who, res.StatusCode, b, err)
		}
	}
}

// A phone comes back after a month: its sign-in has ended, and what it holds is taken all the same when its owner has signed in, each
// thing once, in whatever order and however often it is sent. That it came late is for the audit to say.
func TestQueueOfAMonth(t *testing.T) {
	w := plant(t)
	const n = 120
	var queue [][]byte
	for i := range n {
		happened := at("2026-03-09T07:30:00-04:00").Add(time.Duration(i) * 6 * time.Minute)
		queue = append(queue, draftJSON("hank", member{"happened", q(happened.String())}))
	}
	w.clock.add(31 * 24 * time.Hour)
	before := w.size()
	d := w.problemOf(w.enter1(crew, queue[0]), 401)
	if d.Code != "sign-in-first" || !strings.Contains(d.Detail, "send it again") || w.size() != before {
		t.Errorf("%+v", d)
	}
	send := w.as("hank")
	for i := range queue {
		w.enteredOf(send("POST", "/api/entries", "application/json", queue[len(queue)-1-i]), 201)
	}
	for _, body := range queue {
		if got := w.enteredOf(send("POST", "/api/entries", "application/json", body), 200); !got.Already {
			t.Errorf("%+v", got)
		}
	}
	if w.size() != before+n {
		t.Errorf("%d entries of %d", w.size()-before, n)
	}
	late := 0
	for _, f := range w.report().Findings {
		if f.Rule == "late-entry" {
			late++
		}
	}
	if late == 0 {
		t.Error("nothing says that it was written down late")
	}
}

// The plan changed while the phone was away: work of before the change is taken by the plan of then; work after it, on a task that
// is gone, is told with its name, and can be written down as what it was.
func TestPlanChangedWhileAway(t *testing.T) {
	w := plant(t)
	draft := func(happened string, more ...member) []byte {
		return draftJSON("lucia", append([]member{{"happened", q(happened)}}, more...)...)
	}
	w.clock.add(2 * time.Hour)
	w.replan("hygiene-check", "hygiene-round")
	w.clock.add(2 * time.Hour)
	send := w.as("lucia")
	w.enteredOf(send("POST", "/api/entries", "application/json", draft("2026-03-09T08:00:00-04:00")), 201)
	after := draft("2026-03-09T10:00:00-04:00")
	d := w.problemOf(send("POST", "/api/entries", "application/json", after), 422)
	if d.Errors[0].Field != "fact.task" || d.Errors[0].Given != "hygiene-check" || !strings.Contains(d.Errors[0].Want, "no tiene eso (tarea)") {
		t.Errorf("%+v", d)
	}
	w.enteredOf(send("POST", "/api/entries", "application/json", draft("2026-03-09T10:00:00-04:00", member{"kind", `"deviation"`}, member{"fact", `{"what":"Control hecho según el plan anterior."}`})), 201)
}

// Somebody retired meanwhile: they can not sign in, and nobody signs for them. A lead writes their work down under their own name, and
// whose it was stays on record.
func TestRetiredMeanwhile(t *testing.T) {
	w := plant(t)
	body := draftJSON("hank")
	w.clock.add(10 * time.Minute)
	w.replan("    name: Hank Osgood\n", "    name: Hank Osgood\n    until: 2026-03-08\n")
	before := w.size()
	w.problemOf(w.enter1(crew, body), 401)
	if d := w.problemOf(w.enter1(lead, body), 403); d.Code != "somebody-gone" || d.Needs != "hank" || !strings.Contains(d.Detail, "a lead can write it down under their own name") {
		t.Errorf("%+v", d)
	}
	d := w.problemOf(w.as("lucia")("POST", "/api/entries", "application/json", body), 403)
	if d.Code != "somebody-gone" || !strings.Contains(d.Detail, "ya no está en la planta") || w.size() != before {
		t.Errorf("%+v", d)
	}
	w.enteredOf(w.enter1(lead, draftJSON("nora", member{"paper", `{"whose":"hank"}`})), 201)
	if e := w.last(); e.By != "nora" || e.Performer() != "hank" {
		t.Errorf("%+v", e)
	}
	// they had written down before what stays theirs, and a repeat of it is known to be one whoever sends it
	first := w.Book.View().State.First(w.first).Entry
	row, err := records.Format(first)
	if err != nil {
		t.Fatal(err)
	}
	var m map[string]json.RawMessage
	if err := json.Unmarshal(row.Bytes, &m); err != nil {
		t.Fatal(err)
	}
	delete(m, "recorded")
	sent, err := json.Marshal(m)
	if err != nil {
		t.Fatal(err)
	}
	if got := w.enteredOf(w.enter1(lead, sent), 200); !got.Already || got.Position != w.first {
		t.Errorf("%+v", got)
	}
}

// A lot that no longer exists, or never did: grain that nobody wrote down is there all the same. It is taken, and told as a finding.
func TestLotThatIsGone(t *testing.T) {
	w := plant(t)
	w.enteredOf(w.enter1(crew, draftJSON("hank", member{"kind", `"move"`}, member{"fact", `{"lot":"GONE-1","from":"silo-1","to":"silo-2","weight":{"mass":"100 kg"}}`})), 201)
	if !strings.Contains(w.ask(crew, "/api/findings?lot=GONE-1", nil).body, "GONE-1") {
		t.Error("no finding tells of it")
	}
	w.wants(w.ask(crew, "/api/lots/GONE-1", nil), 200, `"code":"GONE-1"`)
	if d := w.problemOf(w.ask(crew, "/api/lots/GONE-2", nil), 404); d.Code != "not-found" {
		t.Errorf("%+v", d)
	}
}

// A double tap of a form and a repeat through the interface, side by side, are one entry.
func TestFormAndInterfaceAreOneDoor(t *testing.T) {
	w := plant(t)
	before := w.size()
	v := signing("hank")
	w.wants(w.ask(crew, hygiene, v), 303)
	e := w.last()
	body := draftJSON("hank", member{"id", q(e.ID.String())}, member{"happened", q(e.Happened.String())})
	var wg sync.WaitGroup
	for i := range 16 {
		wg.Go(func() {
			if i%2 == 0 {
				if got := w.ask(crew, hygiene, v); got.StatusCode != 303 {
					t.Error(got.StatusCode)
				}
				return
			}
			if got := w.enter1(crew, body); got.StatusCode != 200 || !strings.Contains(got.body, `"already":true`) {
				t.Error(got.StatusCode, got.body)
			}
		})
	}
	wg.Wait()
	if w.size() != before+1 {
		t.Errorf("%d entries", w.size()-before)
	}
	d := w.problemOf(w.enter1(crew, draftJSON("hank", member{"id", q(e.ID.String())}, member{"happened", q(e.Happened.Add(-time.Hour).String())})), 409)
	if d.Position == nil || *d.Position != before || fmt.Sprint(*d.Position) != fmt.Sprint(w.size()-1) {
		t.Errorf("%+v", d)
	}
}
