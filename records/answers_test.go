package records

import (
	"bytes"
	"reflect"
	"testing"

	"pgregory.net/rapid"
)

// Two sets of answers share one copy exactly when they are the same, down to how a number was written.
func TestSharedAnswers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		one := func(label string) []Response {
			ask := rapid.SampledFrom([]AskCode{"a", "ab", "b"})
			unit := rapid.SampledFrom([]string{"", "a", "\x00", "ab", "5", "1y"})
			number := rapid.SampledFrom([]string{"1", "1.0", "-1", "10", "0"})
			return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Response {
				r := Response{Ask: ask.Draw(t, "ask")}
				switch rapid.IntRange(0, 4).Draw(t, "type") {
				case 0:
					r.Value = &Quantity{mustDecimal(number.Draw(t, "number")), unit.Draw(t, "unit")}
				case 1:
					yes := rapid.Bool().Draw(t, "yes")
					r.Yes = &yes
				case 2:
					r.Choice = unit.Draw(t, "choice")
				case 3:
					r.Text = unit.Draw(t, "text")
				case 4:
					r.Photo = unit.Draw(t, "photo")
				}
				return r
			}), 0, 3).Draw(t, label)
		}
		a, b := one("one"), one("other")
		keyA, okA := answersKey(nil, a)
		keyB, okB := answersKey(nil, b)
		if okA && okB && bytes.Equal(keyA, keyB) != reflect.DeepEqual(a, b) {
			t.Fatalf("%+v and %+v have the keys %q and %q", a, b, keyA, keyB)
		}
		gotA, gotB := sharedAnswers(a), sharedAnswers(b)
		if !reflect.DeepEqual(gotA, a) || !reflect.DeepEqual(gotB, b) {
			t.Fatalf("%+v became %+v, %+v became %+v", a, gotA, b, gotB)
		}
		if okA && okB && reflect.DeepEqual(a, b) && &gotA[0] != &gotB[0] {
			t.Fatal("equal answers are kept twice")
		}
	})
}

// A decoder that doubles leaves room behind; what is kept has none.
func TestAnswersKeepNoRoom(t *testing.T) {
	as := make([]Response, 1, 8)
	as[0] = Response{Ask: "words", Text: "never said before"}
	if got := sharedAnswers(as); cap(got) != 1 {
		t.Error(cap(got))
	}
}
