package server

import (
	"slices"
	"strings"
	"testing"

	"grainward/records"
)

var aPaper = []byte("%PDF-1.7\n% a certificate that is none\n")

// apiFor says of every route by which a page changes something which routes do the same for programs, and what kinds of entries it
// writes. Everything the pages do goes through the interface: a page route that is not here fails the test.
var apiFor = map[string]struct {
	by    []string
	kinds []records.Kind
}{
	"POST /sign/:task/:station":   {[]string{"PUT /api/photos/:key", "POST /api/entries"}, []records.Kind{records.KindSignoff}},
	"POST /paper":                 {[]string{"PUT /api/photos/:key"}, nil},
	"POST /paper/:task/:station":  {[]string{"POST /api/entries"}, []records.Kind{records.KindSignoff}},
	"POST /correct/:position":     {[]string{"PUT /api/photos/:key", "POST /api/entries"}, []records.Kind{records.KindCorrect}},
	"POST /reword/:position":      {[]string{"POST /api/entries"}, []records.Kind{records.KindCorrect}},
	"POST /withdraw/:position":    {[]string{"POST /api/entries"}, []records.Kind{records.KindCorrect}},
	"POST /deviation":             {[]string{"PUT /api/photos/:key", "POST /api/entries"}, []records.Kind{records.KindDeviation}},
	"POST /answer":                {[]string{"POST /api/entries"}, []records.Kind{records.KindAnswer}},
	"POST /excuse":                {[]string{"POST /api/entries"}, []records.Kind{records.KindExcuse}},
	"POST /hold":                  {[]string{"POST /api/entries"}, []records.Kind{records.KindHold}},
	"POST /release":               {[]string{"POST /api/entries"}, []records.Kind{records.KindRelease}},
	"POST /result":                {[]string{"POST /api/entries"}, []records.Kind{records.KindResult}},
	"POST /review/:day":           {[]string{"GET /api/reviews", "POST /api/entries"}, []records.Kind{records.KindReview}},
	"POST /documents":             {[]string{"PUT /api/files/:key", "POST /api/entries"}, []records.Kind{records.KindDocument}},
	"POST /drills":                {[]string{"POST /api/entries"}, []records.Kind{records.KindDrill}},
	"POST /drills/:drill/contact": {[]string{"POST /api/entries"}, []records.Kind{records.KindDrill}},
	"POST /drills/:drill/finish":  {[]string{"POST /api/entries"}, []records.Kind{records.KindDrill}},
	"POST /binder":                {[]string{"POST /api/binders"}, nil},
	"POST /sign-in":               {[]string{"POST /api/sign-in"}, nil},
	"POST /sign-out":              {[]string{"POST /api/sign-out"}, nil},
	"POST /enrol":                 {[]string{"POST /api/enrol"}, nil},
	"POST /people/:person":        {[]string{"POST /api/people/:person"}, nil},
	"POST /plan/new":              {[]string{"POST /api/plan/look"}, nil},
	"POST /plan":                  {[]string{"POST /api/entries"}, []records.Kind{records.KindPlan}},
	"POST /new-person":            {[]string{"GET /api/plan", "POST /api/plan/look"}, nil},
	"POST /people/:person/leave":  {[]string{"GET /api/plan", "POST /api/plan/look"}, nil},
	"GET /plan":                   {[]string{"GET /api/plan"}, nil},
	"POST /devices":               {[]string{"POST /api/devices"}, nil},
	"POST /devices/:device":       {[]string{"POST /api/devices/:device"}, nil},
	"POST /links":                 {[]string{"POST /api/links"}, nil},
	"POST /links/:link":           {[]string{"DELETE /api/links/:link"}, nil},
	"POST /auditor/leave":         {[]string{"POST /api/sign-out"}, nil},
	"POST /auditor/binder":        {[]string{"POST /api/binders"}, nil},
	"POST /check":                 {[]string{"POST /api/check"}, nil},
	"GET /links":                  {[]string{"GET /api/links"}, nil},
	"GET /records":                {[]string{"GET /api/entries"}, nil},
	"GET /proof/:position":        {[]string{"GET /api/proof/:position", "GET /api/entries/:position"}, nil},
	"GET /people":                 {[]string{"GET /api/people"}, nil},
	"GET /devices":                {[]string{"GET /api/devices"}, nil},
	"GET /binder/:job":            {[]string{"GET /api/binder/:job"}, nil},
	"GET /binder/:job/file":       {[]string{"GET /api/binder/:job/file"}, nil},
	"GET /findings":               {[]string{"GET /api/findings"}, nil},
	"GET /entry/:position":        {[]string{"GET /api/entries/:position"}, nil},
	"GET /week":                   {[]string{"GET /api/week"}, nil},
	"GET /documents":              {[]string{"GET /api/documents"}, nil},
	"GET /reviews":                {[]string{"GET /api/reviews"}, nil},
	"GET /stations/:station":      {[]string{"GET /api/stations/:station"}, nil},
	"GET /lots":                   {[]string{"GET /api/lots"}, nil},
	"GET /lots/:lot":              {[]string{"GET /api/lots/:lot", "GET /api/lots/:lot/trace"}, nil},
}

// Every page that changes something has a route for programs, which the same role may use, and whose entries the same role may write.
func TestPagesGoThroughTheInterface(t *testing.T) {
	all := map[string]route{}
	for _, rt := range routes() {
		all[rt.Method+" "+rt.Path] = rt
	}
	for name, rt := range all {
		if rt.JSON || rt.Method == "GET" {
			continue
		}
		same, ok := apiFor[name]
		if !ok {
			t.Errorf("nothing says how a program does what %s does: write the row in apiFor", name)
			continue
		}
		for _, kind := range same.kinds {
			if mayWrite[kind] > rt.Least {
				t.Errorf("%s is for %s, who may not write a %s", name, rt.Least, kind)
			}
		}
		if len(same.kinds) > 0 && !slices.Contains(same.by, "POST /api/entries") {
			t.Errorf("%s writes entries and does not name POST /api/entries", name)
		}
	}
	for name, same := range apiFor {
		page, there := all[name]
		for _, by := range same.by {
			if rt, ok := all[by]; !ok || !rt.JSON {
				t.Errorf("%s goes by %s, which is no route for programs", name, by)
			} else if there && rt.Least > page.Least {
				t.Errorf("%s is for %s and %s only for %s", name, page.Least, by, rt.Least)
			}
		}
		if len(same.by) == 0 {
			t.Errorf("%s goes by nothing", name)
		}
		if !there {
			t.Errorf("%s is no route", name)
		}
	}
	// every kind of entry can be sent, those that no page has a form for too
	for _, row := range records.Kinds() {
		if !slices.ContainsFunc(theDescription().doc["components"].(map[string]any)["schemas"].(map[string]any)["Draft"].(map[string]any)["oneOf"].([]any), func(v any) bool {
			ref := strings.ToLower(v.(map[string]any)["$ref"].(string))
			return strings.HasSuffix(ref, "/draft"+string(row.Kind))
		}) {
			t.Errorf("a %s can not be sent", row.Kind)
		}
	}
}
