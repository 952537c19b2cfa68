package ledger

import (
	"bytes"
	"slices"
	"testing"

	formatslog "github.com/transparency-dev/formats/log"
	formatsproof "github.com/transparency-dev/formats/proof"
	"github.com/transparency-dev/merkle/compact"
	merkleproof "github.com/transparency-dev/merkle/proof"
	"github.com/transparency-dev/merkle/rfc6962"
	merkletree "github.com/transparency-dev/merkle/testonly"
	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"
	"pgregory.net/rapid"
)

// The peers: github.com/transparency-dev/merkle v0.0.2 and github.com/transparency-dev/formats v0.1.1, written by
// others and sharing nothing with this package.

func toPeer(hashes []Hash) [][]byte {
	var out [][]byte
	for _, h := range hashes {
		out = append(out, bytes.Clone(h[:]))
	}
	return out
}

func fromPeer(hashes [][]byte) []Hash {
	var out []Hash
	for _, h := range hashes {
		out = append(out, Hash(h))
	}
	return out
}

func inclusionByPeer(root Hash, size, index int64, leaf Hash, proof []Hash) error {
	return merkleproof.VerifyInclusion(rfc6962.DefaultHasher, uint64(index), uint64(size), leaf[:], toPeer(proof), root[:])
}

func consistencyByPeer(fromRoot Hash, from int64, toRoot Hash, to int64, proof []Hash) error {
	return merkleproof.VerifyConsistency(rfc6962.DefaultHasher, uint64(from), uint64(to), toPeer(proof), fromRoot[:], toRoot[:])
}

func acceptedByPeer(t *rapid.T, err error, want bool) {
	if (err == nil) != want {
		t.Fatalf("the peer says %v, we say accepted=%v", err, want)
	}
}

func TestMerklePeerBothWays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tree, leaves := drawTree(t, 1, 300)
		peer := merkletree.New(rfc6962.DefaultHasher)
		edge := (&compact.RangeFactory{Hash: rfc6962.DefaultHasher.HashChildren}).NewEmptyRange(0)
		for _, l := range leaves {
			peer.Append(bytes.Clone(l[:]))
			if err := edge.Append(bytes.Clone(l[:]), nil); err != nil {
				t.Fatal(err)
			}
		}
		to := rapid.Int64Range(1, tree.Size()).Draw(t, "to")
		index := rapid.Int64Range(0, to-1).Draw(t, "index")
		from := rapid.Int64Range(1, to).Draw(t, "from")

		root := tree.Root()
		if byEdge, err := edge.GetRootHash(nil); err != nil || !bytes.Equal(byEdge, root[:]) {
			t.Fatalf("root %v, compact range says %x, %v", root, byEdge, err)
		}
		toRoot, _ := tree.RootAt(to)
		fromRoot, _ := tree.RootAt(from)
		if !bytes.Equal(peer.HashAt(uint64(to)), toRoot[:]) {
			t.Fatalf("root at %d differs", to)
		}

		ours, err := tree.Inclusion(index, to)
		if err != nil {
			t.Fatal(err)
		}
		theirs, err := peer.InclusionProof(uint64(index), uint64(to))
		if err != nil || !slices.Equal(ours, fromPeer(theirs)) {
			t.Fatalf("Inclusion(%d, %d) = %v, peer %x, %v", index, to, ours, theirs, err)
		}
		acceptedByPeer(t, inclusionByPeer(toRoot, to, index, leaves[index], ours), true)
		if err := VerifyInclusion(toRoot, to, index, leaves[index], fromPeer(theirs)); err != nil {
			t.Fatal(err)
		}

		ours, err = tree.Consistency(from, to)
		if err != nil {
			t.Fatal(err)
		}
		theirs, err = peer.ConsistencyProof(uint64(from), uint64(to))
		if err != nil || !slices.Equal(ours, fromPeer(theirs)) {
			t.Fatalf("Consistency(%d, %d) = %v, peer %x, %v", from, to, ours, theirs, err)
		}
		acceptedByPeer(t, consistencyByPeer(fromRoot, from, toRoot, to, ours), true)
		if err := VerifyConsistency(fromRoot, from, toRoot, to, fromPeer(theirs)); err != nil {
			t.Fatal(err)
		}
	})
}

