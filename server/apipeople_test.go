package server

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"grainward/server/auth"
)

func (w *world) post(as role, path, body string) answered {
	w.Helper()
	return w.sendBody(as, "POST", path, "application/json", []byte(body))
}

// A device from the code to the end, by the interface alone.
func TestDevicesByTheInterface(t *testing.T) {
	w := plant(t)
	var made codeJSON
	if err := json.Unmarshal([]byte(w.post(lead, "/api/devices", `{"name":"  Kiln   tablet "}`).body), &made); err != nil || made.Name != "Kiln tablet" || made.Code == "" {
		t.Fatal(made, err)
	}
	w.key = "" // a browser that is no device
	a := w.post(nobody, "/api/enrol", `{"code":`+q(made.Code)+`}`)
	w.wants(a, 201, `"name":"Kiln tablet"`)
	var d auth.Device
	if err := json.Unmarshal([]byte(a.body), &d); err != nil {
		t.Fatal(err)
	}
	key := ""
	for _, c := range a.Cookies() {
		if c.Name == deviceCookie {
			key = c.Value
		}
	}
	if key == "" || strings.Contains(a.body, key) {
		t.Fatalf("the key %q is in no cookie, or in the body", key)
	}
	if again := w.problemOf(w.post(nobody, "/api/enrol", `{"code":`+q(made.Code)+`}`), 422); again.Errors[0].Field != "code" {
		t.Errorf("a code works twice: %+v", again)
	}
	// a PIN is taken there, and what is signed says where
	w.key = key
	in := w.post(nobody, "/api/sign-in", `{"person":"hank","secret":"4071"}`)
	w.wants(in, 200, `"device":`+q(string(d.Code)))
	req := httptest.NewRequest("POST", "http://localhost/api/entries", strings.NewReader(string(draftJSON("hank"))))
	req.Header.Set("Content-Type", "application/json")
	for _, c := range in.Cookies() {
		req.AddCookie(&http.Cookie{Name: c.Name, Value: c.Value})
	}
	w.enteredOf(w.send(req), 201)
	if e := w.last(); e.Device != d.Code {
		t.Errorf("%+v", e)
	}
	at := "/api/devices/" + string(d.Code)
	w.wants(w.post(lead, at, `{"do":"rename","name":"Kiln"}`), 204)
	w.wants(w.ask(lead, "/api/devices", nil), 200, `"name":"Kiln"`)
	for body, field := range map[string]string{`{"do":"rename","name":""}`: "name", `{"do":"rename"}`: "name", `{"do":"burn"}`: "do", `{"do":"rename","colour":1}`: "colour", `{"do":1}`: "do"} {
		if p := w.problemOf(w.post(lead, at, body), 422); p.Errors[0].Field != field {
			t.Errorf("%s: %+v", body, p)
		}
	}
	w.wants(w.post(lead, at, `{"do":"withdraw"}`), 204)
	w.problemOf(w.post(lead, at, `{"do":"rename","name":"x"}`), 404)
	w.problemOf(w.post(nobody, "/api/sign-in", `{"person":"hank","secret":"4071"}`), 401)
}

func TestSecretsByTheInterface(t *testing.T) {
	w := plant(t)
	const grete = "/api/people/grete"
	for body, want := range map[string]struct {
		status int
		code   string
	}{
		`{"do":"pin","secret":"51927"}`:                                    {422, "secret-missing"},
		`{"do":"pin","secret":"51927","again":"wrong"}`:                    {422, "secret-wrong"},
		`{"do":"pin","secret":"1111","again":"` + thePassword + `"}`:       {422, "invalid"},
		`{"do":"password","secret":"short","again":"` + thePassword + `"}`: {422, "invalid"},
		`{"do":"pin","secret":51927}`:                                      {422, "invalid"},
	} {
		d := w.problemOf(w.post(lead, grete, body), want.status)
		if d.Code != want.code || strings.Contains(d.Detail+d.Title, "51927") {
			t.Errorf("%s: %+v", body, d)
		}
	}
	a := w.post(lead, grete, `{"do":"make","again":"`+thePassword+`"}`)
	var done secretDoneJSON
	if err := json.Unmarshal([]byte(a.body), &done); err != nil || a.StatusCode != 200 || auth.CheckPIN(done.PIN) != nil {
		t.Fatalf("%d %s", a.StatusCode, a.body)
	}
	w.wants(w.post(nobody, "/api/sign-in", `{"person":"grete","secret":"`+done.PIN+`"}`), 200)
	w.wants(w.post(lead, grete, `{"do":"end"}`), 200)
	w.wants(w.post(lead, grete, `{"do":"unlock"}`), 200)
	w.problemOf(w.post(lead, "/api/people/gone", `{"do":"unlock"}`), 404)
	// one's own: every other sign-in ends, this one goes on with a new cookie
	own := w.post(lead, "/api/people/nora", `{"do":"password","secret":"eleven dry sacks of oats","again":"`+thePassword+`"}`)
	w.wants(own, 200)
	if len(own.Cookies()) == 0 {
		t.Error("it signed itself out")
	}
	w.problemOf(w.ask(lead, "/api/people", nil), 401)
}
