package records

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestParseInstant(t *testing.T) {
	for text, want := range map[string]string{
		"2026-03-08T07:30:00Z":             "2026-03-08T07:30:00.000Z",
		"2026-03-08T02:30:00-05:00":        "2026-03-08T07:30:00.000Z",
		"2026-03-08T02:30:00.1-05:00":      "2026-03-08T07:30:00.100Z",
		"2026-03-08T07:30:00.123456789Z":   "2026-03-08T07:30:00.123Z",
		"1900-01-01T00:00:00Z":             "1900-01-01T00:00:00.000Z",
		"1969-12-31T23:59:59.9999Z":        "1969-12-31T23:59:59.999Z", // down, not toward 1970
		"2199-12-31T23:59:59.999Z":         "2199-12-31T23:59:59.999Z",
		"2024-02-29T12:00:00+05:30":        "2024-02-29T06:30:00.000Z",
		"2200-01-01T00:30:00.000000+01:00": "2199-12-31T23:30:00.000Z",
	} {
		got, err := ParseInstant(text)
		oracle, errOracle := time.Parse(time.RFC3339Nano, text)
		if err != nil || errOracle != nil || got.String() != want || got != InstantOf(oracle) || !got.Time().Equal(oracle.Truncate(time.Millisecond)) {
			t.Errorf("%s is read as %s (%v), want %s", text, got, err, want)
		}
	}
	for _, text := range []string{
		"", "2026-03-08", "2026-03-08T07:30Z", "2026-03-08T07:30:00", "2026-03-08 07:30:00Z", "2026-03-08t07:30:00z", "2026-02-29T00:00:00Z", "2026-13-01T00:00:00Z",
		"2026-03-08T24:00:00Z", "2026-03-08T07:60:00Z", "2026-06-30T23:59:60Z", "2026-03-08T7:30:00Z", "2026-03-08T07:30:00,5Z", "2026-03-08T07:30:00+25:00", "2026-03-08T07:30:00+24:00",
		"2026-03-08T07:30:00+05:60", "2026-03-08T07:30:00-0500", "1899-12-31T23:59:59Z", "2200-01-01T00:00:00Z", "1900-01-01T00:30:00+01:00", "12026-03-08T07:30:00Z",
		"2026-03-08T07:30:00Z ", "03/08/2026 7:30 AM", "1772955000", strings.Repeat("9", 5000),
	} {
		if got, err := ParseInstant(text); err == nil {
			t.Errorf("%q is read as %s", text, got)
		} else if len(err.Error()) > 200 {
			t.Errorf("the error for %.20q… has %d bytes", text, len(err.Error()))
		}
	}
}

// sameBothWays: whenever the short way answers, it answers as the slow one does; and the canonical spelling does take
// the short way.
func sameBothWays(t interface{ Fatalf(string, ...any) }, text string) {
	fast, ok := parseCanonical([]byte(text))
	slow, err := ParseInstant(text)
	if ok && (err != nil || fast != slow) {
		t.Fatalf("%q: short way %s, slow way %s (%v)", text, fast, slow, err)
	}
	if !ok && err == nil && slow.String() == text {
		t.Fatalf("%q is canonical and takes the slow way", text)
	}
	var decoded Instant
	if errText := decoded.UnmarshalText([]byte(text)); (errText == nil) != (err == nil) || err == nil && decoded != slow {
		t.Fatalf("%q: UnmarshalText %s (%v), ParseInstant %s (%v)", text, decoded, errText, slow, err)
	}
}

func TestInstantShortWay(t *testing.T) {
	// Each two-digit field through all its hundred values, each year, and each byte of the layout through every byte.
	const base = "2026-03-08T07:30:41.250Z"
	for _, at := range []int{0, 2, 5, 8, 11, 14, 17, 20, 21} {
		for n := range 100 {
			sameBothWays(t, base[:at]+string([]byte{byte('0' + n/10), byte('0' + n%10)})+base[at+2:])
		}
	}
	for at := range base {
		for c := range 256 {
			sameBothWays(t, base[:at]+string([]byte{byte(c)})+base[at+1:])
		}
	}
	// Days that some months have and others have not.
	for _, year := range []int{1900, 2000, 2023, 2024, 2100} {
		for month := 1; month <= 12; month++ {
			for day := 28; day <= 32; day++ {
				sameBothWays(t, fmt.Sprintf("%04d-%02d-%02dT07:30:41.250Z", year, month, day))
			}
		}
	}
	// Each day there is.
	for day := mustInstant("1900-01-01T23:59:59.999Z"); day < mustInstant("2199-12-31T00:00:00Z"); day += 86_400_000 {
		sameBothWays(t, day.String())
	}
	rapid.Check(t, func(t *rapid.T) {
		sameBothWays(t, rapid.StringMatching(`[0-9]{4}-[0-9]{2}-[0-3][0-9]T[0-2][0-9]:[0-6][0-9]:[0-6][0-9]\.[0-9]{3}Z`).Draw(t, "text"))
	})
}

func TestInstantRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		i := drawer{t}.instant()
		back, err := ParseInstant(i.String())
		if err != nil || back != i {
			t.Fatalf("%d is written %s and read as %d (%v)", i, i, back, err)
		}
		zone := time.FixedZone("", rapid.IntRange(-14*60, 14*60).Draw(t, "minutes")*60)
		local := i.Time().In(zone)
		if y := local.Year(); y < 1000 || y > 9999 {
			return
		}
		back, err = ParseInstant(local.Format(time.RFC3339Nano))
		if err != nil || back != i {
			t.Fatalf("%s is read as %s (%v)", local.Format(time.RFC3339Nano), back, err)
		}
	})
}

func TestInstantArithmetic(t *testing.T) {
	a, b := mustInstant("2026-03-08T07:30:00Z"), mustInstant("2026-03-08T09:00:00.5Z")
	if d := b.Sub(a); d != 90*time.Minute+500*time.Millisecond || a.Add(d) != b || b.Add(-d) != a {
		t.Errorf("the difference is %s", d)
	}
	if d := mustInstant("2199-12-31T00:00:00Z").Sub(mustInstant("1900-01-01T00:00:00Z")); d != math.MaxInt64 {
		t.Errorf("three centuries are %s, which is more than a Duration holds", d)
	}
}
