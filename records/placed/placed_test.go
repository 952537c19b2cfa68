package placed

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/goccy/go-yaml/ast"

	"grainward/records"
)

var small = Form{Bytes: 4_000, Colons: 200, Brackets: 10, Line: 500, Called: "the list", NoSuch: "that is no list", Start: "write one", One: "a list is one document"}

func TestOpen(t *testing.T) {
	for text, want := range map[string]string{
		"":                             "line 1: the file is empty; write one",
		"# nothing\n---\n# here\n":     "the file is empty",
		"a: 1\n---\nb: 2\n":            "line 3: a second document starts here; a list is one document",
		"a: \xff\n":                    "line 1: the line is not text in UTF-8",
		"a: [":                         "not YAML",
		"a: b: c":                      "check the indentation",
		strings.Repeat("[", 11):        "more than 10 brackets are open here",
		strings.Repeat("a", 501):       "line 1: the line is longer than 500 characters",
		strings.Repeat("a:\n", 201):    "the list has more than 200 keys; that is no list",
		strings.Repeat("# a\n", 1_001): "the list takes 4004 bytes; 4000 is the most",
	} {
		f := Of([]byte(text))
		body, fault := f.Open(small)
		if body != nil || fault == nil {
			t.Errorf("%.20q was read", text)
			continue
		}
		if err := f.Err("the list", []Fault{*fault}, ""); !strings.Contains(err.Error(), want) {
			t.Errorf("%.20q: it says %v and not %s", text, err, want)
		}
	}
}

// The two shapes the library has for a group are visited alike, and values stay as they are written.
func TestTree(t *testing.T) {
	for _, text := range []string{"a: 0.40", "a: 0.40\nb: 007\nc: .inf\nd: 'x y'\ne: |\n  lines\n  of it\nf: true", "{a: 0.40, b: 007, c: .inf, d: x y}"} {
		body, fault := Of([]byte(text)).Open(small)
		if fault != nil {
			t.Fatalf("%q: %v", text, fault)
		}
		got := map[string]string{}
		if !Each(body, func(key string, at, value ast.Node) {
			v, ok := Scalar(value)
			if !ok {
				t.Errorf("%q: %s is no plain value", text, key)
			}
			got[key] = v
		}) {
			t.Fatalf("%q is no group", text)
		}
		for key, want := range map[string]string{"a": "0.40", "b": "007", "c": ".inf", "d": "x y", "e": "lines\nof it", "f": "true"} {
			if v, ok := got[key]; ok && strings.TrimSpace(v) != want {
				t.Errorf("%q: %s is %q and not %q", text, key, v, want)
			}
		}
		if len(got) == 0 {
			t.Errorf("%q: nothing was visited", text)
		}
	}
	if Each(nil, nil) || Join("", "a") != "a" || Join("a", "b") != "a.b" || !IsNull(nil) || Begins(nil) != (Spot{}) {
		t.Error("of nothing something is said")
	}
}

// All faults at once, in the order of the lines, each with its line and a mark under the spot.
func TestErr(t *testing.T) {
	long := "name: " + strings.Repeat("é", 150) + "HERE" + strings.Repeat("z", 60)
	f := Of([]byte("first: 1\n\tsecond: \"größe\"\r\n" + long))
	err := f.Err("the list", []Fault{{Spot{3, 157, 4}, "name", "", "a short name"}, {Spot{2, 10, 7}, "second", "größe", "a number"}, {Spot{}, "", "", "something of the whole"}}, "")
	var own *records.Error
	if !errors.As(err, &own) || own.Kind != records.Invalid || own.What != "the list has 3 faults" || len(own.Fields) != 3 {
		t.Fatalf("%v", err)
	}
	if own.Fields[0].Want != "something of the whole" {
		t.Errorf("a fault without a place is quoted: %q", own.Fields[0].Want)
	}
	if want := "a number\n    2:10 |  second: \"größe\"\n         |          ^^^^^^^"; own.Fields[1].Want != want {
		t.Errorf("it shows\n%s\nand not\n%s", own.Fields[1].Want, want)
	}
	lines := strings.Split(own.Fields[2].Want, "\n")
	if at := strings.Index(lines[2], "^"); string([]rune(lines[1])[at:at+4]) != "HERE" || strings.Count(lines[2], "^") != 4 || utf8.RuneCountInString(lines[1]) > 125 {
		t.Errorf("of a long line it shows\n%s", own.Fields[2].Want)
	}
	if err := f.Err("the list", []Fault{{Spot{1, 1, 1}, "", "", "x"}}, "has more than can be told"); !strings.Contains(err.Error(), "the list has more than can be told") {
		t.Error(err)
	}
}

// FuzzOpen: whatever stands in a file, it is opened or refused with a reason that has a line of the file or none; every value that is found
// lies within the file; and a fault at any value can be told, with a mark within the line shown.
func FuzzOpen(f *testing.F) {
	f.Add([]byte("a: 1\nb: [x, {y: z}]\nc:\n  - d: |\n      text\n"), 3)
	f.Add([]byte("&a x: *a\n? [k]\n: v\n"), 1)
	f.Add([]byte("{\"a\": !!tag 'it''s', b: >-\n  f\n}"), 0)
	f.Add([]byte("\ufeffa: é"+strings.Repeat("é", 120)+": \t1\r\n"), 2)
	f.Fuzz(func(t *testing.T, text []byte, width int) {
		file := Of(text)
		lines := len(file.lines)
		body, fault := file.Open(small)
		if (body == nil) == (fault == nil) {
			t.Fatalf("%v and %v", body, fault)
		}
		var faults []Fault
		if fault != nil {
			if fault.Want == "" {
				t.Fatal("refused without a reason")
			}
			faults = append(faults, *fault)
		}
		var walk func(n ast.Node, deep int)
		walk = func(n ast.Node, deep int) {
			if n == nil || deep > 40 || len(faults) > 50 {
				return
			}
			s := Begins(n)
			if s.Line > lines || s.Column < 0 {
				t.Fatalf("%+v of %d lines", s, lines)
			}
			faults = append(faults, Fault{Spot: Spot{s.Line, s.Column, max(s.Width, width%300)}, Want: "other"})
			Scalar(n)
			if !Each(n, func(_ string, at, value ast.Node) { walk(at, deep+1); walk(value, deep+1) }) {
				if seq, ok := n.(*ast.SequenceNode); ok {
					for _, v := range seq.Values {
						walk(v, deep+1)
					}
				}
			}
		}
		walk(body, 0)
		var own *records.Error
		if !errors.As(file.Err("the list", faults, ""), &own) || len(own.Fields) != len(faults) {
			t.Fatal("not every fault is told")
		}
		if !slices.IsSortedFunc(own.Fields, func(a, b records.FieldError) int { return a.Line - b.Line }) {
			t.Fatal("not in the order of the lines")
		}
		for _, x := range own.Fields {
			shown := strings.Split(x.Want, "\n")
			if x.Line < 1 || x.Line > lines || len(shown) < 3 {
				continue
			}
			marked, line := []rune(shown[len(shown)-1]), []rune(shown[len(shown)-2])
			if from := slices.Index(marked, '^'); from < 0 || from > len(line) || len(marked) > len(line)+1 {
				t.Fatalf("the mark is outside its line:\n%s", x.Want)
			}
		}
	})
}
