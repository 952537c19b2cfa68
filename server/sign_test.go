package server

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"net/url"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"grainward/records"
)

// full are the fields of a sign-off of the task that asks for everything.
func full(as string, change ...string) url.Values {
	v := url.Values{"id": {records.NewEntryID().String()}, "as": {as}, "outcome": {"passed"}, "a-cold": {"-4,5"}, "a-clean": {"yes"},
		"a-colour": {"pale"}, "a-words": {"as always"}, "agent": {"ozone-water"}, "lot-ozone-water": {"D-7"}, "second": {"grete"}}
	for i := 0; i < len(change); i += 2 {
		v.Set(change[i], change[i+1])
	}
	return v
}

const everything = "/sign/everything/bench"

func (w *world) last() records.Entry {
	st := w.Book.View().State
	return st.First(st.Size() - 1).Entry
}

func TestSignOff(t *testing.T) {
	w := plant(t)
	got := w.ask(crew, everything, full("hank"))
	w.wants(got, 303)
	e := w.last()
	f := e.Fact.(*records.Signoff)
	if e.By != "hank" || e.Meaning != records.Performed || e.Happened != w.clock.now() || f.Answers[0].Value.String() != "-4.5 degF" || !*f.Answers[1].Yes ||
		f.Answers[2].Choice != "pale" || f.Answers[3].Text != "as always" || f.Agents[0].Lot != "D-7" || f.Second != "grete" || f.Outcome != records.Passed {
		t.Errorf("%+v %+v", e, f)
	}
	w.wants(w.ask(crew, got.to(), nil), 200, "Written down", "Everything a task can ask", "It passes by the plan.", "Next at this station")
	w.wants(w.ask(crew, "/entry/"+fmt.Sprint(w.size()-1), nil), 200, "-4.5 degF", "as always", "Ozonated water (D-7)", "Grete Holm", "performed", "Correct this entry")
}

// The window of the form is the one that is answered, and the work moves from now to done.
func TestWindowIsAnswered(t *testing.T) {
	w := plant(t)
	got := w.ask(crew, "/station/entrance", nil)
	link := regexp.MustCompile(`href="(/sign/hygiene-check/entrance\?window=[^"]+)"`).FindStringSubmatch(got.body)
	if link == nil {
		t.Fatal(got.body)
	}
	got = w.ask(crew, strings.ReplaceAll(link[1], "&amp;", "&"), nil)
	w.wants(got, 200, "by 13:00", "To do")
	window := hidden(got.body, "window")
	if window == "" || hidden(got.body, "id") == "" || hidden(got.body, "as") != "hank" {
		t.Fatal(got.body)
	}
	v := signing("hank")
	v.Set("window", window)
	w.wants(w.ask(crew, hygiene, v), 303)
	if f := w.last().Fact.(*records.Signoff); f.Window.String() != window {
		t.Error(f.Window)
	}
	got = w.ask(crew, "/station/entrance", nil)
	_, done, _ := strings.Cut(got.body, "Done and closed today")
	if strings.Contains(got.body, "/sign/hygiene-check/entrance?window="+url.QueryEscape(window)) || !strings.Contains(done, "Before the shift") || !strings.Contains(done, "Hank Osgood, 07:30") {
		t.Error(got.body)
	}
}

func hidden(body, name string) string {
	m := regexp.MustCompile(`<input type="hidden" name="` + name + `" value="([^"]*)"`).FindStringSubmatch(body)
	if m == nil {
		return ""
	}
	return m[1]
}

