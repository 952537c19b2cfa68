package ledger

import (
	"encoding/binary"
	"errors"
	"math"
	"math/bits"
	"slices"
	"testing"

	"golang.org/x/mod/sumdb/tlog"
	"pgregory.net/rapid"
)

// reference is RFC 6962 section 2.1 written out as it is defined, slow and recursive, over a source of hashes.
// subtree(lo, hi) may answer for a range in one go (a leaf always does); otherwise the range is split.
type reference struct {
	subtree func(lo, hi int64) (Hash, bool)
}

// split is the largest power of two smaller than n.
func split(n int64) int64 { return 1 << (bits.Len64(uint64(n-1)) - 1) }

func (r reference) mth(lo, hi int64) Hash {
	if lo == hi {
		return EmptyRoot()
	}
	if h, ok := r.subtree(lo, hi); ok {
		return h
	}
	k := split(hi - lo)
	return tlog.NodeHash(r.mth(lo, lo+k), r.mth(lo+k, hi))
}

func (r reference) path(m, lo, hi int64) []Hash {
	if hi-lo == 1 {
		return nil
	}
	if k := split(hi - lo); m < k {
		return append(r.path(m, lo, lo+k), r.mth(lo+k, hi))
	} else {
		return append(r.path(m-k, lo+k, hi), r.mth(lo, lo+k))
	}
}

func (r reference) subproof(m, lo, hi int64, known bool) []Hash {
	if m == hi-lo {
		if known {
			return nil
		}
		return []Hash{r.mth(lo, hi)}
	}
	if k := split(hi - lo); m <= k {
		return append(r.subproof(m, lo, lo+k, known), r.mth(lo+k, hi))
	} else {
		return append(r.subproof(m-k, lo+k, hi, false), r.mth(lo, lo+k))
	}
}

func referenceOver(leaves []Hash) reference {
	return reference{func(lo, hi int64) (Hash, bool) {
		if hi-lo == 1 {
			return leaves[lo], true
		}
		return Hash{}, false
	}}
}

// drawTree is a tree of up to max leaves, all different, with the leaves in a plain slice beside it.
func drawTree(t *rapid.T, minSize, maxSize int64) (*Tree, []Hash) {
	n := rapid.Int64Range(minSize, maxSize).Draw(t, "size")
	salt := rapid.Uint32().Draw(t, "salt")
	tree, leaves := new(Tree), make([]Hash, n)
	for i := range leaves {
		leaves[i] = LeafHash(binary.BigEndian.AppendUint64(binary.BigEndian.AppendUint32(nil, salt), uint64(i)))
		tree.Append(leaves[i])
	}
	return tree, leaves
}

func TestTreeIsTheReference(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tree, leaves := drawTree(t, 0, 300)
		ref := referenceOver(leaves)
		if tree.Size() != int64(len(leaves)) || tree.Root() != ref.mth(0, tree.Size()) {
			t.Fatalf("size %d, root %v", tree.Size(), tree.Root())
		}
		to := rapid.Int64Range(0, tree.Size()).Draw(t, "to")
		root, err := tree.RootAt(to)
		if err != nil || root != ref.mth(0, to) {
			t.Fatalf("RootAt(%d) = %v, %v", to, root, err)
		}
		from := rapid.Int64Range(0, to).Draw(t, "from")
		proof, err := tree.Consistency(from, to)
		if err != nil {
			t.Fatal(err)
		}
		if from > 0 && !slices.Equal(proof, ref.subproof(from, 0, to, true)) {
			t.Fatalf("Consistency(%d, %d) = %v", from, to, proof)
		}
		if err := VerifyConsistency(ref.mth(0, from), from, root, to, proof); err != nil {
			t.Fatal(err)
		}
		if to == 0 {
			return
		}
		index := rapid.Int64Range(0, to-1).Draw(t, "index")
		proof, err = tree.Inclusion(index, to)
		if err != nil || !slices.Equal(proof, ref.path(index, 0, to)) {
			t.Fatalf("Inclusion(%d, %d) = %v, %v", index, to, proof, err)
		}
		if leaf, err := tree.Leaf(index); err != nil || leaf != leaves[index] {
			t.Fatalf("Leaf(%d) = %v, %v", index, leaf, err)
		}
		if err := VerifyInclusion(root, to, index, leaves[index], proof); err != nil {
			t.Fatal(err)
		}
	})
}

