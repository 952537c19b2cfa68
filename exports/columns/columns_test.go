package columns

import (
	"bytes"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

func set(t testing.TB, head []string, align string, rows ...[]string) string {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, head, align, rows); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestNarrowTableIsLeftAsItIs(t *testing.T) {
	got := set(t, []string{"lot", "mass"}, "lr", []string{"M26-1", "7.00 lb"}, []string{"M26-11", "120.00 lb"})
	want := "lot          mass\nM26-1     7.00 lb\nM26-11  120.00 lb\n"
	if got != want {
		t.Errorf("got\n%swant\n%s", got, want)
	}
}

func TestWideCellsAreBrokenAtSpaces(t *testing.T) {
	long := strings.Repeat("oats and barley ", 12)
	got := set(t, nil, "lrl", []string{"A", "1.00 lb", long}, []string{"B\nC", "22.00 lb", "x"})
	for line := range strings.Lines(got) {
		if n := utf8.RuneCountInString(strings.TrimSuffix(line, "\n")); n > Wide {
			t.Errorf("%d letters: %s", n, line)
		}
	}
	if !strings.Contains(got, "\nB C  22.00 lb  x\n") {
		t.Errorf("a line feed in a cell:\n%s", got)
	}
	if strings.Join(strings.Fields(got), " ") != "A 1.00 lb "+strings.TrimSpace(long)+" B C 22.00 lb x" {
		t.Errorf("words were lost or broken:\n%s", got)
	}
}

func TestRaggedRowIsAnError(t *testing.T) {
	if err := Write(&bytes.Buffer{}, nil, "ll", [][]string{{"one"}}); err == nil {
		t.Error("a row of one cell in a table of two columns was written")
	}
}

// Nothing that is no space is lost, no line is longer than asked, and no word is broken that would fit.
func TestBreak(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringOf(rapid.SampledFrom([]rune("ab é→\t"))).Draw(t, "text")
		width := rapid.IntRange(1, 12).Draw(t, "width")
		lines := Break(text, width)
		for _, l := range lines {
			if utf8.RuneCountInString(l) > width {
				t.Fatalf("%q is longer than %d", l, width)
			}
		}
		if got, want := strings.Join(strings.Fields(strings.Join(lines, "")), ""), strings.Join(strings.Fields(text), ""); got != want {
			t.Fatalf("%q became %q", text, lines)
		}
		for _, word := range strings.Fields(text) {
			if utf8.RuneCountInString(word) <= width && !strings.Contains(strings.Join(lines, "\n"), word) {
				t.Fatalf("%q was broken in %q", word, lines)
			}
		}
	})
}
