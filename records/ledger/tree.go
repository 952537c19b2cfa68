package ledger

import (
	"crypto/sha256"
	"fmt"
	"math/bits"

	"golang.org/x/mod/sumdb/tlog"
)

// Hash is a SHA-256 digest of a leaf, of an inner node or of a whole tree. Its String is base64.
type Hash = tlog.Hash

// LeafHash is SHA-256(0x00 ‖ data), the hash of one leaf (RFC 6962 section 2.1).
func LeafHash(data []byte) Hash {
	// Short data is hashed from the stack: a streaming hash would cost an allocation a leaf.
	var short [1024]byte
	if len(data) < len(short) {
		n := copy(short[1:], data)
		return sha256.Sum256(short[:1+n])
	}
	return tlog.RecordHash(data)
}

// EmptyRoot is SHA-256 of no bytes, the root of the tree without leaves (RFC 6962 section 2.1).
func EmptyRoot() Hash { return sha256.Sum256(nil) }

// chunkLen is how many hashes are allocated together (32 KiB): a growing tree never copies what it holds,
// and a tree of one leaf stays small.
const chunkLen = 1024

// hashes is a list that grows at its end without moving.
type hashes []*[chunkLen]Hash

func (l hashes) at(i int64) Hash { return l[i/chunkLen][i%chunkLen] }

func (l *hashes) put(i int64, h Hash) {
	if i/chunkLen == int64(len(*l)) {
		*l = append(*l, new([chunkLen]Hash))
	}
	(*l)[i/chunkLen][i%chunkLen] = h
}

// keptLevel is the lowest level above the leaves whose hashes are kept: those of subtrees of 16 leaves. What lies between is
// three quarters of all inner nodes, and hashed again when asked for in at most 7 steps.
const keptLevel = 4

// Tree is an append-only RFC 6962 tree held in memory. The zero value is the empty tree.
//
// It keeps the hash of every leaf and of every complete subtree of 16 leaves or more: under 36 bytes a leaf. Subtrees lie in the
// order they were completed, a parent directly after its right child, so that the place of any node is arithmetic
// (see slot) and appending only ever writes at the end.
//
// A Tree is not safe for concurrent use while anything is appended; without an Append under way, any number of
// goroutines may ask it. It must not be copied after its first Append.
type Tree struct {
	size   int64
	leaves hashes
	inner  hashes // by slot, where a subtree of 16 leaves counts as a leaf
}

// slot is the place of the node that covers units [i<<level, (i+1)<<level). Everything before that node's
// first unit takes 2·first − popcount(first) places, the node itself ends a run of 2^(level+1) − 1.
func slot(level int, i int64) int64 {
	first := i << level
	return 2*first - int64(bits.OnesCount64(uint64(first))) + 2<<level - 2
}

// node is the hash of the complete subtree over leaves [i<<level, (i+1)<<level).
func (t *Tree) node(level int, i int64) Hash {
	switch {
	case level == 0:
		return t.leaves.at(i)
	case level >= keptLevel:
		return t.inner.at(slot(level-keptLevel, i))
	}
	return tlog.NodeHash(t.node(level-1, 2*i), t.node(level-1, 2*i+1))
}

// Append adds one leaf, given as its LeafHash, at the end. On average it computes one hash.
func (t *Tree) Append(leaf Hash) {
	t.leaves.put(t.size, leaf)
	t.size++
	if t.size%(1<<keptLevel) != 0 {
		return
	}
	unit := t.size>>keptLevel - 1
	h := tlog.NodeHash(t.node(keptLevel-1, 2*unit), t.node(keptLevel-1, 2*unit+1))
	p := slot(0, unit)
	t.inner.put(p, h)
	// Each trailing 1 bit of the unit's index says that a left neighbour of the same height waits to be joined.
	// That neighbour ended just before the subtree that has now ended at p.
	for level := 0; unit>>level&1 == 1; level++ {
		h = tlog.NodeHash(t.inner.at(p-(2<<level-1)), h)
		p++
		t.inner.put(p, h)
	}
}