// Out of the limits: the same form comes back with everything in it, asks for the action, and nothing is written until there is one or
// it is said that there was none.
func TestOutsideAsksForTheAction(t *testing.T) {
	w := plant(t)
	before := w.size()
	v := full("hank", "a-cold", "55", "note", "windy <day>")
	got := w.ask(crew, everything, v)
	w.wants(got, 422, "Cold side: 55 degF is outside the limits (-10 to 40 degF)", "What did you do about it?", "No action was taken", `value="55"`, "as always", "windy &lt;day&gt;", `value="D-7"`,
		`value="yes" checked`, `value="pale" checked`, `<option value="grete" selected>`, `value="passed" checked`, `aria-invalid="true"`)
	if hidden(got.body, "id") != v.Get("id") {
		t.Error("the id has changed")
	}
	if w.size() != before {
		t.Fatal("it was written at once")
	}
	v.Set("action", "Ice put on; 38 degF after an hour.")
	got = w.ask(crew, everything, v)
	w.wants(got, 303)
	w.wants(w.ask(crew, got.to(), nil), 200, "Cold side: 55 degF is outside the limits", "As written it does not pass by the plan.")

	v = full("hank", "a-clean", "no", "none-taken", "yes")
	w.wants(w.ask(crew, everything, v), 303)
	if w.size() != before+2 || w.last().Fact.(*records.Signoff).Action != "" {
		t.Error(w.size())
	}
	if got := w.ask(crew, "/findings", nil); !strings.Contains(got.body, "no action taken was written down") {
		t.Error("the finding is not shown")
	}
}

func TestMissingIsAskedForOnce(t *testing.T) {
	w := plant(t)
	before := w.size()
	v := full("hank", "a-words", "  ", "second", "")
	got := w.ask(crew, everything, v)
	w.wants(got, 422, "In words: not answered", "Say who stood by.", "Sign without what is missing")
	v.Set("without", "yes")
	w.wants(w.ask(crew, everything, v), 303)
	if w.size() != before+1 {
		t.Error(w.size())
	}
	for name, c := range map[string][]string{
		"no outcome":      {"outcome", "", "Say whether it passed."},
		"no number":       {"a-cold", "warm", "“warm” is not a number"},
		"two ways":        {"a-cold", "1,234", "“1,234” is not a number"},
		"other choice":    {"a-colour", "green", "“green” is not one of the choices"},
		"maybe":           {"a-clean", "maybe", "“maybe” is not one of the choices"},
		"long":            {"a-words", strings.Repeat("é", 2001), "more than 2000 characters"},
		"long note":       {"note", strings.Repeat("é", 2001), "more than 2000 characters"},
		"no time":         {"when", "yesterday", "can not be read"},
		"a day that isnt": {"when", "2026-02-30T08:00", "can not be read"},
		"tomorrow":        {"when", "2026-03-10T08:00", "lies in the future"},
		"nobody known":    {"second", "zzz", "the plan then in force has no such person"},
		"long lot":        {"lot-ozone-water", strings.Repeat("x", 61), "61 characters; 60 is the most"},
	} {
		got := w.ask(crew, everything, full("hank", c[0], c[1]))
		if got.StatusCode != 422 || !strings.Contains(got.body, c[2]) {
			t.Errorf("%s: %d\n%s", name, got.StatusCode, got.body)
		}
	}
	if w.size() != before+1 {
		t.Error("something was written:", w.size())
	}
}

func TestWrittenLater(t *testing.T) {
	w := plant(t)
	w.wants(w.ask(crew, everything, full("hank", "when", "2026-03-08T02:30")), 303)
	// 02:30 does not exist on that day in New York; the first instant after the gap is 03:00 EDT.
	if e := w.last(); e.Happened != at("2026-03-08T03:00:00-04:00") || e.Recorded != w.clock.now() {
		t.Error(e.Happened, e.Recorded)
	}
}

// The id is made with the form: a double tap or the back button writes once.
func TestTwiceIsOnce(t *testing.T) {
	w := plant(t)
	before := w.size()
	v := full("hank")
	first := w.ask(crew, everything, v)
	w.clock.add(time.Second)
	second := w.ask(crew, everything, v)
	if first.StatusCode != 303 || second.StatusCode != 303 || first.to() != second.to() || w.size() != before+1 {
		t.Fatal(first.StatusCode, second.StatusCode, first.to(), second.to(), w.size())
	}
	v.Set("a-cold", "12")
	w.wants(w.ask(crew, everything, v), 409, "already signed", "/entry/"+fmt.Sprint(before))
	// and as somebody else with the same id
	v = full("nora")
	v.Set("id", hiddenID(w, before))
	w.wants(w.ask(lead, everything, v), 409)
	if w.size() != before+1 {
		t.Error(w.size())
	}

	v = full("hank")
	var wg sync.WaitGroup
	to := make([]string, 12)
	for i := range to {
		wg.Go(func() { to[i] = w.ask(crew, everything, v).to() })
	}
	wg.Wait()
	for _, l := range to {
		if l != fmt.Sprintf("/receipt/%d", before+1) {
			t.Error(to)
		}
	}
	if w.size() != before+2 {
		t.Errorf("twelve taps at once wrote %d", w.size()-before-1)
	}
}

