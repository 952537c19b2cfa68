package backendtest

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"grainward/records"
)

type checkpoint struct {
	size   int
	signed string
}

func wantCheckpoints(t *testing.T, s records.Store, want []checkpoint) {
	t.Helper()
	var got []checkpoint
	err := s.Checkpoints(t.Context(), func(size records.Position, signed []byte) error {
		got = append(got, checkpoint{int(size), string(signed)})
		return nil
	})
	if err != nil {
		t.Fatalf("checkpoints: %v", err)
	}
	if !slices.Equal(got, want) {
		t.Fatalf("checkpoints %+v, want %+v", got, want)
	}
}

func checkpoints(t *testing.T, o Opened) {
	note := "plant.example/log\n12\nroot\n\n— plant.example/log c2ln" + strings.Repeat("A", 3000) + "\n"
	mustAppend(t, o.Store, 0, rowsFrom(0, 2), note)
	mustAppend(t, o.Store, 2, rowsFrom(2, 1), "") // no key: no head
	mustAppend(t, o.Store, 3, rowsFrom(3, 8), "eleven")
	mustAppend(t, o.Store, 11, rowsFrom(11, 1), "twelve")
	want := []checkpoint{{2, note}, {11, "eleven"}, {12, "twelve"}}
	wantCheckpoints(t, o.Store, want)

	enough := errors.New("enough")
	visits := 0
	err := o.Store.Checkpoints(t.Context(), func(records.Position, []byte) error { visits++; return enough })
	if !errors.Is(err, enough) || visits != 1 {
		t.Fatalf("stopping at the first checkpoint: %d visits, error %v", visits, err)
	}
}
