package ledger

import (
	"fmt"
	"math/bits"

	"golang.org/x/mod/sumdb/tlog"
)

// Both verifiers below follow the loops of RFC 9162 sections 2.1.3.2 and 2.1.4.2 and share no code with Tree.
// They are our own because tlog.CheckRecord and tlog.CheckTree do not return for sizes above 2^62, and a size is
// something a stranger may write. Work is bounded by 63 steps whatever the input.

// VerifyInclusion checks that leaf is the leaf at index of the tree with that size and root. A nil error means
// proven; every other error wraps ErrNotProven. The proof must have exactly the hashes needed, none over.
//
// A root alone does not say how many leaves lie under it, so a proof may also hold for another size of the same
// shape. Take size and root together from one signed checkpoint, never from two places.
func VerifyInclusion(root Hash, size, index int64, leaf Hash, proof []Hash) error {
	if index < 0 || index >= size {
		return fmt.Errorf("%w: leaf %d cannot be in a tree of %d: need 0 <= leaf < size", ErrNotProven, index, size)
	}
	i, last, h := index, size-1, leaf
	for _, sibling := range proof {
		if last == 0 {
			return fmt.Errorf("%w: leaf %d of %d: the proof has %d hashes, more than the way to the root", ErrNotProven, index, size, len(proof))
		}
		if i&1 == 1 || i == last {
			h = tlog.NodeHash(sibling, h)
			i, last = skipLonely(i, last)
		} else {
			h = tlog.NodeHash(h, sibling)
		}
		i, last = i>>1, last>>1
	}
	if last != 0 {
		return fmt.Errorf("%w: leaf %d of %d: the proof stops after %d hashes, before the root", ErrNotProven, index, size, len(proof))
	}
	if h != root {
		return fmt.Errorf("%w: leaf %d of %d: the proof leads to root %v, not to %v", ErrNotProven, index, size, h, root)
	}
	return nil
}

// VerifyConsistency checks that the tree of size to with root toRoot starts with the leaves of the tree of size
// from with root fromRoot. A nil error means proven; every other error wraps ErrNotProven. In particular:
//
//   - from > to, or a negative size, is never proven;
//   - from == to needs an empty proof and equal roots;
//   - a size of 0 goes with EmptyRoot and no other root, on either side;
//   - from == 0 < to needs an empty proof and proves nothing about toRoot: every tree starts with the empty one.
//
// As with VerifyInclusion, each size and its root must come from one signed checkpoint.
func VerifyConsistency(fromRoot Hash, from int64, toRoot Hash, to int64, proof []Hash) error {
	fail := func(format string, args ...any) error {
		return fmt.Errorf("%w: consistency from size %d to %d: %s", ErrNotProven, from, to, fmt.Sprintf(format, args...))
	}
	switch {
	case from < 0 || from > to:
		return fail("need 0 <= from <= to")
	case from == 0 && fromRoot != EmptyRoot():
		return fail("%v is not the root of the empty tree", fromRoot)
	case from == to && fromRoot != toRoot:
		return fail("two roots for one size: %v and %v", fromRoot, toRoot)
	case from == 0 || from == to:
		if len(proof) != 0 {
			return fail("the proof has %d hashes, none is needed", len(proof))
		}
		return nil
	case len(proof) == 0:
		return fail("the proof is empty")
	}

	// The walk starts at the last complete subtree of the old tree. When that is the whole old tree, the proof
	// leaves its hash out, because the reader holds it as fromRoot.
	level := bits.TrailingZeros64(uint64(from))
	i, last := (from-1)>>level, (to-1)>>level
	old, rest := fromRoot, proof
	if from != 1<<level {
		old, rest = proof[0], proof[1:]
	}
	grown := old
	for _, h := range rest {
		if last == 0 {
			return fail("the proof has %d hashes, more than the way to the root", len(proof))
		}
		if i&1 == 1 || i == last {
			old, grown = tlog.NodeHash(h, old), tlog.NodeHash(h, grown)
			i, last = skipLonely(i, last)
		} else {
			grown = tlog.NodeHash(grown, h)
		}
		i, last = i>>1, last>>1
	}
	switch {
	case last != 0:
		return fail("the proof stops after %d hashes, before the root", len(proof))
	case old != fromRoot:
		return fail("the proof leads to old root %v, not to %v", old, fromRoot)
	case grown != toRoot:
		return fail("the proof leads to new root %v, not to %v", grown, toRoot)
	}
	return nil
}

// skipLonely climbs over the levels on which the node at the right edge has no sibling, to the level where it
// is a right child: there the proof's hash was joined from the left.
func skipLonely(i, last int64) (int64, int64) {
	for i&1 == 0 && i != 0 {
		i, last = i>>1, last>>1
	}
	return i, last
}