func hiddenID(w *world, pos records.Position) string {
	return w.Book.View().State.First(pos).ID.String()
}

// A form that one person opened is not signed by another without their looking at it.
func TestSomebodyElsesForm(t *testing.T) {
	w := plant(t)
	before := w.size()
	got := w.ask(lead, everything, full("hank"))
	w.wants(got, 422, "opened by Hank Osgood and you are Nora Feldt", `name="as" value="nora"`, "as always")
	if w.size() != before {
		t.Error("written")
	}
	got = w.ask(lead, "/withdraw/1", url.Values{"id": {records.NewEntryID().String()}, "as": {"hank"}, "reason": {"r"}})
	w.wants(got, 422, "opened by Hank Osgood")
	got = w.ask(lead, "/answer", url.Values{"id": {records.NewEntryID().String()}, "as": {"hank"}, "finding": {someFinding}, "cause": {"kept cause"}})
	w.wants(got, 422, "opened by Hank Osgood", "kept cause", "Fill in: What keeps it from coming back?")
}

// The sign-in ends while somebody types: the PIN is asked for, and what was typed is written.
func TestEndedWhileTyping(t *testing.T) {
	w := plant(t)
	before := w.size()
	v := full("hank", "note", `said "so" <b>`)
	w.clock.add(31 * time.Minute)
	got := w.ask(crew, everything, v)
	w.wants(got, 401, "Your sign-in has ended.", "What you typed is kept", "Hank Osgood")
	if w.size() != before {
		t.Fatal("written without a sign-in")
	}
	form := fieldsOf(got.body)
	if form.Get("held") != everything || form.Get("held.a-cold") != "-4,5" || form.Get("held.note") != `said "so" <b>` {
		t.Fatal(form)
	}
	form.Set("secret", "5555")
	got = w.ask(crew, "/sign-in", form)
	w.wants(got, 422, "That is not the PIN.")
	form = fieldsOf(got.body)
	form.Set("secret", "4071")
	got = w.ask(crew, "/sign-in", form)
	w.wants(got, 303)
	if !strings.HasPrefix(got.to(), "/receipt/") || got.Header.Get("Set-Cookie") == "" || w.size() != before+1 {
		t.Fatal(got.to(), w.size())
	}
	if f := w.last().Fact.(*records.Signoff); f.Note != `said "so" <b>` || len(f.Answers) != 4 {
		t.Errorf("%+v", f)
	}
	// the role is looked up again, by the person who gave the PIN: a visitor who takes over does not sign
	form.Set("person", "vera")
	form.Set("held.id", records.NewEntryID().String())
	w.wants(w.ask(nobody, "/sign-in", form), 403, "That is not yours to do")
	// another who may is shown the form first
	form.Set("person", "nora")
	w.wants(w.ask(nobody, "/sign-in", form), 422, "opened by Hank Osgood and you are Nora Feldt")
	if w.size() != before+1 {
		t.Error(w.size())
	}
	// signed out for good, with nobody named: there is nobody to ask
	w.wants(w.ask(nobody, everything, url.Values{}), 401, "nothing was written")
}

// fieldsOf reads the hidden fields back as a browser would.
func fieldsOf(body string) url.Values {
	v := url.Values{}
	unescape := strings.NewReplacer("&#34;", `"`, "&lt;", "<", "&gt;", ">", "&#39;", "'", "&#43;", "+", "&amp;", "&")
	for _, m := range regexp.MustCompile(`<input type="hidden" name="([^"]*)" value="([^"]*)"`).FindAllStringSubmatch(body, -1) {
		v.Add(unescape.Replace(m[1]), unescape.Replace(m[2]))
	}
	return v
}

func picture() []byte {
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 8, 8))); err != nil {
		panic(err)
	}
	return b.Bytes()
}

