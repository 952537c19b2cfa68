package plan

import (
	"fmt"
	"slices"

	"github.com/goccy/go-yaml/ast"

	"grainward/records/calendar"
	"grainward/records/placed"
)

// form bounds a plan's text; a plan of a hundred tasks in two languages takes about 100 kB. A plan entry carries the text whole
// (records.Kinds), so it may not be larger. The starter has about 2,434 colons.
var form = placed.Form{Bytes: 512 << 10, Colons: 25_000, Brackets: 100, Line: 4_000,
	Called: "the plan", NoSuch: "that is no plan of a plant", Brackety: "; a plan has no use for them",
	Start: "\"grainward init\" writes a plan to start from", One: "a plan is one document"}

// Parse reads and cross-checks a plan. Everything found wrong is reported at once, in the order of the lines, as an
// *records.Error of kind Invalid with one field a fault; each names its line and quotes it with a mark under the
// spot. Only text that is not YAML stops at its first fault.
//
// What a plan leaves out is filled with the defaults of the tags of its types; a rule without "starts" starts on the
// plant's first day.
func Parse(text []byte) (*Plan, error) {
	r := &reader{file: placed.Of(text), spots: map[string]placed.Spot{}, anchors: map[string]ast.Node{},
		names: map[string]string{}, bare: map[string]bool{}}
	p := new(Plan)
	body, fault := r.file.Open(form)
	if fault != nil {
		return nil, r.file.Err(form.Called, []placed.Fault{*fault}, "")
	}
	r.lang = firstLanguage(body)
	if r.plan(body, p); len(r.faults) > 0 {
		return nil, r.err()
	}
	r.takeNotes(p)
	return p, nil
}

// plan reads the body and then looks for everything the shape alone does not tell.
func (r *reader) plan(body ast.Node, p *Plan) {
	r.read(body, valueOf(p), "")
	r.checkTags(p)
	if zone, err := calendar.LoadZone(p.Plant.Zone); err == nil {
		p.zone = zone
	} else if p.Plant.Zone != "" {
		r.fault("plant.zone", p.Plant.Zone, "an IANA time zone, such as America/New_York or UTC")
	}
	for t := range p.Tasks {
		for w := range p.Tasks[t].When {
			if when := &p.Tasks[t].When[w]; when.Rule != nil && when.Starts == nil {
				when.Starts = &p.Plant.Since
			}
		}
	}
	p.build()
	r.crossCheck(p)
}

// firstLanguage looks ahead for plant.languages: a bare text anywhere is in the first of them.
func firstLanguage(body ast.Node) string {
	lang := "en"
	placed.Each(body, func(key string, _, plant ast.Node) {
		if key != "plant" {
			return
		}
		placed.Each(plant, func(key string, _, list ast.Node) {
			if seq, ok := list.(*ast.SequenceNode); ok && key == "languages" && len(seq.Values) > 0 {
				if text, ok := placed.Scalar(seq.Values[0]); ok && slices.Contains(Languages(), text) {
					lang = text
				}
			}
		})
	})
	return lang
}

// Languages are those a plan's texts can be written in.
func Languages() []string { return []string{"en", "es"} }

// err is all faults.
func (r *reader) err() error {
	more := ""
	if r.more {
		more = fmt.Sprintf("has more than %d faults; these are the first found", maxFaults)
	}
	faults := make([]placed.Fault, len(r.faults))
	for i, f := range r.faults {
		faults[i] = f.Fault
	}
	return r.file.Err(form.Called, faults, more)
}
