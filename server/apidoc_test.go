package server

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"sync"
	"testing"

	"github.com/pb33f/libopenapi"
	validator "github.com/pb33f/libopenapi-validator"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"grainward/records"
)

// The document is one of OpenAPI 3.1, says a library that is not ours, which holds it to the schema of the specification.
func TestDescriptionIsOpenAPI(t *testing.T) {
	b, err := describe("1", routes())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		doc  []byte
		good bool
	}{
		{b, true},
		{bytes.Replace(b, []byte(`"operationId"`), []byte(`"operationID"`), 1), false}, // it can say no
		{bytes.Replace(b, []byte(`"openapi": "3.1.0"`), []byte(`"openapi": "3.1.0", "owner": "nobody"`), 1), false},
	} {
		doc, err := libopenapi.NewDocument(c.doc)
		if err != nil {
			t.Fatal(err)
		}
		if model, err := doc.BuildV3Model(); c.good && (err != nil || model == nil) {
			t.Fatal(err)
		}
		v, errs := validator.NewValidator(doc)
		if errs != nil {
			t.Fatal(errs)
		}
		good, faults := v.ValidateDocument()
		if good != c.good {
			t.Errorf("it is valid: %v", good)
			for _, f := range faults {
				t.Error(f.Message, f.Reason)
			}
		}
	}
}

// Every route that answers programs is in the description, and nothing else is.
func TestDescriptionHasEveryRoute(t *testing.T) {
	d := theDescription()
	left := map[string]bool{}
	for path, item := range d.doc["paths"].(map[string]any) {
		for method := range item.(map[string]any) {
			left[strings.ToUpper(method)+" "+path] = true
		}
	}
	ids := map[string]bool{}
	for _, rt := range routes() {
		if !rt.JSON {
			continue
		}
		path, _ := d.pathOf(&rt)
		name := rt.Method + " " + path
		if !left[name] {
			t.Errorf("%s is not described", name)
		}
		delete(left, name)
		if id := operationID(&rt); ids[id] {
			t.Errorf("two are called %s", id)
		} else {
			ids[id] = true
		}
		if rt.Method == "GET" && rt.Gives == nil && rt.Media == "" {
			t.Errorf("%s does not say what it answers: give its row Gives (a value of the type) or Media", name)
		}
		if rt.Takes == aJSON && (rt.Asks == nil || examples[rt.Method+" "+rt.Path] == nil) {
			t.Errorf("%s does not say what it takes (Asks in its row), or has no example (examples in apidoc.go)", name)
		}
	}
	for name := range left {
		t.Errorf("%s is described and is no route", name)
	}
}

// Every example is taken by the running server, and is as the description has it.
func TestExamples(t *testing.T) {
	d := theDescription()
	for name, example := range examples {
		t.Run(name, func(t *testing.T) {
			method, path, _ := strings.Cut(name, " ")
			rt, _ := find(method, strings.ReplaceAll(path, ":", "x-"))
			if rt == nil {
				t.Fatal("there is no such route")
			}
			b, err := json.Marshal(example)
			if err != nil {
				t.Fatal(err)
			}
			if err := d.checkBody(rt, b); err != nil {
				t.Error(err)
			}
			w := plant(t)
			as := max(rt.Least, crew)
			if prepare, ok := exampleNeeds[name]; ok {
				path, b = prepare(w, b)
			}
			if got := w.sendBody(as, method, path, "application/json", b); got.StatusCode >= 300 {
				t.Errorf("%d %s", got.StatusCode, got.body)
			}
		})
	}
}

// exampleNeeds puts into an example what only a running server gives out: a code, a device.
var exampleNeeds = map[string]func(w *world, body []byte) (path string, with []byte){
	"POST /api/people/:person":  func(_ *world, b []byte) (string, []byte) { return "/api/people/hank", b },
	"POST /api/devices/:device": func(w *world, b []byte) (string, []byte) { return "/api/devices/" + string(w.tab), b },
	"POST /api/enrol": func(w *world, b []byte) (string, []byte) {
		code, _, err := w.auth.MakeCode(w.Context(), "nora", "Dry side", 0)
		if err != nil {
			w.Fatal(err)
		}
		return "/api/enrol", bytes.Replace(b, []byte(exampleCode), []byte(code), 1)
	},
}

// description is the document as an outside library reads it. Groups are closed in it, so that an answer with a member that is not
// described is seen; published they are open, so that members may come.
type description struct {
	doc      map[string]any
	compiler *jsonschema.Compiler
	mu       sync.Mutex
	compiled map[string]*jsonschema.Schema
}

var theDescription = sync.OnceValue(func() *description {
	b, err := describe("1", routes())
	if err != nil {
		panic(err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(b))
	if err != nil {
		panic(err)
	}
	closeGroups(doc)
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	if err := c.AddResource("https://plant.example/openapi.json", doc); err != nil {
		panic(err)
	}
	return &description{doc: doc.(map[string]any), compiler: c, compiled: map[string]*jsonschema.Schema{}}
})

func closeGroups(v any) {
	switch v := v.(type) {
	case map[string]any:
		if _, group := v["properties"].(map[string]any); group && v["type"] == "object" {
			v["additionalProperties"] = false
		}
		for _, under := range v {
			closeGroups(under)
		}
	case []any:
		for _, under := range v {
			closeGroups(under)
		}
	}
}

func (d *description) pathOf(rt *route) (path, pointer string) {
	parts := strings.Split(rt.Path, "/")
	for i, p := range parts {
		if name, is := strings.CutPrefix(p, ":"); is {
			parts[i] = "{" + name + "}"
		}
	}
	path = strings.Join(parts, "/")
	return path, "/paths/" + strings.ReplaceAll(path, "/", "~1") + "/" + strings.ToLower(rt.Method)
}

func (d *description) check(pointer string, body []byte) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	s, ok := d.compiled[pointer]
	if !ok {
		var err error
		if s, err = d.compiler.Compile("https://plant.example/openapi.json#" + pointer); err != nil {
			return fmt.Errorf("%s: %w", pointer, err)
		}
		d.compiled[pointer] = s
	}
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(body))
	if err != nil {
		return err
	}
	return s.Validate(v)
}

