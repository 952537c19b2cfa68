package ledger

import (
	"bytes"
	"math"
	"slices"
	"testing"

	"golang.org/x/mod/sumdb/tlog"
	"pgregory.net/rapid"
)

// flip returns b with one bit changed.
func flip(h Hash, bit int) Hash {
	h[bit/8] ^= 1 << (bit % 8)
	return h
}

// Every single bit of root, leaf, proof and index counts. (The size is not among them: a root does not bind it,
// only a signed checkpoint does. See VerifyInclusion, and TestEveryBitOfAProofFileCounts.)
func TestEveryBitOfAnInclusionCounts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tree, leaves := drawTree(t, 1, 70)
		size := rapid.Int64Range(1, tree.Size()).Draw(t, "proven size")
		index := rapid.Int64Range(0, size-1).Draw(t, "index")
		root, _ := tree.RootAt(size)
		leaf := leaves[index]
		proof, _ := tree.Inclusion(index, size)
		if err := VerifyInclusion(root, size, index, leaf, proof); err != nil {
			t.Fatal(err)
		}
		for bit := range 256 {
			if VerifyInclusion(flip(root, bit), size, index, leaf, proof) == nil {
				t.Fatalf("bit %d of the root", bit)
			}
			if VerifyInclusion(root, size, index, flip(leaf, bit), proof) == nil {
				t.Fatalf("bit %d of the leaf", bit)
			}
			for i := range proof {
				bad := slices.Clone(proof)
				bad[i] = flip(bad[i], bit)
				if VerifyInclusion(root, size, index, leaf, bad) == nil {
					t.Fatalf("bit %d of hash %d", bit, i)
				}
			}
		}
		for bit := range 64 {
			if VerifyInclusion(root, size, index^1<<bit, leaf, proof) == nil {
				t.Fatalf("bit %d of the index", bit)
			}
		}
		for i := range proof {
			if VerifyInclusion(root, size, index, leaf, slices.Delete(slices.Clone(proof), i, i+1)) == nil {
				t.Fatalf("hash %d left out", i)
			}
		}
		for i := range len(proof) + 1 {
			if VerifyInclusion(root, size, index, leaf, slices.Insert(slices.Clone(proof), i, leaf)) == nil {
				t.Fatalf("a hash put in at %d", i)
			}
		}
	})
}

func TestEveryBitOfAConsistencyCounts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tree, _ := drawTree(t, 1, 70)
		to := rapid.Int64Range(1, tree.Size()).Draw(t, "to")
		from := rapid.Int64Range(1, to).Draw(t, "from")
		toRoot, _ := tree.RootAt(to)
		fromRoot, _ := tree.RootAt(from)
		proof, _ := tree.Consistency(from, to)
		if err := VerifyConsistency(fromRoot, from, toRoot, to, proof); err != nil {
			t.Fatal(err)
		}
		for bit := range 256 {
			if VerifyConsistency(flip(fromRoot, bit), from, toRoot, to, proof) == nil {
				t.Fatalf("bit %d of the old root", bit)
			}
			if VerifyConsistency(fromRoot, from, flip(toRoot, bit), to, proof) == nil {
				t.Fatalf("bit %d of the new root", bit)
			}
			for i := range proof {
				bad := slices.Clone(proof)
				bad[i] = flip(bad[i], bit)
				if VerifyConsistency(fromRoot, from, toRoot, to, bad) == nil {
					t.Fatalf("bit %d of hash %d", bit, i)
				}
			}
		}
		for i := range proof {
			if VerifyConsistency(fromRoot, from, toRoot, to, slices.Delete(slices.Clone(proof), i, i+1)) == nil {
				t.Fatalf("hash %d left out", i)
			}
		}
		if VerifyConsistency(fromRoot, from, toRoot, to, append(slices.Clone(proof), toRoot)) == nil {
			t.Fatal("a hash put on at the end")
		}
	})
}

// The whole file, bit by bit: nothing but the extra line, which nobody signs, may change unnoticed.
func TestEveryBitOfAProofFileCounts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, leaf, _, _, verifierKey := drawProof(t)
		p.Extra = nil
		data := FormatProof(p)
		// Every 17th bit from a drawn start: the checks of one file would take a second otherwise.
		for bit := rapid.IntRange(0, 16).Draw(t, "first bit"); bit < len(data)*8; bit += 17 {
			if bad, ok := passesFlipped(data, bit, leaf, verifierKey); ok {
				t.Fatalf("bit %d of byte %d (%q) changed unnoticed:\n%s", bit%8, bit/8, data[bit/8], bad)
			}
		}
		for n := range data {
			if _, err := ParseProof(data[:n]); err == nil {
				t.Fatalf("cut after %d of %d bytes unnoticed", n, len(data))
			}
		}
	})
}

func TestEveryBitOfOneProofFile(t *testing.T) {
	p, leaf, verifierKey := workedExample(t)
	p.Extra = nil
	data := FormatProof(p)
	for bit := range len(data) * 8 {
		if bad, ok := passesFlipped(data, bit, leaf, verifierKey); ok {
			t.Errorf("bit %d of byte %d (%q) changed unnoticed:\n%s", bit%8, bit/8, data[bit/8], bad)
		}
	}
}

