package server

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"grainward/records"
)

// aPicture is a small PNG.
var aPicture = func() []byte {
	m := image.NewGray(image.Rect(0, 0, 8, 6))
	m.SetGray(3, 3, color.Gray{Y: 200})
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		panic(err)
	}
	return b.Bytes()
}()

// sendBody sends bytes as somebody of a role.
func (w *world) sendBody(as role, method, path, media string, body []byte) answered {
	w.Helper()
	req := httptest.NewRequest(method, "http://localhost"+path, bytes.NewReader(body))
	if media != "" {
		req.Header.Set("Content-Type", media)
	}
	if w.token[as] != "" {
		req.AddCookie(&http.Cookie{Name: cookieName, Value: w.token[as]})
	}
	return w.send(req)
}

func (w *world) enter1(as role, body []byte) answered {
	w.Helper()
	return w.sendBody(as, "POST", "/api/entries", "application/json", body)
}

// member is a change to a draft: a member and its JSON; empty takes it away.
type member struct{ name, json string }

// draftJSON is a sign-off as the crew page would send it.
func draftJSON(as string, changes ...member) []byte {
	m := map[string]json.RawMessage{
		"id": quoted(records.NewEntryID().String()), "happened": quoted("2026-03-09T07:30:00.000-04:00"), "by": quoted(as), "kind": quoted("signoff"),
		"fact": json.RawMessage(`{"task":"hygiene-check","station":"entrance","outcome":"passed","answers":[{"ask":"fit","yes":true},{"ask":"hands","yes":true},{"ask":"clothes","yes":true}]}`)}
	for _, c := range changes {
		if c.json == "" {
			delete(m, c.name)
			continue
		}
		m[c.name] = json.RawMessage(c.json)
	}
	b, err := json.Marshal(m)
	if err != nil {
		panic(err)
	}
	return b
}

func quoted(s string) json.RawMessage {
	b, err := json.Marshal(s)
	if err != nil {
		panic(err)
	}
	return b
}

func q(s string) string { return string(quoted(s)) }

// problemOf reads problem details.
func (w *world) problemOf(a answered, status int) details {
	w.Helper()
	var d details
	if a.StatusCode != status || a.Header.Get("Content-Type") != "application/problem+json" {
		w.Errorf("status %d, not %d (%s): %s", a.StatusCode, status, a.Header.Get("Content-Type"), a.body)
	}
	if err := json.Unmarshal([]byte(a.body), &d); err != nil {
		w.Fatal(err, a.body)
	}
	if d.Status != status || d.Title == "" || d.Detail == "" || d.Code == "" || d.Request == "" {
		w.Errorf("not all of it is there: %s", a.body)
	}
	return d
}

func (w *world) enteredOf(a answered, status int) (out enteredJSON) {
	w.Helper()
	w.wants(a, status)
	if err := json.Unmarshal([]byte(a.body), &out); err != nil {
		w.Fatal(err, a.body)
	}
	return out
}

func TestEnter(t *testing.T) {
	w := plant(t)
	body := draftJSON("hank", member{"sent", q("2026-03-09T07:30:20-04:00")})
	got := w.enteredOf(w.enter1(crew, body), 201)
	e := w.last()
	if got.Position != w.size()-1 || got.ID != e.ID || got.Already || got.ClockOff != 0 || got.Recorded != e.Recorded {
		t.Errorf("%+v", got)
	}
	if e.By != "hank" || e.Meaning != records.Performed || e.Happened != at("2026-03-09T07:30:00-04:00") || e.DeviceTime != 0 || e.Fact.(*records.Signoff).Task != "hygiene-check" {
		t.Errorf("%+v", e)
	}
	again := w.enteredOf(w.enter1(crew, body), 200)
	if !again.Already || again.Position != got.Position || again.Recorded != got.Recorded || w.size() != got.Position+1 {
		t.Errorf("%+v", again)
	}
}

// Sent 64 times at once, an entry is written once, and everybody is told the same place.
func TestEnterSideBySide(t *testing.T) {
	w := plant(t)
	before := w.size()
	body := draftJSON("hank")
	var wg sync.WaitGroup
	answers := make([]answered, 64)
	for i := range answers {
		wg.Go(func() { answers[i] = w.enter1(crew, body) })
	}
	wg.Wait()
	fresh := 0
	for _, a := range answers {
		var got enteredJSON
		if err := json.Unmarshal([]byte(a.body), &got); err != nil || got.Position != before || (a.StatusCode == 201) == got.Already {
			t.Error(a.StatusCode, a.body, err)
		}
		if a.StatusCode == 201 {
			fresh++
		}
	}
	if fresh != 1 || w.size() != before+1 {
		t.Errorf("%d say that they wrote it; the journal grew by %d", fresh, w.size()-before)
	}
}

