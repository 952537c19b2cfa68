package pages

import (
	"regexp"
	"strings"
	"sync"
)

// OfBook says in a language what the shape of facts and the book say in English when they refuse something. Their words are the keys of
// the table (as in gettext): the book knows no languages, and its command line is English. What has no row stays English; a test
// holds the table to everything they are known to say.
func OfBook(lang, english string) string {
	if lang != "es" || english == "" {
		return english
	}
	said, ok := ofBook(english)
	if !ok {
		return english
	}
	return said
}

// form is a row of the table with what its values look like.
type form struct {
	whole *regexp.Regexp
	es    string
}

var forms = sync.OnceValue(func() []form {
	var all []form
	for _, row := range bookTexts {
		parts := strings.Split(row.en, "%s")
		for i := range parts {
			parts[i] = regexp.QuoteMeta(parts[i])
		}
		all = append(all, form{regexp.MustCompile(`(?s)^` + strings.Join(parts, "(.+?)") + `$`), row.es})
	}
	return all
})

func ofBook(english string) (string, bool) {
	for _, f := range forms() {
		m := f.whole.FindStringSubmatch(english)
		if m == nil {
			continue
		}
		var b strings.Builder
		rest := f.es
		for _, value := range m[1:] {
			before, after, _ := strings.Cut(rest, "%s")
			b.WriteString(before)
			if inner, ok := ofBook(value); ok { // a value can be words too: a noun, "did you mean …?"
				value = inner
			}
			b.WriteString(value)
			rest = after
		}
		b.WriteString(rest)
		return b.String(), true
	}
	return "", false
}
