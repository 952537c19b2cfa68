package placed

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
)

// Form is how large a kind of file may be, and the words in which one is refused as a whole.
type Form struct {
	Bytes    int
	Colons   int // the YAML library takes time by the square of the keys in a group
	Brackets int // open at once
	Line     int // characters of a line; 0 is any number

	Called   string // "the plan"
	NoSuch   string // after "more than so many keys": "that is no plan of a plant"
	Brackety string // after "more than so many brackets are open here"; may be empty
	Start    string // how to get a file to start from
	One      string // "a plan is one document"
}

// File is a text whose values can be pointed at.
type File struct {
	text  string
	lines []string
}

// breaks are what the library counts as the end of a line; a lone CR is one too.
var breaks = strings.NewReplacer("\r\n", "\n", "\r", "\n")

// Of is a text by its lines.
func Of(text []byte) *File {
	return &File{string(text), strings.Split(breaks.Replace(string(text)), "\n")}
}

// Open turns the text into the one YAML document it must be, or says the first reason why it is none.
func (f *File) Open(form Form) (ast.Node, *Fault) {
	if fault := f.bounds(form); fault != nil {
		return nil, fault
	}
	file, err := Parse([]byte(f.text))
	if err != nil {
		return nil, notYAML(err)
	}
	docs := slices.DeleteFunc(file.Docs, func(d *ast.DocumentNode) bool { return d.Body == nil || d.Body.Type() == ast.CommentType })
	switch {
	case len(docs) == 0:
		return nil, whole(1, "the file is empty; "+form.Start)
	case len(docs) > 1:
		return nil, whole(Begins(docs[1].Body).Line, "a second document starts here; "+form.One+", without --- lines inside")
	}
	return docs[0].Body, nil
}

// whole is a fault of the file and not of a value.
func whole(line int, want string) *Fault { return &Fault{Spot: Spot{line, 1, 1}, Want: want} }

// bounds keep a hostile file from costing more than a moment.
func (f *File) bounds(form Form) *Fault {
	switch {
	case len(f.text) > form.Bytes:
		return whole(0, fmt.Sprintf("%s takes %d bytes; %d is the most", form.Called, len(f.text), form.Bytes))
	case strings.Count(f.text, ":") > form.Colons:
		return whole(0, fmt.Sprintf("%s has more than %d keys; %s", form.Called, form.Colons, form.NoSuch))
	}
	for i, line := range f.lines {
		if !utf8.ValidString(line) {
			return whole(i+1, "the line is not text in UTF-8; save the file as UTF-8")
		}
	}
	depth := 0
	for i, line := range f.lines {
		depth += strings.Count(line, "[") + strings.Count(line, "{") - strings.Count(line, "]") - strings.Count(line, "}")
		if form.Line > 0 && utf8.RuneCountInString(line) > form.Line {
			return whole(i+1, fmt.Sprintf("the line is longer than %d characters; break it", form.Line))
		}
		if depth > form.Brackets {
			return whole(i+1, fmt.Sprintf("more than %d brackets are open here%s", form.Brackets, form.Brackety))
		}
	}
	return nil
}

// Parse is the library's tree of a text. A panic of the library is an error: the file comes from outside.
func Parse(text []byte) (file *ast.File, err error) {
	defer func() {
		if p := recover(); p != nil {
			file, err = nil, fmt.Errorf("the YAML can not be read (%v)", p)
		}
	}()
	return parser.ParseBytes(text, 0, parser.AllowDuplicateMapKey()) // keys given twice are the caller's to report, all of them
}

func notYAML(err error) *Fault {
	var syntax *yaml.SyntaxError
	if !errors.As(err, &syntax) || syntax.Token == nil {
		return &Fault{Want: err.Error()}
	}
	why := syntax.Message
	if strings.Contains(why, "mapping value is not allowed") {
		why += " (check the indentation, and put texts with \": \" in them in quotes)"
	}
	return &Fault{Spot: SpotOf(syntax.Token), Want: "not YAML: " + why}
}
