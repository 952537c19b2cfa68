package exports

import (
	"testing"

	"grainward/records/ledger"
)

func TestAStampThatDoesNotHoldTogetherIsRefused(t *testing.T) {
	signer, verifier, err := ledger.GenerateKey(nil, "quillmere.example/journal")
	if err != nil {
		t.Fatal(err)
	}
	root := ledger.LeafHash([]byte("one"))
	signed, err := ledger.Sign(ledger.Checkpoint{Origin: "quillmere.example/journal", Size: 1, Root: root}, signer)
	if err != nil {
		t.Fatal(err)
	}
	good := Stamp{Plant: "Quillmere Floor Maltings", Origin: "quillmere.example/journal", Size: 1, Root: root, Checkpoint: signed, VerifierKey: verifier, At: 1}
	if err := good.Check(); err != nil {
		t.Fatal(err)
	}
	for name, change := range map[string]func(*Stamp){
		"no plant":       func(s *Stamp) { s.Plant = "" },
		"no origin":      func(s *Stamp) { s.Origin = "" },
		"nothing in it":  func(s *Stamp) { s.Size = 0 },
		"no moment":      func(s *Stamp) { s.At = 0 },
		"another size":   func(s *Stamp) { s.Size = 2 },
		"another root":   func(s *Stamp) { s.Root = ledger.EmptyRoot() },
		"another origin": func(s *Stamp) { s.Origin = "other.example/journal" },
		"no key":         func(s *Stamp) { s.VerifierKey = "" },
	} {
		s := good
		change(&s)
		if s.Check() == nil {
			t.Errorf("%s passes", name)
		}
	}
	unsigned := good
	unsigned.Checkpoint, unsigned.VerifierKey = nil, ""
	if err := unsigned.Check(); err != nil || unsigned.Signed() {
		t.Errorf("without a signature: %v", err)
	}
}
