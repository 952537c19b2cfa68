package records

import (
	"math"
	"strconv"
	"testing"

	"github.com/go-json-experiment/json/jsontext"
	"github.com/gowebpki/jcs"
	"pgregory.net/rapid"
)

// canonical is the very call that Format makes.
func canonical(text string) (string, error) {
	v := jsontext.Value(text)
	err := v.Canonicalize()
	return string(v), err
}

// The vectors are printed in RFC 8785: the sample object of section 3.2.2 and 3.2.3, the key order of section 3.2.3.
func TestCanonicalVectors(t *testing.T) {
	for name, v := range map[string]struct{ in, want string }{
		"sample": {
			"{\n  \"numbers\": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],\n" +
				"  \"string\": \"\\u20ac$\\u000F\\u000aA'\\u0042\\u0022\\u005c\\\\\\\"\\/\",\n  \"literals\": [null, true, false]\n}",
			`{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\u000f\nA'B\"\\\\\"/"}`,
		},
		"key order": {
			`{"\u20ac":"Euro Sign","\r":"Carriage Return","\ufb33":"Hebrew Letter Dalet With Dagesh","1":"One","\ud83d\ude00":"Emoji: Grinning Face","\u0080":"Control","\u00f6":"Latin Small Letter O With Diaeresis"}`,
			"{\"\\r\":\"Carriage Return\",\"1\":\"One\",\"\u0080\":\"Control\",\"ö\":\"Latin Small Letter O With Diaeresis\",\"€\":\"Euro Sign\",\"😀\":\"Emoji: Grinning Face\",\"\ufb33\":\"Hebrew Letter Dalet With Dagesh\"}",
		},
	} {
		got, err := canonical(v.in)
		if err != nil || got != v.want {
			t.Errorf("%s:\n got %s (%v)\nwant %s", name, got, err, v.want)
		}
	}
}

// RFC 8785 appendix B: IEEE bits and their text.
func TestCanonicalNumbers(t *testing.T) {
	for bits, want := range map[uint64]string{
		0x0000000000000000: "0",
		0x8000000000000000: "0",
		0x0000000000000001: "5e-324",
		0x7fefffffffffffff: "1.7976931348623157e+308",
		0x4340000000000000: "9007199254740992",
		0x44b52d02c7e14af6: "1e+23",
		0x444b1ae4d6e2ef50: "1e+21",
		0x3eb0c6f7a0b5ed8d: "0.000001",
		0x3eb0c6f7a0b5ed8c: "9.999999999999997e-7",
		0x41b3de4355555553: "333333333.3333332",
	} {
		in := strconv.FormatFloat(math.Float64frombits(bits), 'g', 17, 64)
		if got, err := canonical(in); err != nil || got != want {
			t.Errorf("%016x: got %s (%v), want %s", bits, got, err, want)
		}
	}
}

// An independent library, github.com/gowebpki/jcs, must find nothing to change in what Format wrote.
func TestFormatIsCanonicalForAnotherLibrary(t *testing.T) {
	eachKind(t, func(t *rapid.T, e Entry) {
		row, err := Format(e)
		if err != nil {
			t.Fatal(err)
		}
		if theirs, err := jcs.Transform(row.Bytes); err != nil || string(theirs) != string(row.Bytes) {
			t.Fatalf("jcs (%v)\n   makes %s\nout of %s", err, theirs, row.Bytes)
		}
		if again, err := canonical(string(row.Bytes)); err != nil || again != string(row.Bytes) {
			t.Fatalf("canonicalizing twice (%v) makes %s out of %s", err, again, row.Bytes)
		}
	})
}

// What RFC 8785 can not give one meaning is refused (its section 3.1, after RFC 7493).
func TestAmbiguousJSONIsRefused(t *testing.T) {
	for name, note := range map[string]string{
		"duplicate member":      `"a","note":"b"`,
		"lone high surrogate":   `"\ud800"`,
		"lone low surrogate":    `"\udc00"`,
		"surrogates turned":     `"\udc00\ud800"`,
		"bad UTF-8":             "\"\xff\"",
		"overlong UTF-8":        "\"\xc0\xaf\"",
		"surrogate in UTF-8":    "\"\xed\xa0\x80\"",
		"bare control":          "\"\x01\"",
		"unknown escape":        `"\x41"`,
		"single quotes":         `'a'`,
		"comment":               `"a" /* b */`,
		"comma before the end":  `"a",`,
		"duplicate by escaping": `"a","\u006eote":"b"`,
	} {
		line := `{"by":"crew-1","fact":{"outcome":"passed","station":"s","task":"t","note":` + note + `},"happened":"2026-03-08T07:30:00.000Z","kind":"signoff"}`
		if e, err := ParseDraft([]byte(line)); err == nil {
			t.Errorf("%s: read as %+v", name, e.Fact)
		} else if KindOf(err) != Invalid {
			t.Errorf("%s: kind %d, want Invalid: %v", name, KindOf(err), err)
		}
	}
	ok := `{"by":"crew-1","fact":{"outcome":"passed","station":"s","task":"t","note":"\ud83d\ude00"},"happened":"2026-03-08T07:30:00.000Z","kind":"signoff"}`
	if _, err := ParseDraft([]byte(ok)); err != nil {
		t.Errorf("the same line with a whole pair is refused: %v", err)
	}
}
