package server

import (
	"maps"
	"os"
	"regexp"
	"slices"
	"testing"
)

// The crew's page has its marks and tones in files of its own, since it is one download that works without a network; they are the pages' own,
// and nobody is to learn two. What is in both is the same, and what only one has is named here.
func TestCrewLooksAsThePages(t *testing.T) {
	read := func(path string) string {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	same := func(what string, crew, pages map[string]string, ownToCrew ...string) {
		t.Helper()
		if len(crew) < 8 {
			t.Fatalf("only %d %s were found", len(crew), what)
		}
		for _, name := range slices.Sorted(maps.Keys(crew)) {
			theirs, there := pages[name]
			switch {
			case there && theirs != crew[name]:
				t.Errorf("%s %s: %q on the crew's page, %q on the others", what, name, crew[name], theirs)
			case !there && !slices.Contains(ownToCrew, name):
				t.Errorf("%s %s is on the crew's page only", what, name)
			}
		}
	}
	marks := func(path string) map[string]string {
		out := map[string]string{}
		for _, m := range regexp.MustCompile(`<symbol id="mark-([a-z-]+)" ([^\n]*)</symbol>`).FindAllStringSubmatch(read(path), -1) {
			out[m[1]] = m[2]
		}
		return out
	}
	same("the mark", marks("crew/shell.html"), marks("pages/templates/marks.html"), "unsent", "beside", "erase") // of the queue and the number pad

	// The light tones are those of the first :root, the dark ones those of the one in the media query.
	tones := func(path string) (all [2]map[string]string) {
		roots := regexp.MustCompile(`(?s):root \{(.*?)\}`).FindAllStringSubmatch(read(path), -1)
		if len(roots) != 2 {
			t.Fatalf("%s has %d :root", path, len(roots))
		}
		for i, r := range roots {
			all[i] = map[string]string{}
			for _, m := range regexp.MustCompile(`--([a-z-]+): *([^;]+);`).FindAllStringSubmatch(r[1], -1) {
				all[i][m[1]] = m[2]
			}
		}
		return all
	}
	crew, pages := tones("crew/static/crew.css"), tones("pages/static/style.css")
	for i, what := range []string{"the light tone", "the dark tone"} {
		same(what, crew[i], pages[i])
	}
}