// Truncate takes back every leaf after the first size: for a writer whose batch was refused after its root had been
// computed. It never grows the tree. Nothing that was signed may be taken back.
func (t *Tree) Truncate(size int64) error {
	if size < 0 || size > t.size {
		return fmt.Errorf("%w: truncating a tree of %d to %d", ErrRange, t.size, size)
	}
	t.size = size // what lies beyond is written over by the next Append
	return nil
}

// Size is the number of leaves.
func (t *Tree) Size() int64 { return t.size }

// Leaf returns the hash of the leaf at index, counted from 0.
func (t *Tree) Leaf(index int64) (Hash, error) {
	if index < 0 || index >= t.size {
		return Hash{}, fmt.Errorf("%w: leaf %d of a tree of %d (indexes count from 0)", ErrRange, index, t.size)
	}
	return t.node(0, index), nil
}

// Root is the root of the whole tree, in O(log n) hashes.
func (t *Tree) Root() Hash { return t.span(0, t.size) }

// RootAt is the root the tree had when it held its first size leaves, in O(log n) hashes.
func (t *Tree) RootAt(size int64) (Hash, error) {
	if size < 0 || size > t.size {
		return Hash{}, fmt.Errorf("%w: root at size %d of a tree of %d", ErrRange, size, t.size)
	}
	return t.span(0, size), nil
}

// span is the hash of the leaves [from, to), where from is a multiple of a power of two not below to − from
// (so that the complete subtrees within are ones the tree keeps). They are joined from the right.
func (t *Tree) span(from, to int64) Hash {
	if from == to {
		return EmptyRoot()
	}
	var h Hash
	for n, end := to-from, to; n > 0; n &= n - 1 {
		level := bits.TrailingZeros64(uint64(n))
		end -= 1 << level
		if part := t.node(level, end>>level); end+1<<level == to {
			h = part
		} else {
			h = tlog.NodeHash(part, h)
		}
	}
	return h
}

// Inclusion proves that leaf index is in the tree of the first size leaves (RFC 6962 section 2.1.1): the
// hashes of the siblings on the way up, the leaf's own first. A tree of one leaf has an empty proof.
func (t *Tree) Inclusion(index, size int64) ([]Hash, error) {
	if size < 0 || size > t.size || index < 0 || index >= size {
		return nil, fmt.Errorf("%w: inclusion of leaf %d in the first %d of a tree of %d: need 0 <= leaf < size <= %d",
			ErrRange, index, size, t.size, t.size)
	}
	return t.siblings(newProof(size), 0, index, size), nil
}

// Consistency proves that the tree of the first to leaves starts with the tree of the first from leaves
// (RFC 6962 section 2.1.2). The proof is empty when from is 0, where there is nothing to prove, and when
// from equals to.
func (t *Tree) Consistency(from, to int64) ([]Hash, error) {
	if from < 0 || from > to || to > t.size {
		return nil, fmt.Errorf("%w: consistency from size %d to %d of a tree of %d: need 0 <= from <= to <= %d",
			ErrRange, from, to, t.size, t.size)
	}
	proof := newProof(to)
	if from == 0 || from == to {
		return proof, nil
	}
	// Start at the last complete subtree of the old tree: everything to its left is joined into both roots,
	// everything to its right into the new root only. If it is the whole old tree the reader has its hash already.
	level := bits.TrailingZeros64(uint64(from))
	i := from>>level - 1
	if i > 0 {
		proof = append(proof, t.node(level, i))
	}
	return t.siblings(proof, level, i, to), nil
}

// newProof has room for the longest proof of a tree of that size, so that it is allocated once.
func newProof(size int64) []Hash { return make([]Hash, 0, bits.Len64(uint64(size))+1) }

// siblings appends the siblings of node i of level, up to the root of the tree of the first size leaves.
func (t *Tree) siblings(proof []Hash, level int, i, size int64) []Hash {
	for last := (size - 1) >> level; last > 0; last >>= 1 {
		switch {
		case i&1 == 1:
			proof = append(proof, t.node(level, i-1))
		case i+1 < last:
			proof = append(proof, t.node(level, i+1))
		case i+1 == last: // the right edge, which need not be complete; met once at most
			proof = append(proof, t.span(last<<level, size))
		} // i == last: no sibling on this level, the node moves up as it is
		level, i = level+1, i>>1
	}
	return proof
}
