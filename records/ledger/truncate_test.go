package ledger

import (
	"errors"
	"testing"

	"pgregory.net/rapid"
)

// A truncated tree is the tree that never had the leaves taken back.
func TestTruncate(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		keep := rapid.IntRange(0, 70).Draw(t, "keep")
		drop := rapid.IntRange(0, 70).Draw(t, "drop")
		more := rapid.IntRange(0, 70).Draw(t, "more")
		var tree, want Tree
		for i := range keep {
			tree.Append(LeafHash([]byte{byte(i)}))
			want.Append(LeafHash([]byte{byte(i)}))
		}
		for i := range drop {
			tree.Append(LeafHash([]byte{byte(i), 1}))
		}
		if err := tree.Truncate(int64(keep)); err != nil {
			t.Fatal(err)
		}
		for i := range more {
			tree.Append(LeafHash([]byte{byte(i), 2}))
			want.Append(LeafHash([]byte{byte(i), 2}))
		}
		if tree.Size() != want.Size() || tree.Root() != want.Root() {
			t.Fatalf("size %d root %v, want %d %v", tree.Size(), tree.Root(), want.Size(), want.Root())
		}
	})
	var tree Tree
	for _, size := range []int64{-1, 1} {
		if err := tree.Truncate(size); !errors.Is(err, ErrRange) {
			t.Errorf("Truncate(%d) of an empty tree: %v", size, err)
		}
	}
}
