package main

import (
	"context"
	"os"

	"grainward/exports/binder"
	"grainward/records"
)

// binderJSON is what verify says of a binder.
type binderJSON struct {
	Entries records.Position  `json:"entries"`
	At      records.Instant   `json:"at"`
	Leaves  int               `json:"leaves"`
	Cells   int               `json:"cells"`
	Same    bool              `json:"same"`
	Faults  []binderFaultJSON `json:"faults"`
	More    int               `json:"more"`
}

type binderFaultJSON struct {
	Sheet    string `json:"sheet"`
	Cell     string `json:"cell"`
	Says     string `json:"says"`
	Should   string `json:"should"`
	sentence string
}

// checkBinder holds a binder against a journal that has just been verified.
func checkBinder(ctx context.Context, path string, store records.Backend, key string) (*binderJSON, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fileError("reading the binder", path, err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, fileError("reading the binder", path, err)
	}
	v, err := binder.Verify(ctx, f, info.Size(), store.Read, key, "")
	if err != nil {
		return nil, err
	}
	out := &binderJSON{Entries: v.Stamp.Size, At: v.Stamp.At, Leaves: v.Leaves, Cells: v.Cells, Same: v.Same, Faults: []binderFaultJSON{}, More: v.More}
	for _, fault := range v.Faults {
		out.Faults = append(out.Faults, binderFaultJSON{fault.Sheet, fault.Cell, fault.Says, fault.Should, fault.String()})
	}
	return out, nil
}

func (c *verifyCommand) printBinder(w *world, v *binderJSON) {
	switch {
	case c.Binder == "":
		return
	case v == nil:
		w.say("%s was not looked at: first the journal has to be as it was written.", c.Binder)
		return
	case len(v.Faults) > 0:
		w.say("%s does not agree with the journal: %s.", c.Binder, plural(len(v.Faults)+v.More, "fault"))
	case v.Same:
		w.say("%s is byte for byte what the journal gives: %s, %s.", c.Binder, plural(int(v.Entries), "entry"), plural(v.Leaves, "leaf hash"))
	default:
		w.say("%s says what the journal says, in other bytes: it was saved again, or made by another version of this program. %d cells and %s agree.", c.Binder, v.Cells, plural(v.Leaves, "leaf hash"))
	}
	const most = 20
	for _, fault := range v.Faults[:min(most, len(v.Faults))] {
		w.say("  %s", fault.sentence)
	}
	if n := len(v.Faults) + v.More - most; n > 0 {
		w.say("  and %d more", n)
	}
}