// A clock that is hours ahead: the time is put right, and what the device said stays. Sent again when the clock has been set, or is
// off by something else, it is the same entry.
func TestEnterClockOff(t *testing.T) {
	for name, c := range map[string]struct {
		sent     string
		happened string
		off      int64
	}{
		"three hours ahead": {"2026-03-09T10:30:30-04:00", "2026-03-09T07:29:30-04:00", 3*3600 + 30},
		"a day behind":      {"2026-03-08T07:30:00-04:00", "2026-03-10T10:30:00-04:00", -86400},
		"just believed":     {"2026-03-09T07:31:00-04:00", "2026-03-09T10:30:00-04:00", 0},
	} {
		t.Run(name, func(t *testing.T) {
			w := plant(t)
			before := w.size()
			id := q(records.NewEntryID().String())
			said := "2026-03-09T10:30:00-04:00"
			if c.off < 0 {
				said = "2026-03-08T07:10:00-04:00"
				c.happened = "2026-03-09T07:10:00-04:00"
			}
			a := w.enter1(crew, draftJSON("hank", member{"id", id}, member{"happened", q(said)}, member{"sent", q(c.sent)}))
			if c.off == 0 { // then the work would lie in the future, and the clock is not to blame
				d := w.problemOf(a, 422)
				if d.Errors[0].Field != "happened" || w.size() != before {
					t.Errorf("%+v", d)
				}
				return
			}
			got := w.enteredOf(a, 201)
			e := w.last()
			if got.ClockOff != c.off || e.Happened != at(c.happened) || e.DeviceTime != at(said) {
				t.Errorf("%+v: %s, the device said %s", got, e.Happened, e.DeviceTime)
			}
			for _, sent := range []string{"2026-03-09T07:30:00-04:00", "2026-03-09T09:00:00-04:00"} {
				if again := w.enteredOf(w.enter1(crew, draftJSON("hank", member{"id", id}, member{"happened", q(said)}, member{"sent", q(sent)})), 200); !again.Already {
					t.Errorf("%+v", again)
				}
			}
			w.problemOf(w.enter1(crew, draftJSON("hank", member{"id", id}, member{"happened", q("2026-03-09T07:00:00-04:00")})), 409)
			if w.size() != before+1 {
				t.Errorf("it grew by %d", w.size()-before)
			}
		})
	}
}

// What is refused says so in words and with a code, in the language of whoever asks, and writes nothing.
func TestEnterRefuses(t *testing.T) {
	type row struct {
		as     role
		body   []byte
		status int
		code   string
		fields string // of errors, in order
		words  string
	}
	own := func(changes ...member) []byte { return draftJSON("hank", changes...) }
	fact := func(f string) member { return member{"fact", f} }
	deep := strings.Repeat(`[`, 100) + strings.Repeat(`]`, 100)
	for name, c := range map[string]row{
		"nobody":                {nobody, own(), 401, "sign-in-first", "", "nothing was written"},
		"a visitor":             {visitor, draftJSON("vera"), 403, "role", "", "crew"},
		"somebody else's":       {crew, draftJSON("nora"), 403, "somebody-else", "", "Nora"},
		"of one who left":       {crew, draftJSON("gone"), 403, "somebody-gone", "", "a lead can write it down"},
		"of nobody known":       {crew, draftJSON("zoe"), 403, "somebody-gone", "", "zoe"},
		"nothing":               {crew, nil, 400, "body-empty", "", ""},
		"a page":                {crew, []byte("<html>"), 400, "body-not-json", "", ""},
		"half":                  {crew, own()[:50], 400, "body-not-json", "", ""},
		"two":                   {crew, append(own(), own()...), 422, "invalid", "", "one entry at a time"},
		"a list":                {crew, []byte("[]"), 422, "invalid", "", ""},
		"deep":                  {crew, own(member{"colour", deep}), 400, "body-too-deep", "", ""},
		"an unknown member":     {crew, own(member{"colour", `"red"`}), 422, "invalid", "colour", ""},
		"what is ours to write": {crew, own(member{"recorded", q("2026-03-09T07:30:00Z")}), 422, "invalid", "recorded", ""},
		"a device":              {crew, own(member{"device", `"tablet-1"`}), 422, "invalid", "device", ""},
		"a device's time":       {crew, own(member{"deviceTime", q("2026-03-09T07:30:00Z")}), 422, "invalid", "deviceTime", ""},
		"no id":                 {crew, own(member{"id", ""}), 422, "invalid", "id", ""},
		"no kind":               {crew, own(member{"kind", ""}), 422, "invalid", "kind", ""},
		"no fact":               {crew, own(member{"fact", ""}), 422, "invalid", "fact", ""},
		"no time":               {crew, own(member{"happened", ""}), 422, "invalid", "happened", ""},
		"tomorrow":              {crew, own(member{"happened", q("2026-03-10T07:30:00Z")}), 422, "invalid", "happened", ""},
		"in a zone of its own":  {crew, own(member{"happened", q("2026-03-09T07:30:00")}), 422, "invalid", "happened", ""},
		"a number as text":      {crew, own(member{"by", `7`}), 422, "invalid", "by", ""},
		"of an unknown task":    {crew, own(fact(`{"task":"hygene-check","station":"entrance","outcome":"passed"}`)), 422, "invalid", "fact.task", ""},
		"a photo not sent":      {crew, own(fact(`{"task":"everything","station":"bench","outcome":"passed","answers":[{"ask":"picture","photo":"` + strings.Repeat("0f", 32) + `"}]}`)), 422, "invalid", "fact.answers[0].photo", ""},
		"a plan by the crew":    {crew, own(member{"kind", `"plan"`}, fact(`{"text":"x","sha256":"`+hexOf(sum([]byte("x")))+`"}`)), 403, "role", "", "lead"},
		"a release by the crew": {crew, own(member{"kind", `"release"`}, fact(`{"lots":["L1"],"why":"good"}`)), 403, "role", "", "lead"},
		"a review, no secret":   {lead, draftJSON("nora", member{"kind", `"review"`}, fact(`{"from":0,"to":1}`)), 422, "secret-missing", "again", ""},
		"a review, wrong one":   {lead, draftJSON("nora", member{"kind", `"review"`}, fact(`{"from":0,"to":1}`), member{"again", `"9999"`}), 422, "secret-wrong", "again", ""},
	} {
		t.Run(name, func(t *testing.T) {
			w := plant(t)
			before := w.size()
			d := w.problemOf(w.enter1(c.as, c.body), c.status)
			var fields []string
			for _, f := range d.Errors {
				fields = append(fields, f.Field)
				if f.Want == "" {
					t.Errorf("%s: nothing says what would be right", f.Field)
				}
			}
			if d.Code != c.code || strings.Join(fields, " ") != c.fields || !strings.Contains(d.Detail, c.words) {
				t.Errorf("%+v", d)
			}
			if w.size() != before {
				t.Error("it wrote")
			}
		})
	}
}

