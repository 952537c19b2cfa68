package plan

import "testing"

// FuzzWords is the small words of a plan: spans, times of day, classes. What is read can be written, and reads the same again.
func FuzzWords(f *testing.F) {
	for _, text := range []string{"1h", "90m", "2d", "P1Y", "05:30", "24:00", "+1 05:30", "organic", "organic wheat, milk", "made-with:sesame", "-1h", "99999999999999h", "1h1h"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if s, err := ParseSpan(text); err == nil {
			if again, err := ParseSpan(s.String()); err != nil || again != s {
				t.Errorf("the span %q is written %q and read as %v, %v", text, s, again, err)
			}
		}
		if d, err := ParseDayTime(text); err == nil {
			if again, err := ParseDayTime(d.String()); err != nil || again != d {
				t.Errorf("the time %q is written %q and read as %v, %v", text, d, again, err)
			}
		}
		if c, err := ParseClass(text); err == nil {
			if again, err := ParseClass(c.String()); err != nil || again.String() != c.String() {
				t.Errorf("the class %q is written %q and read as %v, %v", text, c, again, err)
			}
		}
	})
}