func (d *description) checkBody(rt *route, body []byte) error {
	_, at := d.pathOf(rt)
	return d.check(at+"/requestBody/content/application~1json/schema", body)
}

// checkAnswer holds an answer to the description. Every answer of every test of this package comes here.
func (d *description) checkAnswer(method, path string, status int, media string, body []byte) error {
	rt, _ := find(method, path)
	if rt == nil || !rt.JSON {
		if strings.HasPrefix(path, "/api/") && status < 400 {
			return fmt.Errorf("%s %s answers %d and is no route for programs", method, path, status)
		}
		return nil
	}
	_, at := d.pathOf(rt)
	switch {
	case status >= 400 && media == "application/problem+json":
		return d.check("/components/responses/Problem/content/application~1problem+json/schema", body)
	case status >= 300:
		return fmt.Errorf("%s %s answers %d as %q", method, path, status, media)
	}
	item := d.doc["paths"].(map[string]any)
	own, _ := d.pathOf(rt)
	responses := item[own].(map[string]any)[strings.ToLower(method)].(map[string]any)["responses"].(map[string]any)
	answer, ok := responses[fmt.Sprint(status)].(map[string]any)
	if !ok {
		return fmt.Errorf("%s %s answers %d, which is not described", method, path, status)
	}
	content, _ := answer["content"].(map[string]any)
	if content == nil {
		if len(body) > 0 {
			return fmt.Errorf("%s %s answers with something, and is described as answering with nothing", method, path)
		}
		return nil
	}
	one, ok := content[media].(map[string]any)
	if !ok {
		return fmt.Errorf("%s %s answers %q, which is not described", method, path, media)
	}
	if one["schema"] == nil {
		return nil
	}
	return d.check(at+"/responses/"+fmt.Sprint(status)+"/content/"+strings.ReplaceAll(media, "/", "~1")+"/schema", body)
}

// asDescribed is called by world.send.
func (w *world) asDescribed(req *http.Request, a answered) {
	w.Helper()
	method := req.Method
	if method == "HEAD" {
		return
	}
	if err := theDescription().checkAnswer(method, req.URL.Path, a.StatusCode, a.Header.Get("Content-Type"), []byte(a.body)); err != nil {
		w.Errorf("not as described: %v\n%.1000s", err, a.body)
	}
}

// The check of answers can fail.
func TestDescriptionSaysNo(t *testing.T) {
	d := theDescription()
	for _, c := range []struct {
		path, body string
		status     int
		good       bool
	}{
		{"/api/head", `{"size":3,"root":"00","checkpoint":"x"}`, 200, true},
		{"/api/head", `{"size":-3,"root":"00","checkpoint":"x"}`, 200, false},
		{"/api/head", `{"size":3,"root":"00"}`, 200, false},
		{"/api/head", `{"size":3,"root":"00","checkpoint":"x","more":1}`, 200, false},
		{"/api/head", `{}`, 201, false},
	} {
		if err := d.checkAnswer("GET", c.path, c.status, "application/json", []byte(c.body)); (err == nil) != c.good {
			t.Errorf("%s: %v", c.body, err)
		}
	}
	rt, _ := find("POST", "/api/entries")
	for name, c := range map[string]struct {
		body []byte
		good bool
	}{
		"as it should be":     {draftJSON("hank"), true},
		"an unknown member":   {draftJSON("hank", member{"colour", `"red"`}), false},
		"another's meaning":   {draftJSON("hank", member{"meaning", `"released"`}), false},
		"no station":          {draftJSON("hank", member{"fact", `{"task":"t","outcome":"passed"}`}), false},
		"a word for outcome":  {draftJSON("hank", member{"fact", `{"task":"t","station":"s","outcome":"so-so"}`}), false},
		"a code in capitals":  {draftJSON("Hank"), false},
		"an empty remark":     {draftJSON("hank", member{"fact", `{"task":"t","station":"s","outcome":"passed","note":"","second":""}`}), true},
		"another kind":        {draftJSON("hank", member{"kind", `"hold"`}), false},
		"a correction":        {draftJSON("hank", member{"kind", `"correct"`}, member{"fact", fmt.Sprintf(`{"target":%q,"reason":"r","with":{"kind":"hold","fact":{"lots":["L1"],"why":"w"}}}`, records.NewEntryID())}), true},
		"a correction of one": {draftJSON("hank", member{"kind", `"correct"`}, member{"fact", fmt.Sprintf(`{"target":%q,"reason":"r","with":{"kind":"hold","fact":{"lots":[],"why":"w"}}}`, records.NewEntryID())}), false},
	} {
		if err := d.checkBody(rt, c.body); (err == nil) != c.good {
			t.Errorf("%s: %v", name, err)
		}
	}
}