// Wrong sizes, wrong indexes, proofs of wrong length: the same verdict as two other verifiers, one of them
// golang.org/x/mod/sumdb/tlog. The sizes are small, where a wrong one has the best chance to fit.
func TestVerdictsAgreeOnWrongInput(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tree, leaves := drawTree(t, 1, 20)
		to := rapid.Int64Range(1, tree.Size()).Draw(t, "to")
		index := rapid.Int64Range(0, to-1).Draw(t, "index")
		from := rapid.Int64Range(1, to).Draw(t, "from")
		toRoot, _ := tree.RootAt(to)
		fromRoot, _ := tree.RootAt(from)

		size := rapid.Int64Range(1, 22).Draw(t, "claimed size")
		at := rapid.Int64Range(0, 22).Draw(t, "claimed index")
		proof, _ := tree.Inclusion(index, to)
		proof = misfit(t, proof)
		got := VerifyInclusion(toRoot, size, at, leaves[index], proof) == nil
		acceptedByPeer(t, inclusionByPeer(toRoot, size, at, leaves[index], proof), got)
		acceptedByPeer(t, tlog.CheckRecord(proof, size, toRoot, at, leaves[index]), got)

		old := rapid.Int64Range(1, 22).Draw(t, "claimed old size")
		proof, _ = tree.Consistency(from, to)
		proof = misfit(t, proof)
		got = VerifyConsistency(fromRoot, old, toRoot, size, proof) == nil
		acceptedByPeer(t, consistencyByPeer(fromRoot, old, toRoot, size, proof), got)
		acceptedByPeer(t, tlog.CheckTree(proof, size, toRoot, old, fromRoot), got)
	})
}

// misfit leaves a proof as it is, or makes it one hash longer or shorter.
func misfit(t *rapid.T, proof []Hash) []Hash {
	switch rapid.IntRange(0, 2).Draw(t, "misfit") {
	case 1:
		return append(slices.Clone(proof), LeafHash(nil))
	case 2:
		return proof[:max(0, len(proof)-1)]
	}
	return proof
}

func TestFormatsPeerReadsOurs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, leaf, c, _, verifierKey := drawProof(t)
		data := FormatProof(p)

		var theirs formatsproof.TLogProof
		if err := theirs.Unmarshal(data); err != nil {
			t.Fatal(err)
		}
		if theirs.Index != uint64(p.Index) || !bytes.Equal(theirs.ExtraData, p.Extra) || !bytes.Equal(theirs.Checkpoint, p.Checkpoint) {
			t.Fatalf("the peer read %+v", theirs)
		}
		verifier, err := note.NewVerifier(verifierKey)
		if err != nil {
			t.Fatal(err)
		}
		head, other, _, err := formatslog.ParseCheckpoint(theirs.Checkpoint, c.Origin, verifier)
		if err != nil || len(other) != 0 || head.Size != uint64(c.Size) || !bytes.Equal(head.Hash, c.Root[:]) {
			t.Fatalf("the peer read checkpoint %+v, %q, %v", head, other, err)
		}
		var path [][]byte
		for _, h := range theirs.Hashes {
			path = append(path, h[:])
		}
		if err := merkleproof.VerifyInclusion(rfc6962.DefaultHasher, theirs.Index, head.Size, leaf[:], path, head.Hash); err != nil {
			t.Fatal(err)
		}
	})
}

func TestWeReadTheFormatsPeer(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, leaf, c, signerKey, verifierKey := drawProof(t)
		signer, err := note.NewSigner(signerKey)
		if err != nil {
			t.Fatal(err)
		}
		head := formatslog.Checkpoint{Origin: c.Origin, Size: uint64(c.Size), Hash: c.Root[:]}
		signed, err := note.Sign(&note.Note{Text: string(head.Marshal())}, signer)
		if err != nil {
			t.Fatal(err)
		}
		theirs := formatsproof.TLogProof{Index: uint64(p.Index), Checkpoint: signed, ExtraData: p.Extra}
		for _, h := range p.Hashes {
			theirs.Hashes = append(theirs.Hashes, h)
		}
		data := theirs.Marshal()
		if !bytes.Equal(data, FormatProof(p)) {
			t.Fatalf("the peer writes\n%s\nwe write\n%s", data, FormatProof(p))
		}
		ours, err := ParseProof(data)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := CheckProof(ours, leaf, verifierKey); err != nil || got != c {
			t.Fatalf("%+v, %v", got, err)
		}
	})
}