// Every proof of every tree up to a size that passes through all shapes of edges.
func TestAllSmallProofs(t *testing.T) {
	const most = 66
	var tree Tree
	var leaves []Hash
	for i := range most {
		leaves = append(leaves, LeafHash([]byte{byte(i)}))
		tree.Append(leaves[i])
	}
	ref := referenceOver(leaves)
	for size := int64(1); size <= most; size++ {
		root := ref.mth(0, size)
		for i := range size {
			incl, err := tree.Inclusion(i, size)
			if err != nil || !slices.Equal(incl, ref.path(i, 0, size)) {
				t.Fatalf("Inclusion(%d, %d) = %v, %v", i, size, incl, err)
			}
			if err := VerifyInclusion(root, size, i, leaves[i], incl); err != nil {
				t.Fatal(err)
			}
			cons, err := tree.Consistency(i+1, size)
			if err != nil || !slices.Equal(cons, ref.subproof(i+1, 0, size, true)) {
				t.Fatalf("Consistency(%d, %d) = %v, %v", i+1, size, cons, err)
			}
			if err := VerifyConsistency(ref.mth(0, i+1), i+1, root, size, cons); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// giant is a reference over trees too high to build: a complete, aligned subtree that none of the cuts runs through
// has an invented hash, everything else is computed from its halves.
func giant(cuts ...int64) reference {
	return reference{func(lo, hi int64) (Hash, bool) {
		if n := hi - lo; n&(n-1) != 0 {
			return Hash{}, false
		}
		for _, c := range cuts {
			if lo < c && c < hi {
				return Hash{}, false
			}
		}
		return LeafHash(binary.BigEndian.AppendUint64(binary.BigEndian.AppendUint64(nil, uint64(lo)), uint64(hi))), true
	}}
}

func TestVerifiersUpToTheLargestSize(t *testing.T) {
	sizes := rapid.OneOf(rapid.Int64Range(1, math.MaxInt64), rapid.Int64Range(math.MaxInt64-9, math.MaxInt64), rapid.Int64Range(1<<62-3, 1<<62+3))
	rapid.Check(t, func(t *rapid.T) {
		to := sizes.Draw(t, "to")
		index := rapid.Int64Range(0, to-1).Draw(t, "index")
		ref := giant(index, index+1)
		leaf, root, proof := ref.mth(index, index+1), ref.mth(0, to), ref.path(index, 0, to)
		if err := VerifyInclusion(root, to, index, leaf, proof); err != nil {
			t.Fatal(err)
		}
		acceptedByPeer(t, inclusionByPeer(root, to, index, leaf, proof), true)

		from := rapid.Int64Range(1, to).Draw(t, "from")
		ref = giant(from)
		old, root, proof := ref.mth(0, from), ref.mth(0, to), ref.subproof(from, 0, to, true)
		if err := VerifyConsistency(old, from, root, to, proof); err != nil {
			t.Fatal(err)
		}
		acceptedByPeer(t, consistencyByPeer(old, from, root, to, proof), true)
	})
}

func TestSlotsAreTheOpenLayout(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		level := rapid.IntRange(0, 40).Draw(t, "level")
		i := rapid.Int64Range(0, 1<<20).Draw(t, "i")
		// golang.org/x/mod/sumdb/tlog lays hashes out in the same order, computed differently.
		if got, want := slot(level, i), tlog.StoredHashIndex(level, i); got != want {
			t.Fatalf("slot(%d, %d) = %d, want %d", level, i, got, want)
		}
	})
}

func TestStorageStaysFlat(t *testing.T) {
	var tree Tree
	var first *[chunkLen]Hash
	chunks := func(n int64) int64 { return (n + chunkLen - 1) / chunkLen }
	for n := int64(1); n <= 20_000; n++ {
		tree.Append(LeafHash(binary.BigEndian.AppendUint64(nil, uint64(n))))
		if got, want := int64(len(tree.leaves)), chunks(n); got != want {
			t.Fatalf("%d leaves in %d chunks, want %d", n, got, want)
		}
		if got, want := int64(len(tree.inner)), chunks(tlog.StoredHashCount(n>>keptLevel)); got != want {
			t.Fatalf("the inner nodes over %d leaves in %d chunks, want %d", n, got, want)
		}
		if first == nil {
			first = tree.leaves[0]
		}
	}
	if first != tree.leaves[0] {
		t.Error("growing moved what was stored")
	}
}

func TestOutsideTheTree(t *testing.T) {
	tree := publishedTree(t)
	var empty Tree
	calls := map[string]func() error{
		"leaf -1":           func() error { _, err := tree.Leaf(-1); return err },
		"leaf 8":            func() error { _, err := tree.Leaf(8); return err },
		"leaf of none":      func() error { _, err := empty.Leaf(0); return err },
		"root at -1":        func() error { _, err := tree.RootAt(-1); return err },
		"root at 9":         func() error { _, err := tree.RootAt(9); return err },
		"inclusion -1":      func() error { _, err := tree.Inclusion(-1, 8); return err },
		"inclusion at size": func() error { _, err := tree.Inclusion(4, 4); return err },
		"inclusion size 9":  func() error { _, err := tree.Inclusion(0, 9); return err },
		"inclusion size 0":  func() error { _, err := tree.Inclusion(0, 0); return err },
		"backwards":         func() error { _, err := tree.Consistency(5, 4); return err },
		"from -1":           func() error { _, err := tree.Consistency(-1, 4); return err },
		"to 9":              func() error { _, err := tree.Consistency(4, 9); return err },
	}
	for name, call := range calls {
		if err := call(); !errors.Is(err, ErrRange) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if p, err := empty.Consistency(0, 0); err != nil || len(p) != 0 {
		t.Errorf("nothing to nothing: %v, %v", p, err)
	}
}
