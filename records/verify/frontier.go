package verify

import (
	"crypto/sha256"

	"grainward/records/ledger"
)

// frontier is a Merkle tree of RFC 6962 that only grows: the roots of its complete subtrees, largest first, one for
// each 1 bit of size. It shares no code with ledger.Tree, which the writer uses, and keeps a few hashes only.
type frontier struct {
	size  int64
	roots []ledger.Hash
}

// leafHash is SHA-256(0x00 ‖ data) (RFC 6962 section 2.1).
func leafHash(data []byte) (h ledger.Hash) {
	d := sha256.New()
	d.Write([]byte{0})
	d.Write(data)
	d.Sum(h[:0])
	return h
}

// nodeHash is SHA-256(0x01 ‖ left ‖ right).
func nodeHash(left, right ledger.Hash) ledger.Hash {
	var b [1 + 2*sha256.Size]byte
	b[0] = 1
	copy(b[1:], left[:])
	copy(b[1+sha256.Size:], right[:])
	return sha256.Sum256(b[:])
}

func (f *frontier) add(leaf ledger.Hash) {
	h := leaf
	for n := f.size; n&1 == 1; n >>= 1 {
		last := len(f.roots) - 1
		h, f.roots = nodeHash(f.roots[last], h), f.roots[:last]
	}
	f.roots = append(f.roots, h)
	f.size++
}

func (f *frontier) root() ledger.Hash {
	if f.size == 0 {
		return sha256.Sum256(nil)
	}
	last := len(f.roots) - 1
	h := f.roots[last]
	for i := last - 1; i >= 0; i-- {
		h = nodeHash(f.roots[i], h)
	}
	return h
}

// become makes f what other is, without sharing memory.
func (f *frontier) become(other *frontier) {
	f.size, f.roots = other.size, append(f.roots[:0], other.roots...)
}
