package exports

import (
	"fmt"
	"strconv"

	"grainward/records"
	"grainward/records/ledger"
)

// Stamp is carried by every export, so that whoever holds one can tell which entries it speaks of and ask the journal
// about them.
type Stamp struct {
	Plant   string // name, as in the plan in force at At
	Address string

	Origin      string           // the journal's name in its checkpoints
	Size        records.Position // entries the journal held: positions 0 to Size-1
	Root        ledger.Hash      // tree head over them
	Checkpoint  []byte           // the signed tree head; empty when the journal was open without the plant's key
	VerifierKey string           // that checks the checkpoint's signature; a reader compares it with the one the plant gave out

	At      records.Instant // the moment asked about: entries that happened by then
	Program string          // name and version of the program that made the export
	MadeBy  string          // the person who asked for it
}

// Field is one line of a stamp.
type Field struct{ Name, Value string }

// Fields are the stamp's lines, in a fixed order, under fixed names.
func (s *Stamp) Fields() []Field {
	return []Field{
		{"plant", s.Plant}, {"address", s.Address}, {"origin", s.Origin}, {"position", strconv.FormatInt(int64(s.Size), 10)},
		{"tree head", s.Root.String()}, {"moment", s.At.String()}, {"program", s.Program}, {"made by", s.MadeBy},
	}
}

// Signed says whether the stamp carries a signed tree head.
func (s *Stamp) Signed() bool { return len(s.Checkpoint) > 0 }

// Check says whether the stamp holds together: everything that names the journal is given, and the checkpoint, when
// there is one, is signed by the key and speaks of this tree head.
func (s *Stamp) Check() error {
	bad := func(field, value, want string) error {
		return &records.Error{Kind: records.Invalid, What: "the stamp of the export does not hold together",
			Fields: []records.FieldError{{Field: field, Value: value, Want: want}}}
	}
	switch {
	case s.Plant == "":
		return bad("plant", "", "the plant's name")
	case s.Origin == "":
		return bad("origin", "", "the journal's name")
	case s.Size <= 0:
		return bad("position", strconv.FormatInt(int64(s.Size), 10), "a journal with at least one entry")
	case s.At == 0:
		return bad("moment", "", "the moment asked about")
	case !s.Signed():
		return nil
	}
	c, err := ledger.Open(s.Checkpoint, s.VerifierKey)
	if err != nil {
		return fmt.Errorf("the checkpoint of the stamp: %w", err)
	}
	if c.Origin != s.Origin || c.Size != int64(s.Size) || c.Root != s.Root {
		return bad("checkpoint", fmt.Sprintf("%s %d %s", c.Origin, c.Size, c.Root), fmt.Sprintf("the head %s %d %s", s.Origin, s.Size, s.Root))
	}
	return nil
}
