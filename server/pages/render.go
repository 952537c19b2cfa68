package pages

import (
	"embed"
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"slices"
)

//go:embed templates/*.html
var templateFiles embed.FS

//go:embed static
var staticFiles embed.FS

// Static are the files that go out as they are: the style sheet and the module.
func Static() fs.FS {
	sub, err := fs.Sub(staticFiles, "static")
	if err != nil {
		panic(err) // the folder is embedded two lines above
	}
	return sub
}

// Page is one page with what it shows.
type Page interface {
	// Name is the page's name and, with .html, its template's.
	Name() string
	frame() *Frame
}

// Frame is what every page has around it.
type Frame struct {
	Lang      string // en or es
	Title     string // of the window; the plant's name is put behind it
	Plant     string // empty while there is no plan
	Person    string // the name of whoever is signed in, or empty
	Secret    string // which secret is asked for once more: pin, password, either
	Crew      bool   // may sign and see findings
	Lead      bool   // may answer, make binders, set PINs
	Nav       []Way  // the parts of the application this person may enter
	Ways      []Way  // the pages of the part they are in, when it has several
	Size      int64  // entries in the journal
	NoJournal bool   // the page is of no one journal
	Root      string // the first digits of its tree head
	Version   string // of the program
	Other     string // this page in the other language, for those who have not said who they are
}

func (f *Frame) frame() *Frame { return f }

// Link is somewhere to go.
type Link struct{ Href, Title string }

// Way is a link of the navigation.
type Way struct {
	Link
	Current bool
}

var templates = parse()

// parse makes one set of templates a page and language. t gives a text of texts.go, mark one of our shapes.
func parse() map[string]*template.Template {
	all := map[string]*template.Template{}
	for _, lang := range Languages() {
		funcs := template.FuncMap{
			"t":    func(key string, args ...any) (string, error) { return text(lang, key, args...) },
			"mark": mark,
			"sum":  sumOf,
			"list": func(args ...any) []any { return args },
			"inc":  func(i int) int { return i + 1 },
		}
		for _, p := range All() {
			t := template.New("layout.html").Funcs(funcs).Option("missingkey=error")
			all[lang+"/"+p.Name()] = template.Must(t.ParseFS(templateFiles, "templates/layout.html", "templates/marks.html", "templates/parts.html", "templates/goods-parts.html", "templates/"+p.Name()+".html"))
		}
	}
	return all
}

// sumOf is how many findings there are of some rules.
func sumOf(all []RuleCount) (n int) {
	for _, c := range all {
		n += c.N
	}
	return n
}

// Render writes a page. Write to a buffer: when it fails, what was written is no page.
func Render(w io.Writer, p Page) error {
	f := p.frame()
	if !slices.Contains(Languages(), f.Lang) {
		f.Lang = "en"
	}
	if err := templates[f.Lang+"/"+p.Name()].Execute(w, p); err != nil {
		return fmt.Errorf("drawing the page %s: %w", p.Name(), err)
	}
	return nil
}

// marks are the shapes of templates/marks.html.
var marks = []string{"overdue", "open", "coming", "done", "late", "failed", "put-right", "missed", "excused", "critical", "major", "minor", "note", "caution", "held", "purge", "is-organic", "is-made-with", "is-conventional", "is-unknown"}

func mark(name string) (template.HTML, error) {
	if !slices.Contains(marks, name) {
		return "", fmt.Errorf("there is no mark %q", name)
	}
	return template.HTML(`<svg class="mark mark-` + name + `" aria-hidden="true" focusable="false"><use href="#mark-` + name + `"></use></svg>`), nil
}