func TestEnterMedia(t *testing.T) {
	w := plant(t)
	for media, status := range map[string]int{"": 415, "text/plain": 415, "application/x-www-form-urlencoded": 415, "application/jsonp": 415, "application/json; charset=utf-8": 201, "Application/JSON": 201} {
		if got := w.sendBody(crew, "POST", "/api/entries", media, draftJSON("hank")); got.StatusCode != status {
			t.Errorf("%q: %d %s", media, got.StatusCode, got.body)
		}
	}
	// Compressed, a few bytes could be gigabytes: not taken, by any route.
	for _, path := range []string{"/api/entries", hygiene} {
		req := httptest.NewRequest("POST", "http://localhost"+path, bytes.NewReader(draftJSON("hank")))
		req.Header.Set("Content-Type", "application/json")
		req.Header.Set("Content-Encoding", "gzip")
		req.AddCookie(&http.Cookie{Name: cookieName, Value: w.token[crew]})
		if got := w.send(req); got.StatusCode != 415 {
			t.Errorf("%s: %d", path, got.StatusCode)
		}
	}
	if got, ok := w.raw(rawPost("/api/entries", w.token[crew], "application/json", bytes.Repeat([]byte(" "), jsonMost+1))); !ok || got.StatusCode != 413 {
		t.Error(got.StatusCode)
	}
}

// A correction of one's own is anybody's, of another's a lead's, and none puts work under another's name but a lead's.
func TestEnterCorrections(t *testing.T) {
	w := plant(t)
	first := w.Book.View().State.First(w.first).ID
	gull := w.Book.View().State.First(w.first + 1).ID
	adopted := w.Book.View().State.First(0).ID
	withdraw := func(as string, target records.EntryID, more ...member) []byte {
		return draftJSON(as, append([]member{{"kind", `"correct"`}, {"fact", fmt.Sprintf(`{"target":%q,"reason":"never happened","withdraw":true}`, target)}}, more...)...)
	}
	theirs := `{"target":%q,"reason":"it was Grete","with":{"by":%q,"kind":"signoff","fact":{"task":"footwear-check","station":"entrance","outcome":"passed","answers":[{"ask":"worn","yes":true},{"ask":"clean","yes":true}]}}}`
	for name, c := range map[string]struct {
		as     role
		body   []byte
		status int
	}{
		"another's by the crew": {crew, withdraw("hank", gull), 403},
		"a plan":                {lead, withdraw("nora", adopted), 403},
		"one's own to another":  {crew, draftJSON("hank", member{"kind", `"correct"`}, member{"fact", fmt.Sprintf(theirs, first, "grete")}), 403},
		"what there is not":     {crew, withdraw("hank", records.NewEntryID()), 422},
		"one's own":             {crew, draftJSON("hank", member{"kind", `"correct"`}, member{"fact", fmt.Sprintf(theirs, first, "hank")}), 201},
		"another's by a lead":   {lead, draftJSON("nora", member{"kind", `"correct"`}, member{"fact", fmt.Sprintf(theirs, first, "grete")}, member{"meaning", `"verified"`}, member{"again", `"4071"`}), 201},
		"one's own, taken back": {crew, withdraw("hank", first), 201},
	} {
		if got := w.enter1(c.as, c.body); got.StatusCode != c.status {
			t.Errorf("%s: %d %s", name, got.StatusCode, got.body)
		}
	}
}