// passesFlipped flips one bit of a proof file and says whether the result still proves the leaf.
func passesFlipped(data []byte, bit int, leaf Hash, verifierKey string) ([]byte, bool) {
	bad := bytes.Clone(data)
	bad[bit/8] ^= 1 << (bit % 8)
	read, err := ParseProof(bad)
	if err != nil {
		return bad, false
	}
	_, err = CheckProof(read, leaf, verifierKey)
	return bad, err == nil
}

// A changed leaf anywhere before the old size must make every true proof of the changed tree fail.
func TestHistoryCannotBeRewritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tree, leaves := drawTree(t, 1, 70)
		from := rapid.Int64Range(1, tree.Size()).Draw(t, "from")
		fromRoot, _ := tree.RootAt(from)
		changed := rapid.Int64Range(0, from-1).Draw(t, "changed")
		var forged Tree
		for i, l := range leaves {
			if int64(i) == changed {
				l = flip(l, 0)
			}
			forged.Append(l)
		}
		proof, _ := forged.Consistency(from, forged.Size())
		if VerifyConsistency(fromRoot, from, forged.Root(), forged.Size(), proof) == nil {
			t.Fatalf("leaf %d was changed after %d were signed, unnoticed", changed, from)
		}
	})
}

func TestVerifyConsistencyAtTheEdges(t *testing.T) {
	tree := publishedTree(t)
	root := func(n int64) Hash { h, _ := tree.RootAt(n); return h }
	other := LeafHash([]byte("other"))
	some := []Hash{other}
	proof := func(from, to int64) []Hash { p, _ := tree.Consistency(from, to); return p }
	for _, c := range []struct {
		name     string
		fromRoot Hash
		from     int64
		toRoot   Hash
		to       int64
		proof    []Hash
		proven   bool
	}{
		{"nothing to nothing", EmptyRoot(), 0, EmptyRoot(), 0, nil, true},
		{"nothing to nothing, other roots", other, 0, other, 0, nil, false},
		{"nothing to nothing, other new root", EmptyRoot(), 0, other, 0, nil, false},
		{"nothing to something", EmptyRoot(), 0, root(8), 8, nil, true},
		{"nothing to something, with a proof", EmptyRoot(), 0, root(8), 8, some, false},
		{"nothing with another root", other, 0, root(8), 8, nil, false},
		{"same", root(5), 5, root(5), 5, nil, true},
		{"same, with a proof", root(5), 5, root(5), 5, some, false},
		{"same size, two roots", root(5), 5, other, 5, nil, false},
		{"whole left half", root(4), 4, root(8), 8, proof(4, 8), true},
		{"no proof where one is needed", root(4), 4, root(8), 8, nil, false},
		{"backwards", root(8), 8, root(4), 4, proof(4, 8), false},
		{"below zero", EmptyRoot(), -1, root(4), 4, nil, false},
		{"smallest int", EmptyRoot(), math.MinInt64, root(4), 4, some, false},
		{"both below zero", EmptyRoot(), -2, EmptyRoot(), -2, nil, false},
		{"largest int", root(4), 4, root(8), math.MaxInt64, proof(4, 8), false},
		{"true roots of 7 and 8, said to be of 3 and 4", root(7), 3, root(8), 4, proof(7, 8), false},
	} {
		err := VerifyConsistency(c.fromRoot, c.from, c.toRoot, c.to, c.proof)
		if (err == nil) != c.proven {
			t.Errorf("%s: %v", c.name, err)
		}
		wraps(t, c.name, err, ErrNotProven)
	}
}

func TestVerifyInclusionAtTheEdges(t *testing.T) {
	tree := publishedTree(t)
	leaf, _ := tree.Leaf(0)
	second, _ := tree.Leaf(1)
	joined := tlog.NodeHash(second, leaf) // a root one step above an only leaf, which must stay out of reach
	for _, c := range []struct {
		name        string
		root        Hash
		size, index int64
		proof       []Hash
		proven      bool
	}{
		{"the only leaf is the root", leaf, 1, 0, nil, true},
		{"the only leaf, with a proof", leaf, 1, 0, []Hash{leaf}, false},
		{"a leaf of two, said to be the only one", joined, 1, 0, []Hash{second}, false},
		{"in nothing", EmptyRoot(), 0, 0, nil, false},
		{"before the first", leaf, 1, -1, nil, false},
		{"after the last", leaf, 1, 1, nil, false},
		{"negative size", leaf, -1, -2, nil, false},
		{"largest size", leaf, math.MaxInt64, 0, nil, false},
		{"largest index", leaf, math.MaxInt64, math.MaxInt64, nil, false},
	} {
		err := VerifyInclusion(c.root, c.size, c.index, leaf, c.proof)
		if (err == nil) != c.proven {
			t.Errorf("%s: %v", c.name, err)
		}
		wraps(t, c.name, err, ErrNotProven)
	}
}
