package plan

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"

	"grainward/records"
	"grainward/records/calendar"
)

// The bounds of a plan's text. They keep a hostile file from costing more than a moment; a plan of a hundred tasks in
// two languages takes about 100 kB. A plan entry carries the text whole (records.Kinds), so it may not be larger.
const (
	maxText  = 512 << 10
	maxLine  = 4_000
	maxDepth = 100    // of brackets
	maxKeys  = 25_000 // the YAML library takes time by the square of the keys in a group; the starter has about 2434 colons
)

// Parse reads and cross-checks a plan. Everything found wrong is reported at once, in the order of the lines, as an
// *records.Error of kind Invalid with one field a fault; each names its line and quotes it with a mark under the
// spot. Only text that is not YAML stops at its first fault.
//
// What a plan leaves out is filled with the defaults of the tags of its types; a rule without "starts" starts on the
// plant's first day.
func Parse(text []byte) (*Plan, error) {
	r := &reader{lines: strings.Split(string(text), "\n"), spots: map[string]spot{}, anchors: map[string]ast.Node{},
		names: map[string]string{}, bare: map[string]bool{}}
	p := new(Plan)
	if body := r.open(text); body != nil {
		r.lang = firstLanguage(body)
		r.plan(body, p)
	}
	if len(r.faults) > 0 {
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

// open turns text into the one YAML document it must be, or notes why not.
func (r *reader) open(text []byte) (body ast.Node) {
	whole := func(line int, value, want string) { r.faultAt(spot{line: line, column: 1, width: 1}, "", value, want) }
	switch {
	case len(text) > maxText:
		whole(0, "", fmt.Sprintf("the plan takes %d bytes; %d is the most", len(text), maxText))
		return nil
	case bytes.Count(text, []byte(":")) > maxKeys:
		whole(0, "", fmt.Sprintf("the plan has more than %d keys; that is no plan of a plant", maxKeys))
		return nil
	case !utf8.Valid(text):
		for i, line := range r.lines {
			if !utf8.ValidString(line) {
				whole(i+1, "", "the line is not text in UTF-8; save the file as UTF-8")
				return nil
			}
		}
	}
	depth := 0
	for i, line := range r.lines {
		depth += strings.Count(line, "[") + strings.Count(line, "{") - strings.Count(line, "]") - strings.Count(line, "}")
		if utf8.RuneCountInString(line) > maxLine {
			whole(i+1, "", fmt.Sprintf("the line is longer than %d characters; break it", maxLine))
			return nil
		}
		if depth > maxDepth {
			whole(i+1, "", fmt.Sprintf("more than %d brackets are open here; a plan has no use for them", maxDepth))
			return nil
		}
	}
	file, err := parseYAML(text)
	if err != nil {
		r.notYAML(err)
		return nil
	}
	docs := slices.DeleteFunc(file.Docs, func(d *ast.DocumentNode) bool { return d.Body == nil || d.Body.Type() == ast.CommentType })
	switch {
	case len(docs) == 0:
		whole(1, "", "the file is empty; \"grainward init\" writes a plan to start from")
		return nil
	case len(docs) > 1:
		whole(docs[1].Body.GetToken().Position.Line, "", "a second document starts here; a plan is one document, without --- lines inside")
		return nil
	}
	return docs[0].Body
}

// parseYAML turns a panic of the YAML library into an error: the plan comes from outside.
func parseYAML(text []byte) (file *ast.File, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("the YAML can not be read (%v)", p)
		}
	}()
	return parser.ParseBytes(text, 0, parser.AllowDuplicateMapKey()) // keys given twice are ours to report, all of them
}

func (r *reader) notYAML(err error) {
	var syntax *yaml.SyntaxError
	if se, ok := err.(*yaml.SyntaxError); ok {
		syntax = se
	}
	if syntax == nil || syntax.Token == nil {
		r.faultAt(spot{}, "", "", err.Error())
		return
	}
	why := syntax.Message
	if strings.Contains(why, "mapping value is not allowed") {
		why += " (check the indentation, and put texts with \": \" in them in quotes)"
	}
	r.faultAt(r.spotOf(syntax.Token), "", "", "not YAML: "+why)
}

// firstLanguage looks ahead for plant.languages: a bare text anywhere is in the first of them.
func firstLanguage(body ast.Node) string {
	lang := "en"
	each(body, func(key string, _, plant ast.Node) {
		if key != "plant" {
			return
		}
		each(plant, func(key string, _, list ast.Node) {
			if seq, ok := list.(*ast.SequenceNode); ok && key == "languages" && len(seq.Values) > 0 {
				if text, ok := scalar(seq.Values[0]); ok && slices.Contains(Languages(), text) {
					lang = text
				}
			}
		})
	})
	return lang
}

// Languages are those a plan's texts can be written in.
func Languages() []string { return []string{"en", "es"} }

// err is all faults in the order of the lines.
func (r *reader) err() error {
	slices.SortStableFunc(r.faults, func(a, b fault) int {
		if a.line != b.line {
			return a.line - b.line
		}
		return a.column - b.column
	})
	e := &records.Error{Kind: records.Invalid, What: "the plan has one fault", Do: "Put it right in the file and check it again."}
	if n := len(r.faults); n > 1 {
		e.What, e.Do = fmt.Sprintf("the plan has %d faults", n), "Put them right in the file and check it again."
	}
	if r.more {
		e.What = fmt.Sprintf("the plan has more than %d faults; these are the first found", maxFaults)
	}
	for _, f := range r.faults {
		e.Fields = append(e.Fields, records.FieldError{Line: f.line, Field: f.path, Value: f.value, Want: f.want + r.quote(f.spot)})
	}
	return e
}

// quote shows the line of a spot with a mark under it; the margin gives line and column.
func (r *reader) quote(s spot) string {
	if s.line < 1 || s.line > len(r.lines) {
		return ""
	}
	line := []rune(strings.TrimRight(strings.ReplaceAll(r.lines[s.line-1], "\t", " "), "\r "))
	from := min(max(s.column-1, 0), len(line))
	width := max(1, min(s.width, len(line)-from))
	const most = 100 // of the line shown; a long one is shown from a little before the spot
	cut := ""
	if len(line) > most && from+width > most {
		back := min(from, 20)
		line, from, cut = line[from-back:], back, "…"
	}
	if len(line) > most {
		line = append(slices.Clone(line[:most]), '…')
		width = min(width, most-from)
	}
	margin := fmt.Sprintf("    %d:%d | ", s.line, s.column)
	blank := strings.Repeat(" ", len(margin)-2) + "| "
	return fmt.Sprintf("\n%s%s%s\n%s%s%s", margin, cut, string(line), blank, strings.Repeat(" ", from+utf8.RuneCountInString(cut)), strings.Repeat("^", width))
}
