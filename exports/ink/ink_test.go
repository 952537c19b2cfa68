package ink

import (
	"encoding/xml"
	"io"
	"strings"
	"testing"
	"unicode/utf8"

	"grainward/records"
)

// Whatever a text is, it comes back from an XML reader as it was, but for what XML can not hold; and it opens and closes nothing.
func FuzzEscape(f *testing.F) {
	for _, s := range []string{"", "a <b> & \"c\" 'd'", "\x00\x1b[2J\u202e", "]]>", "\xff\xfe", "größe\n\t\r", "\ufffe"} {
		f.Add(s, 5)
	}
	f.Fuzz(func(t *testing.T, s string, n int) {
		d := xml.NewDecoder(strings.NewReader("<t a=\"" + Escape(s) + "\">" + Escape(s) + "</t>"))
		depth, text := 0, ""
		for {
			tok, err := d.Token()
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatal(err)
			}
			switch e := tok.(type) {
			case xml.StartElement:
				if depth++; e.Name.Local != "t" || len(e.Attr) != 1 {
					t.Fatalf("%+v", e)
				}
				if strings.ContainsAny(s, "<>&\"'") && !strings.ContainsAny(e.Attr[0].Value, "<>&\"'") {
					t.Fatalf("%q is %q", s, e.Attr[0].Value)
				}
			case xml.CharData:
				text += string(e)
			}
		}
		if depth != 1 || utf8.RuneCountInString(text) != utf8.RuneCountInString(s) || strings.ContainsAny(text, "\x00\x1b\u202e\u2066") {
			t.Fatalf("%q became %q", s, text)
		}
		n %= 50
		if c := Clip(s, n); utf8.RuneCountInString(c) > max(n, 0) && n >= 0 && c != s {
			t.Fatalf("%q in %d is %q", s, n, c)
		}
	})
}

func TestClip(t *testing.T) {
	for _, c := range []struct {
		s    string
		n    int
		want string
	}{{"größe", 5, "größe"}, {"größer", 5, "größ…"}, {"ab", 1, ""}, {"a", 1, "a"}, {"ab", 0, ""}, {"ab", -3, ""}, {"", 0, ""}} {
		if got := Clip(c.s, c.n); got != c.want {
			t.Errorf("%q in %d is %q and not %q", c.s, c.n, got, c.want)
		}
	}
}

// Each status has a shape of its own, and the two organic ones the same.
func TestStatus(t *testing.T) {
	seen := map[string]records.Status{}
	for _, s := range []records.Status{records.Organic, records.MadeWith, records.Conventional, ""} {
		shape := Status(s, 10, 10, 4.5, "k", "g")
		if other, twice := seen[shape]; twice {
			t.Errorf("%q and %q look alike", s, other)
		}
		seen[shape] = s
	}
	if Status(records.Organic100, 1, 2, 4, "k", "g") != Status(records.Organic, 1, 2, 4, "k", "g") {
		t.Error("100 % organic has another shape")
	}
}
