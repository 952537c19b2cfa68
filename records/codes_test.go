package records

import (
	"regexp"
	"strings"
	"testing"

	"github.com/google/uuid"
	"pgregory.net/rapid"

	"grainward/records/calendar"
)

func TestCheckCode(t *testing.T) {
	grammar := regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,39}$`)
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(rapid.StringMatching(`[a-z0-9-]{0,42}`), rapid.StringMatching(`[a-zA-Z0-9 _.é-]{0,5}`), rapid.String()).Draw(t, "code")
		if err := CheckCode(text); (err == nil) != grammar.MatchString(text) {
			t.Fatalf("%q: %v", text, err)
		}
	})
	for text, want := range map[string]string{
		"Kiln-1":                `'K'`,
		"señor":                 `'ñ'`,
		"a b":                   `a space`,
		"-a":                    "starts with a hyphen",
		"":                      "empty",
		strings.Repeat("a", 41): "longer than 40",
		"a\xffb":                "'�'",
	} {
		if err := CheckCode(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v; want an error with %s", text, err, want)
		}
	}
}

// GS1 set 82 has, as its name says, 82 characters: 10 digits, 52 letters and these 20 (standards.md section 1.4).
func TestCheckLot(t *testing.T) {
	const marks = `!"%&'()*+,-./:;<=>?_`
	count := 0
	for c := rune(0); c < 0x3000; c++ {
		err := CheckLot(string(c))
		want := c >= '0' && c <= '9' || c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || strings.ContainsRune(marks, c)
		if (err == nil) != want {
			t.Errorf("%q: %v", c, err)
		}
		if err == nil {
			count++
		}
	}
	if count != 82 {
		t.Errorf("the alphabet has %d characters", count)
	}
	for text, want := range map[string]string{"": "empty", "B26 014": "a space", "B26-014é": "'é'", strings.Repeat("9", 21): "longer than 20", "B\xff": "'�'"} {
		if err := CheckLot(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v; want an error with %s", text, err, want)
		}
	}
	for _, ok := range []string{"B26-014", strings.Repeat("9", 20), "998877"} {
		if err := CheckLot(ok); err != nil {
			t.Errorf("%q: %v", ok, err)
		}
	}
}

func TestParseEntryID(t *testing.T) {
	// The version 7 example of RFC 9562, appendix A.6 (from memory), in the lower case we ask for.
	const example = "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"
	id, err := ParseEntryID(example)
	if err != nil || id.String() != example {
		t.Errorf("%s is read as %s (%v)", example, id, err)
	}
	for text, want := range map[string]string{
		"":                                     "not an id",
		strings.ToUpper(example):               "lower case",
		"{" + example + "}":                    "hyphens",
		"urn:uuid:" + example:                  "hyphens",
		strings.ReplaceAll(example, "-", ""):   "hyphens",
		example + " ":                          "not an id",
		example[:35]:                           "not an id",
		example[:35] + "g":                     "not an id",
		"017f22e279-b0-7cc3-98c4-dc0c0c07398f": "not an id",
		"00000000-0000-0000-0000-000000000000": "RFC 9562",
		"ffffffff-ffff-ffff-ffff-ffffffffffff": "RFC 9562",
		"017f22e2-79b0-7cc3-c8c4-dc0c0c07398f": "fourth group",
		"919108f7-52d1-4320-9bac-f847db4148a8": "version 4",
		"1ec9414c-232a-6b00-b3c8-9f6bdeced846": "version 6",
		"2489e9ad-2ee2-8e00-8ec9-32d5f69181c0": "version 8",
	} {
		got, err := ParseEntryID(text)
		if err == nil || !strings.Contains(err.Error(), want) || !got.IsZero() {
			t.Errorf("%q: %s, %v; want an error with %s", text, got, err, want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		u := uuid.UUID(rapid.SliceOfN(rapid.Byte(), 16, 16).Draw(t, "bytes"))
		if rapid.Bool().Draw(t, "seven") {
			u[6] = u[6]&0x0f | 0x70
		}
		id, err := ParseEntryID(u.String())
		if ok := u.Version() == 7 && u.Variant() == uuid.RFC4122; ok != (err == nil) {
			t.Fatalf("%s: %v", u, err)
		}
		if appended, errText := EntryID(u).AppendText([]byte("id ")); errText != nil || string(appended) != "id "+u.String() || err == nil && id.String() != u.String() {
			t.Fatalf("%s is written %s", u, appended)
		}
	})
	if a, b := NewEntryID(), NewEntryID(); a == b || a.IsZero() {
		t.Errorf("two new ids: %s and %s", a, b)
	} else if _, err := ParseEntryID(a.String()); err != nil {
		t.Errorf("a new id is refused: %v", err)
	}
}

// The table of shared codes stops growing, so that hostile input leaves nothing behind.
func TestSharedCodesAreBounded(t *testing.T) {
	long := strings.Repeat("x", maxCode+1)
	if shared([]byte(long)) != long {
		t.Error("a long code is changed")
	}
	known.RLock()
	_, kept := known.m[long]
	known.RUnlock()
	if kept {
		t.Error("a text too long for a code was kept")
	}
	text := []byte("crew-1")
	got := shared(text)
	text[0] = 'X'
	if got != "crew-1" || shared([]byte("crew-1")) != "crew-1" {
		t.Error("the caller's bytes are shared, not copied")
	}
}

func TestDocumentHoldsOn(t *testing.T) {
	day := func(n calendar.Date) *calendar.Date { return &n }
	for _, c := range []struct {
		doc  Document
		want string // for the days 9 to 13
	}{
		{Document{}, "yyyyy"},
		{Document{From: day(10)}, "nyyyy"},
		{Document{To: day(12)}, "yyyyn"},
		{Document{From: day(10), To: day(12)}, "nyyyn"},
		{Document{From: day(12), To: day(10)}, "nnnnn"},
	} {
		got := ""
		for n := calendar.Date(9); n <= 13; n++ {
			got += map[bool]string{true: "y", false: "n"}[c.doc.HoldsOn(n)]
		}
		if got != c.want {
			t.Errorf("%+v holds %s, want %s", c.doc, got, c.want)
		}
	}
}