// upload sends a form as multipart with one file.
func (w *world) upload(as role, path string, v url.Values, file []byte) answered {
	w.Helper()
	return w.uploadAs("a-picture", as, path, v, file)
}

// uploadAs names the field of the file. The file's own name is one that must not be believed.
func (w *world) uploadAs(field string, as role, path string, v url.Values, file []byte) answered {
	w.Helper()
	return w.attach(as, path, v, field, "../../etc/passwd.png", file)
}

func TestPhoto(t *testing.T) {
	w := plant(t)
	before := w.size()
	w.wants(w.upload(crew, everything, full("hank"), []byte("<html>not a picture")), 422, "not a JPEG or PNG picture")
	big := append(picture(), make([]byte, records.MaxBlob)...)
	w.wants(w.upload(crew, everything, full("hank"), big), 422, "larger than 16 MiB")
	if w.size() != before {
		t.Fatal("written")
	}
	// out of its limits: the picture is kept while the action is asked for
	v := full("hank", "a-cold", "99")
	got := w.upload(crew, everything, v, picture())
	w.wants(got, 422, "The photo is kept")
	key := hidden(got.body, "kept.a-picture")
	v.Set("kept.a-picture", key)
	v.Set("action", "cooled")
	w.wants(w.upload(crew, everything, v, nil), 303)
	f := w.last().Fact.(*records.Signoff)
	if r := f.Answers[len(f.Answers)-1]; r.Photo != key || len(key) != 64 {
		t.Fatalf("%+v", r)
	}
	got = w.ask(crew, "/photo/"+key, nil)
	if got.body != string(picture()) || got.Header.Get("Content-Type") != "image/png" {
		t.Error(got.Header)
	}
	other, err := w.Book.PutBlob(t.Context(), []byte("<script>alert(1)</script>"))
	if err != nil {
		t.Fatal(err)
	}
	got = w.ask(crew, "/photo/"+other, nil)
	if got.Header.Get("Content-Type") != "application/octet-stream" || !strings.HasPrefix(got.Header.Get("Content-Disposition"), "attachment") {
		t.Error("a document that is no picture could be taken for a page:", got.Header)
	}
	w.wants(w.upload(lead, "/people/grete", url.Values{}, picture()), 422, "takes no files")
}

func TestPhotoWhenTheSignInHasEnded(t *testing.T) {
	w := plant(t)
	w.clock.add(time.Hour)
	got := w.upload(crew, everything, full("hank"), picture())
	w.wants(got, 401)
	form := fieldsOf(got.body)
	form.Set("secret", "4071")
	w.wants(w.ask(nobody, "/sign-in", form), 303)
	f := w.last().Fact.(*records.Signoff)
	if r := f.Answers[len(f.Answers)-1]; len(r.Photo) != 64 {
		t.Errorf("%+v", f)
	}
	// a stranger's picture is not kept
	before := w.Book
	w.token[crew] = ""
	got = w.upload(crew, everything, full("hank"), append(picture(), 1))
	if form := fieldsOf(got.body); got.StatusCode != 401 || form.Get("held.kept.a-picture") != "" {
		t.Error(form)
	}
	_ = before
}