func TestEnterWithSecret(t *testing.T) {
	w := plant(t)
	body := func(secret string) []byte {
		return draftJSON("nora", member{"kind", `"review"`}, member{"fact", `{"from":0,"to":1}`}, member{"again", q(secret)})
	}
	for range 3 {
		w.problemOf(w.enter1(lead, body("9999")), 422)
	}
	d := w.problemOf(w.enter1(lead, body("9999")), 422)
	if d.Until == "" {
		t.Errorf("%+v", d)
	}
	a := w.enter1(lead, body("4071"))
	if d = w.problemOf(a, 429); d.Code != "wait" || a.Header.Get("Retry-After") != "15" {
		t.Errorf("%+v %s", d, a.Header.Get("Retry-After"))
	}
	w.clock.add(16 * time.Second)
	w.enteredOf(w.enter1(lead, body("4071")), 201)
}

func TestEveryKindHasARole(t *testing.T) {
	for _, row := range records.Kinds() {
		if least, ok := mayWrite[row.Kind]; !ok || least < crew {
			t.Errorf("who may write a %s is not said, or it is a visitor", row.Kind)
		}
	}
	if len(mayWrite) != len(records.Kinds()) {
		t.Error("the table has a kind that there is not")
	}
}

func TestPhotos(t *testing.T) {
	w := plant(t)
	put := func(key, media string, body []byte) answered {
		return w.sendBody(crew, "PUT", "/api/photos/"+key, media, body)
	}
	key := hexOf(sum(aPicture))
	w.wants(put(key, "image/png", aPicture), 201, `"key":"`+key+`"`, fmt.Sprintf(`"bytes":%d`, len(aPicture)))
	w.wants(put(key, "image/jpeg", aPicture), 200, key) // the bytes say what it is
	w.wants(w.ask(crew, "/photo/"+key, nil), 200)
	fact := `{"task":"everything","station":"bench","outcome":"passed","answers":[{"ask":"picture","photo":"` + key + `"}]}`
	w.enteredOf(w.enter1(crew, draftJSON("hank", member{"fact", fact})), 201)

	bomb := bytes.Clone(aPicture)
	copy(bomb[16:24], []byte{0, 0, 0x75, 0x30, 0, 0, 0x75, 0x30}) // 30,000 by 30,000, in the PNG's IHDR chunk
	fixCRC(bomb)
	for name, c := range map[string]struct {
		body   []byte
		media  string
		key    string
		status int
		words  string
	}{
		"a page":        {[]byte("<html><script>"), "image/png", "", 422, "not a JPEG or PNG"},
		"as a page":     {aPicture, "text/html", "", 415, "image/jpeg, image/png"},
		"damaged":       {aPicture[:20], "image/png", "", 422, "damaged"},
		"another's key": {aPicture, "image/png", strings.Repeat("0", 64), 422, "send it again"},
		"no key":        {aPicture, "image/png", "x", 422, "send it again"},
		"a bomb":        {bomb, "image/png", "", 422, "30000 by 30000"},
		"nothing":       {nil, "image/png", "", 422, "not a JPEG or PNG"},
	} {
		if c.key == "" {
			c.key = hexOf(sum(c.body))
		}
		if d := w.problemOf(put(c.key, c.media, c.body), c.status); !strings.Contains(d.Detail, c.words) {
			t.Errorf("%s: %+v", name, d)
		}
		if _, err := w.Book.Blob(t.Context(), hexOf(sum(c.body))); err == nil && name != "as a page" && name != "another's key" && name != "no key" {
			t.Errorf("%s was kept", name)
		}
	}
}

// fixCRC makes the check of a PNG's first chunk fit its bytes (ISO/IEC 15948: CRC-32 over type and data).
func fixCRC(b []byte) { binary.BigEndian.PutUint32(b[29:], crc32.ChecksumIEEE(b[12:29])) }
