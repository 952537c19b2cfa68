package ledger

import (
	"bytes"

	"pgregory.net/rapid"
)

// drawKey makes a key pair from a drawn seed, so that a failing case can be run again.
func drawKey(t *rapid.T, name string) (signer, verifier string) {
	seed := rapid.SliceOfN(rapid.Byte(), 32, 32).Draw(t, "seed")
	signer, verifier, err := GenerateKey(bytes.NewReader(seed), name)
	if err != nil {
		t.Fatal(err)
	}
	return signer, verifier
}

// drawOrigin is a name fit for a key and for a checkpoint alike.
func drawOrigin(t *rapid.T) string {
	return rapid.StringMatching(`[a-zé—./:-]{1,30}`).Draw(t, "origin")
}

// drawProof is a true proof with all that it was made from. Extra is nil or has at least a byte.
func drawProof(t *rapid.T) (p Proof, leaf Hash, c Checkpoint, signerKey, verifierKey string) {
	tree, leaves := drawTree(t, 1, 80)
	size := rapid.Int64Range(1, tree.Size()).Draw(t, "proven size")
	p.Index = rapid.Int64Range(0, size-1).Draw(t, "index")
	if e := rapid.SliceOfN(rapid.Byte(), 0, 40).Draw(t, "extra"); len(e) > 0 {
		p.Extra = e
	}
	c.Origin, c.Size = drawOrigin(t), size
	signerKey, verifierKey = drawKey(t, c.Origin)
	var err error
	if c.Root, err = tree.RootAt(size); err != nil {
		t.Fatal(err)
	}
	if p.Hashes, err = tree.Inclusion(p.Index, size); err != nil {
		t.Fatal(err)
	}
	if p.Checkpoint, err = Sign(c, signerKey); err != nil {
		t.Fatal(err)
	}
	return p, leaves[p.Index], c, signerKey, verifierKey
}
