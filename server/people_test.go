package server

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"grainward/server/auth"
)

// stranger asks from a browser that is no enrolled device.
func (w *world) stranger(path string, form url.Values, token string) answered {
	w.Helper()
	req := httptest.NewRequest("GET", "http://localhost"+path, nil)
	if form != nil {
		req = httptest.NewRequest("POST", "http://localhost"+path, strings.NewReader(form.Encode()))
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	req.AddCookie(&http.Cookie{Name: deviceCookie, Value: "none"})
	if token != "" {
		req.AddCookie(&http.Cookie{Name: cookieName, Value: token})
	}
	return w.send(req)
}

// cookieOf is a cookie that an answer gives; empty when it does not.
func cookieOf(a answered, name string) string {
	for _, c := range a.Cookies() {
		if c.Name == name {
			return c.Value
		}
	}
	return ""
}

// Where no device is enrolled nobody is named, and every answer to a wrong secret is the same.
func TestStrangersLearnNothing(t *testing.T) {
	w := plant(t)
	for _, rt := range routes() {
		if rt.Method != "GET" || rt.Least != nobody || strings.Contains(rt.Path, ":file") {
			continue
		}
		path := strings.NewReplacer(":person", "grete", ":version", "x").Replace(rt.Path)
		got := w.stranger(path, nil, "")
		for _, name := range []string{"Grete", "Hank", "Nora", "Vera"} {
			if strings.Contains(got.body, name) {
				t.Errorf("%s tells a stranger of %s", path, name)
			}
		}
	}
	var said []string
	for _, who := range []string{"nora", "hank", "grete", "gone", "nobody-here", "<b>x</b>"} {
		got := w.stranger("/sign-in", url.Values{"person": {who}, "secret": {"something quite wrong"}}, "")
		w.wants(got, 422, "there is nobody of that name with that password")
		said = append(said, strings.NewReplacer(who, "", "&lt;b&gt;x&lt;/b&gt;", "").Replace(got.body))
	}
	for i := range said {
		if said[i] != said[0] {
			t.Errorf("%s\n\n%s", said[i], said[0])
		}
	}
	w.wants(w.stranger("/sign-in", url.Values{"person": {"hank"}, "secret": {"4071"}}, ""), 422) // a PIN counts on devices only
	for _, who := range []string{"nora", "Nora Feldt", " NORA "} {
		w.wants(w.stranger("/sign-in", url.Values{"person": {who}, "secret": {thePassword}}, ""), 303)
	}
}

func TestEnrol(t *testing.T) {
	w := plant(t)
	w.wants(w.ask(lead, "/devices", url.Values{"name": {" "}}), 422, "1 to 60 characters")
	got := w.ask(lead, "/devices", url.Values{"name": {"Kiln  tablet <b>"}})
	w.wants(got, 200, "Code for Kiln tablet &lt;b&gt;")
	_, rest, _ := strings.Cut(got.body, "/enrol?code=")
	code := rest[:9]
	w.wants(w.stranger("/enrol?code="+code, nil, ""), 200, `value="`+code+`"`)
	w.wants(w.stranger("/enrol", url.Values{"code": {"0000-0000"}}, ""), 422, "That code is not taken")
	got = w.stranger("/enrol", url.Values{"code": {strings.ToLower(code)}}, "")
	w.wants(got, 303)
	key := cookieOf(got, deviceCookie)
	if c := got.Header.Get("Set-Cookie"); key == "" || !strings.Contains(c, "HttpOnly") || !strings.Contains(c, "SameSite=Strict") {
		t.Fatal(c)
	}
	w.wants(w.stranger("/enrol", url.Values{"code": {code}}, ""), 422)
	w.key = key
	w.wants(w.ask(nobody, "/", nil), 200, "Hank Osgood")
	got = w.ask(nobody, "/sign-in", url.Values{"person": {"hank"}, "secret": {"4071"}})
	w.wants(got, 303)
	token := cookieOf(got, cookieName)
	w.wants(w.asToken(token, "/today", nil), 200)
	w.wants(w.stranger("/today", nil, token), 303) // a sign-in with a PIN is its device's
	w.wants(w.asToken(token, hygiene, signing("hank")), 303)
	device := w.last().Device
	if !strings.HasPrefix(string(device), "kiln-tablet-b-") {
		t.Error(device)
	}
	w.wants(w.ask(lead, "/devices/"+string(device), url.Values{"do": {"rename"}, "name": {"Kiln, door"}}), 303)
	w.wants(w.ask(lead, "/devices", nil), 200, "Kiln, door", "this device")
	got = w.ask(lead, "/devices/"+string(device), url.Values{"do": {"withdraw"}})
	w.wants(got, 303)
	w.wants(w.ask(lead, got.to(), nil), 200, "Kiln, door is withdrawn.", "Withdrawn")
	w.wants(w.asToken(token, "/today", nil), 303)
	w.wants(w.ask(nobody, "/sign-in", url.Values{"person": {"hank"}, "secret": {"4071"}}), 422)
	w.wants(w.ask(lead, "/devices/"+string(device), nil), 404)
}

// A lead who gave a PIN works as crew; a lead's page asks for the password and goes on, with what was typed.
func TestStepUp(t *testing.T) {
	w := plant(t)
	got := w.ask(nobody, "/sign-in", url.Values{"person": {"nora"}, "secret": {"4071"}})
	w.wants(got, 303)
	pin := cookieOf(got, cookieName)
	w.wants(w.asToken(pin, hygiene, nil), 200)
	got = w.asToken(pin, "/people", nil)
	if got.to() != "/sign-in/nora?next=%2Fpeople" {
		t.Fatal(got.to())
	}
	w.wants(w.asToken(pin, got.to(), nil), 200, "You signed in with your PIN", "Password")
	w.wants(w.asToken(pin, "/sign-in", url.Values{"person": {"nora"}, "secret": {"4071"}, "next": {"/people"}}), 422, "That is your PIN")
	w.wants(w.asToken(pin, "/api/binder/x", nil), 403, "password-first")
	w.wants(w.asToken(pin, "/people/grete", url.Values{"do": {"end"}}), 403, "asks for your password")
	got = w.asToken(pin, "/answer", url.Values{"finding": {someFinding}, "cause": {"the alarm"}})
	w.wants(got, 401, "You signed in with your PIN", "the alarm")
	got = w.asToken(pin, "/sign-in", url.Values{"person": {"nora"}, "secret": {thePassword}, "next": {"/people"}})
	w.wants(got, 303)
	if got.to() != "/people" {
		t.Error(got.to())
	}
	w.wants(w.asToken(cookieOf(got, cookieName), "/people", nil), 200)
	w.wants(w.asToken(pin, "/today", nil), 303) // the sign-in before it has ended
	w.wants(w.asToken(w.token[crew], "/people", nil), 403, "That is not yours to do")
}

func TestSignInAsJSON(t *testing.T) {
	w := plant(t)
	send := func(body string) answered {
		return w.sendBody(nobody, "POST", "/api/sign-in", "application/json", []byte(body))
	}
	got := send(`{"person":"hank","secret":"4071"}`)
	w.wants(got, 200, `"person":"hank"`, `"role":"crew"`, `"language":"en"`, `"ends":"2026-03-09T12:00:00.000Z"`, `"device":"`+string(w.tab))
	token := cookieOf(got, cookieName)
	if token == "" || strings.Contains(got.body, token) {
		t.Error("no cookie, or its token is in the body")
	}
	w.wants(w.asToken(token, "/today", nil), 200)
	w.wants(send(`{"person":"hank","secret":"0001"}`), 401, "secret-wrong")
	w.wants(send(`{"person":"who","secret":"0001"}`), 401)
	w.wants(send(`{"person":7}`), 422)
	w.wants(send(`[`), 400)
	for range 3 {
		send(`{"person":"hank","secret":"0001"}`)
	}
	w.wants(send(`{"person":"hank","secret":"4071"}`), 429, `"code":"wait"`, `"until":"2026-03-09T11:30:15.000Z"`)
	req := request1("localhost", "/api/sign-out", url.Values{}, token)
	if got := w.send(req); got.StatusCode != 204 {
		t.Error(got.StatusCode, got.body)
	}
	w.wants(w.asToken(token, "/today", nil), 303)
}

func TestMember(t *testing.T) {
	w := plant(t)
	ask := func(pairs ...string) answered {
		return w.ask(lead, "/people/grete", leadForm(append([]string{"again", thePassword}, pairs...)...))
	}
	w.wants(ask("do", "pin", "pin", "5192", "twice", "5193"), 422, "not the same")
	got := ask("do", "pin", "pin", "1234", "twice", "1234")
	w.wants(got, 422, "can not be used")
	if strings.Contains(got.body, `value="1234"`) {
		t.Error("the PIN is sent out again")
	}
	w.wants(ask("do", "pin", "pin", "5192", "twice", "5192", "again", ""), 422, "Give your password or PIN once more")
	w.wants(ask("do", "nothing"), 404)
	w.wants(ask("do", "make"), 200, "The new PIN of Grete Holm", "It is shown only now")
	w.wants(ask("do", "pin", "pin", "5192", "twice", "5192"), 200, "The PIN of Grete Holm is set.")
	for range 4 {
		w.ask(nobody, "/sign-in", url.Values{"person": {"grete"}, "secret": {"0001"}})
	}
	w.wants(w.ask(lead, "/people", nil), 200, "locked until")
	got = ask("do", "unlock")
	w.wants(w.ask(lead, got.to(), nil), 200, "Tries are taken again.")
	got = w.ask(nobody, "/sign-in", url.Values{"person": {"grete"}, "secret": {"5192"}})
	w.wants(got, 303)
	token := cookieOf(got, cookieName)
	w.wants(ask("do", "end"), 303)
	w.wants(w.asToken(token, "/today", nil), 303)
	// a lead's own: this browser stays signed in, the others do not
	other := w.signedIn("nora")
	got = w.ask(lead, "/people/nora", leadForm("do", "password", "password", "Nora Feldt 12", "twice", "Nora Feldt 12", "again", thePassword))
	w.wants(got, 422, "more in it than a name")
	got = w.ask(lead, "/people/nora", leadForm("do", "password", "password", "a fine dry autumn", "twice", "a fine dry autumn", "again", thePassword))
	w.wants(got, 200, "The password of Nora Feldt is set.")
	w.wants(w.asToken(cookieOf(got, cookieName), "/people", nil), 200)
	w.wants(w.asToken(other, "/people", nil), 303)
}

func TestIdle(t *testing.T) {
	w := plant(t)
	w.clock.add(auth.Idle + time.Minute)
	got := w.ask(crew, "/today", nil)
	w.wants(w.asToken(w.token[crew], got.to(), nil), 200, "Your sign-in has ended.", "It ends after half an hour without use", "Hank Osgood")
}
