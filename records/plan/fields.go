package plan

import (
	"reflect"
	"slices"
	"strings"
)

// field is what the tags of one field of a plan's type say. Three tags are read: yaml (the key), validate (the shape)
// and default (what a key left out means).
type field struct {
	index    int
	key      string
	name     string // in Go
	fallback string
	needed   bool
	rules    []string // of the validate tag, up to "dive"
	inner    []string // after it: for the elements
	typ      reflect.Type
}

type fields []*field

func fieldsOf(t reflect.Type) fields {
	var out fields
	for i := range t.NumField() {
		sf := t.Field(i)
		key, _, _ := strings.Cut(sf.Tag.Get("yaml"), ",")
		if key == "" {
			continue
		}
		f := &field{index: i, key: key, name: sf.Name, fallback: sf.Tag.Get("default"), typ: sf.Type}
		if tag := sf.Tag.Get("validate"); tag != "" {
			f.rules = strings.Split(tag, ",")
		}
		if at := slices.Index(f.rules, "dive"); at >= 0 {
			f.rules, f.inner = f.rules[:at], f.rules[at+1:]
		}
		f.needed = f.fallback == "" && f.mustBeGiven()
		out = append(out, f)
	}
	return out
}

// mustBeGiven says whether the rules refuse the value of a key that was left out.
func (f *field) mustBeGiven() bool {
	if slices.Contains(f.rules, "omitempty") {
		return false
	}
	for _, rule := range f.rules {
		name, _, _ := strings.Cut(rule, "=")
		if slices.Contains([]string{"required", "given", "code", "oneof", "min", "eq"}, name) {
			return true
		}
	}
	return false
}

func (fs fields) named(key string) *field {
	for _, f := range fs {
		if f.key == key {
			return f
		}
	}
	return nil
}

func (fs fields) keys() []string {
	var out []string
	for _, f := range fs {
		out = append(out, f.key)
	}
	return out
}

func unknownKey(key string, fs fields) string {
	if near := nearest(key, fs.keys()); near != "" {
		return "there is no such key here; did you mean " + near + "?"
	}
	return "there is no such key here; there are " + strings.Join(fs.keys(), ", ")
}

// nearest is the candidate a slip of the fingers away from text, or "".
func nearest(text string, candidates []string) string {
	best, least := "", 1+len(text)/4
	for _, c := range candidates {
		if strings.EqualFold(c, text) {
			return c
		}
		if d := slips(text, c); d <= least && (best == "" || d < slips(text, best)) {
			best = c
		}
	}
	return best
}

// slips counts the letters to add, drop, replace or swap with their neighbour to make a into b.
func slips(a, b string) int {
	row := make([][]int, len(a)+1)
	for i := range row {
		row[i] = make([]int, len(b)+1)
		row[i][0] = i
	}
	for j := range row[0] {
		row[0][j] = j
	}
	for i := 1; i <= len(a); i++ {
		for j := 1; j <= len(b); j++ {
			change := 1
			if a[i-1] == b[j-1] {
				change = 0
			}
			row[i][j] = min(row[i-1][j]+1, row[i][j-1]+1, row[i-1][j-1]+change)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[i][j] = min(row[i][j], row[i-2][j-2]+1)
			}
		}
	}
	return row[len(a)][len(b)]
}

func contains(list []string, text string) bool { return slices.Contains(list, text) }