func TestCorrect(t *testing.T) {
	w := plant(t)
	w.wants(w.ask(crew, everything, full("hank")), 303)
	pos := w.size() - 1
	path := fmt.Sprintf("/correct/%d", pos)
	got := w.ask(crew, path, nil)
	w.wants(got, 200, `value="-4.5"`, "as always", `<option value="grete" selected>`, `value="D-7"`, "Withdraw it instead")
	v := full("hank", "a-cold", "4.5")
	w.wants(w.ask(crew, path, v), 422, "Say why.")
	v.Set("reason", "the minus was wrong")
	got = w.ask(crew, path, v)
	w.wants(got, 303)
	w.wants(w.ask(crew, got.to(), nil), 200, "Correction written down", "Everything a task can ask")
	w.wants(w.ask(crew, fmt.Sprintf("/entry/%d", pos), nil), 200, "As it counts now", "4.5 degF", "As first written", "-4.5 degF", "the minus was wrong", "Replaced by Hank Osgood")
	if r := w.Book.View().State.Now(pos).Fact.(*records.Signoff); r.Answers[0].Value.String() != "4.5 degF" {
		t.Error(r)
	}
	w.wants(w.ask(crew, path, v), 303) // the same form again writes nothing
	if w.size() != pos+2 {
		t.Error(w.size())
	}
	// a correction can be corrected, and taken back
	w.wants(w.ask(crew, path, full("hank", "a-cold", "5.5", "reason", "read again")), 303)
	withdraw := url.Values{"id": {records.NewEntryID().String()}, "as": {"hank"}, "reason": {"the reading before was right"}}
	got = w.ask(crew, fmt.Sprintf("/withdraw/%d", pos+2), withdraw)
	w.wants(got, 303)
	if r := w.Book.View().State.Now(pos).Fact.(*records.Signoff); r.Answers[0].Value.String() != "4.5 degF" {
		t.Error(r)
	}
	w.wants(w.ask(crew, "/entry/"+fmt.Sprint(pos+2), nil), 200, "This entry was withdrawn")
	// only its signer or a lead; a plan not at all
	token := w.signedIn("grete")
	w.wants(w.asToken(token, path, nil), 403)
	w.wants(w.ask(lead, path, nil), 200)
	w.wants(w.ask(lead, "/withdraw/0", nil), 403, "Adopt another plan")
	if got := w.ask(lead, "/correct/2", nil); got.to() != "/withdraw/2" {
		t.Error(got.to())
	}
	withdraw = url.Values{"id": {records.NewEntryID().String()}, "as": {"hank"}}
	w.wants(w.ask(crew, "/withdraw/1", withdraw), 422, "Say why.")
	withdraw.Set("reason", "nobody was there")
	w.wants(w.ask(crew, "/withdraw/1", withdraw), 303)
	w.wants(w.ask(crew, "/entry/1", nil), 200, "no longer counts", "nobody was there", "As first written")
	if got := w.ask(crew, "/correct/1", nil); got.to() != "/entry/1" {
		t.Error("one that was withdrawn:", got.to())
	}
}

func TestAnswer(t *testing.T) {
	w := plant(t)
	got := w.ask(lead, "/findings?severity=major", nil)
	m := regexp.MustCompile(`href="(/answer\?finding=deviation[^"]*)"`).FindStringSubmatch(got.body)
	if m == nil {
		t.Fatal(got.body)
	}
	got = w.ask(lead, m[1], nil)
	w.wants(got, 200, "A gull got in")
	v := url.Values{"id": {records.NewEntryID().String()}, "as": {"nora"}, "finding": {hidden(got.body, "finding")}, "cause": {"door left open"},
		"action": {"gull out, floor washed"}, "lots": {"none: bags are closed"}, "prevention": {"a spring on the door"}}
	w.wants(w.ask(lead, "/answer", v), 422, "Fill in: Does this close it?", "door left open")
	v.Set("closes", "yes")
	w.wants(w.ask(lead, "/answer", v), 422, "Give your password or PIN once more", "door left open")
	v.Set("again", "4072")
	w.wants(w.ask(lead, "/answer", v), 422, "That is neither the PIN nor the password.")
	v.Set("again", "4071")
	w.wants(w.ask(lead, "/answer", v), 303)
	w.wants(w.ask(lead, "/answer", v), 303)
	if f := w.last().Fact.(*records.Answer); f.Deviation.IsZero() || f.Finding != "" || !f.Closes || w.size() != 4 {
		t.Errorf("%+v, %d", f, w.size())
	}
	if got := w.ask(lead, "/findings?severity=major", nil); strings.Contains(got.body, "A gull got in") {
		t.Error("closed and still among the open")
	}
	w.wants(w.ask(lead, "/findings?show=all&severity=major", nil), 200, "A gull got in", "Closed", `href="/entry/3"`)
	w.wants(w.ask(lead, "/entry/3", nil), 200, "a spring on the door", "Yes, closed", "verified")
}

func TestLockedOut(t *testing.T) {
	w := plant(t)
	try := func(pin string) answered {
		return w.ask(nobody, "/sign-in", url.Values{"person": {"hank"}, "secret": {pin}})
	}
	for range 3 {
		w.wants(try("0000"), 422, "That is not the PIN.")
	}
	w.wants(try("0000"), 422, "The next try is taken at 07:30:15.")
	w.wants(try("4071"), 429, "Too many wrong tries")
	w.clock.add(15 * time.Second)
	w.wants(try("4071"), 303)
}

