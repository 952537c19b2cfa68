package ledger

import (
	"encoding/binary"
	"runtime"
	"sync"
	"testing"

	"golang.org/x/mod/sumdb/tlog"
)

const million = 1_000_000

var millionLeaves = sync.OnceValue(func() []Hash {
	leaves := make([]Hash, million)
	for i := range leaves {
		leaves[i] = LeafHash(binary.BigEndian.AppendUint64(nil, uint64(i)))
	}
	return leaves
})

var millionTree = sync.OnceValue(func() *Tree {
	tree := new(Tree)
	for _, l := range millionLeaves() {
		tree.Append(l)
	}
	return tree
})

// One round appends 1,000,000 leaves to an empty tree.
func BenchmarkAppendMillion(b *testing.B) {
	leaves := millionLeaves()
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	var tree *Tree
	for b.Loop() {
		tree = new(Tree)
		for _, l := range leaves {
			tree.Append(l)
		}
	}
	runtime.GC()
	runtime.ReadMemStats(&after)
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/million, "ns/leaf")
	b.ReportMetric(float64(after.HeapAlloc-before.HeapAlloc)/million, "B-held/leaf")
	runtime.KeepAlive(tree)
}

// The floor under BenchmarkAppendMillion: the inner hashes alone, in one flat array that already has its size.
func BenchmarkHashMillion(b *testing.B) {
	leaves := millionLeaves()
	level := make([]Hash, million/2)
	for b.Loop() {
		from := leaves
		for len(from) > 1 {
			for i := range len(from) / 2 {
				level[i] = tlog.NodeHash(from[2*i], from[2*i+1])
			}
			from = level[:len(from)/2]
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/million, "ns/leaf")
}

func BenchmarkInclusionAtMillion(b *testing.B) {
	tree := millionTree()
	b.ReportAllocs()
	i := int64(0)
	for b.Loop() {
		if _, err := tree.Inclusion(i, million); err != nil {
			b.Fatal(err)
		}
		i = (i + 7919) % million
	}
}

func BenchmarkConsistencyAtMillion(b *testing.B) {
	tree := millionTree()
	b.ReportAllocs()
	i := int64(1)
	for b.Loop() {
		if _, err := tree.Consistency(i, million); err != nil {
			b.Fatal(err)
		}
		i = i%(million-7919) + 7919
	}
}

func BenchmarkRootAtMillion(b *testing.B) {
	tree := millionTree()
	b.ReportAllocs()
	for b.Loop() {
		tree.Root()
	}
}

func BenchmarkVerifyInclusionAtMillion(b *testing.B) {
	tree := millionTree()
	root := tree.Root()
	proof, _ := tree.Inclusion(123_456, million)
	leaf, _ := tree.Leaf(123_456)
	b.ReportAllocs()
	for b.Loop() {
		if err := VerifyInclusion(root, million, 123_456, leaf, proof); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkLeafHash440(b *testing.B) {
	data := make([]byte, 440)
	b.SetBytes(440)
	b.ReportAllocs()
	for b.Loop() {
		LeafHash(data)
	}
}

func BenchmarkSign(b *testing.B) {
	c := Checkpoint{"log", million, LeafHash(nil)}
	for b.Loop() {
		if _, err := Sign(c, neumannSigner); err != nil {
			b.Fatal(err)
		}
	}
}
