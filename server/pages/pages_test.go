package pages

import (
	"bytes"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// hostile is put into every text of every page, and must come back as text.
const hostile = `</script><script>alert(1)</script>"' onmouseover="x" <img src=x onerror=alert(2)> {{.}} javascript:alert(3)`

// Canned is every page with something in every part of it. The browser tests and the pictures use it too.
func Canned(lang, text string) []Page {
	f := Frame{Lang: lang, Title: text, Plant: text, Person: text, Crew: true, Lead: true, Secret: "either", Nav: []Way{{Link{"/today", text}, true}, {Link{"/findings", text}, false}}, Ways: []Way{{Link{"/binder", text}, true}, {Link{"/people", text}, false}}, Size: 12345, Root: "9f86d081884c", Version: "0.1"}
	out := f
	out.Person, out.Other, out.Nav, out.Ways = "", "/?lang=es", nil, nil
	link := Link{"/entry/7", text}
	var works []Work
	for _, s := range []string{"overdue", "open", "coming", "done", "late", "failed", "put-right", "missed", "excused", ""} {
		works = append(works, Work{Href: "/sign/x/y", Task: text, Due: text, State: s, Detail: text, Lead: s == "open"})
	}
	groups := []Group{{text, works}}
	opts := []Option{{"a", text, true}, {"b", text, false}}
	msgs := []Message{{"a-x", text}, {"", text}}
	rows := []Row{{Name: text, Value: text}, {Name: text, Value: text, Href: "/photo/x"}, {Name: text, Value: text, Outside: true}, {Name: text, Value: text, Long: true}, {Name: text, Value: text, Href: "/photo/x", Picture: true}}
	var asks []Ask
	for _, kind := range []string{"number", "yesno", "choice", "text", "photo"} {
		asks = append(asks, Ask{Name: "a-" + kind, Title: text, Type: kind, Unit: text, Limits: text, Value: text, Choices: opts, Kept: strings.Repeat("a", 64), Error: text},
			Ask{Name: "b-" + kind, Title: text, Type: kind, Unit: "%", Limits: text, Choices: opts, Optional: true, Minus: true},
			Ask{Name: "c-" + kind, Title: text, Type: kind, Choices: opts})
	}
	var all []Page
	add := func(p Page) { all = append(all, p) }
	add(&Today{Frame: f, Date: text, Station: text, Stations: []StationLink{{link, 3, true}, {link, 0, false}}, Now: groups, Later: groups, Done: groups, MoreDone: link, AsNeeded: groups, CanSign: true})
	add(&Today{Frame: f, Date: text, AsNeeded: groups})
	add(&Sign{Frame: f, To: "/sign/x/y", Draft: text, As: "a", Window: text, Task: text, Station: text, Due: text, State: "overdue", NotYours: true,
		Cautions: []Caution{{text, text}}, Messages: msgs, Asks: asks, Agents: []AgentRow{{"agent", "z", text, text, true, "lot-z", text}}, Second: opts, Trainees: opts,
		Outcome: "failed", Action: text, AskAction: true, Missing: true, When: "2026-03-09T08:00", Note: text, Upload: true, Again: true, Correct: &Correcting{"/entry/7", "7", text, "/withdraw/7"}})
	add(&Sign{Frame: f, To: "/sign/x/y", Task: text, Station: text, Asks: asks})
	add(&Receipt{Frame: f, Position: "7", Task: text, Station: text, When: text, Passes: true, Next: works, Entry: "/entry/7", Fix: "/correct/7", Place: "/station/y"})
	add(&Receipt{Frame: f, Position: "7", Task: text, Station: text, When: text, Corrected: true, Verdict: []string{text, text}, Entry: "/entry/7", Fix: "/correct/7", Place: "/station/y"})
	add(&Entry{Frame: f, Position: "7", Kind: "signoff", Who: text, Meaning: "performed", Happened: text, Recorded: text, Device: text, DeviceTime: text, Leaf: text, Corrected: true, Now: rows, First: rows,
		Corrections: []Correction{{"/entry/8", "8", text, text, text, false}, {"/entry/9", "9", text, text, text, true}}, Fix: "/correct/7"})
	add(&Entry{Frame: f, Position: "7", Kind: "signoff", Who: text, Typed: text, Sheet: "/photo/x", Meaning: "performed"})
	add(&Entry{Frame: f, Position: "7", Kind: "plan", Typed: text, Who: text, Meaning: "approved", Withdrawn: true, First: rows})
	add(&Withdraw{Frame: f, To: "/withdraw/7", Draft: text, As: "a", Position: "7", Entry: "/entry/7", Task: text, Station: text, Happened: text, Reason: text, Messages: msgs, Again: true})
	add(&Binder{Frame: f, From: "2026-01-01", To: "2026-03-31", Messages: msgs, Lately: []BinderRow{{"/binder/a", text, "running"}, {"/binder/b", text, "done"}, {"/binder/c", text, "failed"}}})
	add(&BinderJob{Frame: f, Period: text, State: "running", Percent: 40, Poll: "/api/binder/a"})
	add(&BinderJob{Frame: f, Period: text, State: "done", File: "/binder/a/file", FileSize: "1.2 MB"})
	add(&BinderJob{Frame: f, Period: text, State: "failed", Problem: text})
	add(&Problem{Frame: f, Heading: text, Text: text, Lines: []string{text}, Do: text, Back: link, Request: text})
	all = append(all, peopleCanned(f, text)...)
	all = append(all, planCanned(f, text)...)
	all = append(all, auditorCanned(f, text)...)
	all = append(all, officeCanned(f, text)...)
	all = append(all, floorCanned(f, text)...)
	all = append(all, plantCanned(f, text)...)
	all = append(all, networkCanned(f, text)...)
	all = append(all, companyCanned(f, text)...)
	return all
}

func render(t *testing.T, p Page) string {
	t.Helper()
	var b bytes.Buffer
	if err := Render(&b, p); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestEveryPageIsDrawn(t *testing.T) {
	drawn := map[string]bool{}
	for _, lang := range Languages() {
		for i, p := range Canned(lang, "Word") {
			out := render(t, p)
			drawn[p.Name()] = true
			for _, want := range []string{"<!doctype html>", `<html lang="` + lang + `">`, "<h1", "Word", "</html>", `class="page-` + p.Name() + `"`, "9f86d081884c", "12345"} {
				if !strings.Contains(out, want) {
					t.Errorf("%s/%s %d has no %q", lang, p.Name(), i, want)
				}
			}
			if n := strings.Count(out, "<h1"); n != 1 {
				t.Errorf("%s has %d headings of the first rank", p.Name(), n)
			}
			for _, never := range []string{"ZgotmplZ", "<nil>", "%!", " style=", "<style", " onclick", "http://", "https://"} {
				if strings.Contains(out, never) {
					t.Errorf("%s has %q in it", p.Name(), never)
				}
			}
			if regexp.MustCompile(`<script[^>]*>[^<]`).MatchString(out) {
				t.Errorf("%s has a script in it", p.Name())
			}
		}
	}
	for _, p := range All() {
		if !drawn[p.Name()] {
			t.Errorf("the page %s has no canned data", p.Name())
		}
	}
}

func TestEveryTemplateIsAPage(t *testing.T) {
	files, err := fs.Glob(templateFiles, "templates/*.html")
	if err != nil {
		t.Fatal(err)
	}
	known := []string{"layout", "marks", "parts", "goods-parts"}
	for _, p := range All() {
		known = append(known, p.Name())
	}
	for _, f := range files {
		if name := strings.TrimSuffix(filepath.Base(f), ".html"); !slices.Contains(known, name) {
			t.Errorf("%s belongs to no page", f)
		}
	}
}

func TestHostileTextIsText(t *testing.T) {
	for _, lang := range Languages() {
		for i, p := range Canned(lang, hostile) {
			out := render(t, p)
			for _, never := range []string{"<script>alert", "<img src=x", `" onmouseover`, `="x" <`, `href="javascript`} {
				if strings.Contains(out, never) {
					t.Errorf("%s %d: %q comes back as markup", p.Name(), i, never)
				}
			}
		}
	}
}

// Every key a template names is in the table, and every text is there in both languages with the same values.
func TestTexts(t *testing.T) {
	verbs := regexp.MustCompile(`%[a-z]`)
	for key, s := range texts {
		if strings.TrimSpace(s.en) == "" || strings.TrimSpace(s.es) == "" {
			t.Errorf("%s is missing in a language", key)
		}
		if a, b := fmt.Sprint(verbs.FindAllString(s.en, -1)), fmt.Sprint(verbs.FindAllString(s.es, -1)); a != b {
			t.Errorf("%s has the values %s in English and %s in Spanish", key, a, b)
		}
	}
	used := map[string]bool{}
	files, _ := fs.Glob(templateFiles, "templates/*.html")
	for _, f := range files {
		b, err := fs.ReadFile(templateFiles, f)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range regexp.MustCompile(`[{(]\s*t "([^"]+)"`).FindAllStringSubmatch(string(b), -1) {
			used[m[1]] = true
			if _, ok := texts[m[1]]; !ok {
				t.Errorf("%s names the text %q, which is not there", f, m[1])
			}
		}
		for _, m := range regexp.MustCompile(`t \(print "([^"]+)"`).FindAllStringSubmatch(string(b), -1) {
			for key := range texts {
				if strings.HasPrefix(key, m[1]) {
					used[key] = true
				}
			}
		}
	}
	// The rest are said by the server, which names them as words in its source.
	sources, _ := filepath.Glob("../*.go")
	var server strings.Builder
	for _, f := range sources {
		if strings.HasSuffix(f, "_test.go") {
			continue
		}
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		server.Write(b)
	}
	for key := range texts {
		if !used[key] && !strings.Contains(server.String(), `"`+key+`"`) {
			t.Errorf("nobody says %q", key)
		}
	}
}

func TestTextThatIsNotThere(t *testing.T) {
	if got := Text("en", "no such text"); got != "no such text" {
		t.Error(got)
	}
	if got := Text("es", "n-waiting", 3); got != "3 ahora" {
		t.Error(got)
	}
	if got := render(t, &Problem{Frame: Frame{Lang: "xx"}}); !strings.Contains(got, `lang="en"`) {
		t.Error("a language nobody speaks is not shown in English")
	}
}

// What the browser is told to load is there.
func TestStaticFiles(t *testing.T) {
	for _, p := range Canned("en", "Word") {
		for _, m := range regexp.MustCompile(`"/static/([^"?]+)`).FindAllStringSubmatch(render(t, p), -1) {
			if _, err := fs.Stat(Static(), m[1]); err != nil {
				t.Error(err)
			}
		}
	}
}

func FuzzRender(f *testing.F) {
	f.Add(hostile)
	f.Add("\x00\xff\u202e")
	f.Fuzz(func(t *testing.T, text string) {
		for _, p := range Canned("en", text) {
			var b bytes.Buffer
			if err := Render(&b, p); err != nil {
				t.Fatal(err)
			}
		}
	})
}