// A language is its person's; the words of the page are in it.
func TestSpanish(t *testing.T) {
	w := plant(t)
	token := w.signedIn("lucia")
	for path, words := range map[string][]string{
		"/today":        {`<html lang="es">`, "Trabajo de hoy", "Atrasado", "Antes del turno: sano, limpio, manos lavadas", "lun 9 mar"},
		everything:      {"Lado frío", "de -10 a 40 degF", "Cuidado con el escalón.", "¿Cómo resultó?", "debe ser: sí"},
		"/findings":     {"Lo que muestran los registros", "nadie lo firmó"},
		"/entry/1":      {"Firmado por", "Todos en el piso usan calzado reservado para él"},
		"/nowhere":      {"Esa página no está"},
		"/people/grete": {"Eso no le corresponde", "«equipo»", "«responsable»"},
	} {
		got := w.asToken(token, path, nil)
		for _, word := range words {
			if !strings.Contains(got.body, word) {
				t.Errorf("%s has no %q\n%s", path, word, got.body)
			}
		}
	}
	w.wants(w.ask(nobody, "/?lang=es", nil), 200, "¿Quién es usted?", "?lang=en")
	w.wants(w.ask(nobody, "/sign-in/lucia", nil), 200, `<html lang="es">`)
}

// Hostile text in every field comes back as text, wherever it is shown.
func TestHostileText(t *testing.T) {
	const evil = `"><script>alert(1)</script><img src=x onerror=alert(2)>{{.}}`
	w := plant(t)
	check := func(path string, got answered) {
		t.Helper()
		if strings.Contains(got.body, "<script>alert") || strings.Contains(got.body, "<img src=x") {
			t.Errorf("%s: markup comes back\n%s", path, got.body)
		}
	}
	names := []string{"id", "as", "window", "outcome", "a-cold", "a-clean", "a-colour", "a-words", "kept.a-picture", "agent", "lot-ozone-water", "lot-potable-water", "second", "trainee", "action", "note", "when", "reason", "without", "none-taken"}
	for _, path := range []string{everything, "/correct/1", "/withdraw/1"} {
		for _, name := range names {
			check(path+" "+name, w.ask(crew, path, full("hank", name, evil)))
		}
		v := full("hank")
		for _, name := range names {
			v.Set(name, evil)
		}
		check(path, w.ask(crew, path, v))
		check(path, w.ask(nobody, path, full("hank", "note", evil)))
	}
	for _, name := range []string{"person", "pin", "next", "held", "held.x", "from", "to", "finding", "cause", "again"} {
		for _, path := range []string{"/sign-in", "/people/grete", "/binder", "/answer"} {
			check(path+" "+name, w.ask(lead, path, url.Values{"person": {"hank"}, "secret": {"0001"}, "held": {everything}, "finding": {someFinding}, "as": {"nora"}, name: {evil}}))
		}
	}
	w.wants(w.ask(crew, everything, full("hank", "a-words", evil, "note", evil, "action", evil, "lot-ozone-water", evil[:50])), 303)
	pos := w.size() - 1
	w.wants(w.ask(crew, fmt.Sprintf("/correct/%d", pos), full("hank", "a-words", evil+"2", "reason", evil)), 303)
	w.write(records.Entry{By: "hank", Fact: &records.Deviation{What: evil}})
	e := url.PathEscape(evil)
	for _, path := range []string{fmt.Sprintf("/entry/%d", pos), fmt.Sprintf("/entry/%d", pos+1), fmt.Sprintf("/correct/%d", pos), fmt.Sprintf("/receipt/%d", pos), fmt.Sprintf("/withdraw/%d", pos), "/findings", "/today",
		"/entry/" + e, "/station/" + e, "/sign/" + e + "/" + e, "/?next=" + e + "&lang=" + e, "/findings?severity=" + e + "&page=" + e, "/answer?finding=" + e, "/photo/" + e, "/binder/" + e, "/static/" + e, "/" + e} {
		check(path, w.ask(lead, path, nil))
		check(path, w.ask(nobody, path, nil))
	}
}
