package ledger

import (
	"bytes"
	"fmt"
	"os"
	"strings"
	"testing"
)

// workedExample is the one in the package comment: the second of three leaves, proven under a key whose
// seed is the bytes 0 to 31 (for show only).
func workedExample(t testing.TB) (p Proof, leaf Hash, verifierKey string) {
	must := func(err error) {
		if err != nil {
			t.Fatal(err)
		}
	}
	seed := make([]byte, 32)
	for i := range seed {
		seed[i] = byte(i)
	}
	signerKey, verifierKey, err := GenerateKey(bytes.NewReader(seed), "malthouse.example/log")
	must(err)
	var tree Tree
	for _, data := range []string{"one", "two", "three"} {
		tree.Append(LeafHash([]byte(data)))
	}
	p.Extra, p.Index = []byte("spoken"), 1
	leaf, err = tree.Leaf(p.Index)
	must(err)
	p.Hashes, err = tree.Inclusion(p.Index, tree.Size())
	must(err)
	p.Checkpoint, err = Sign(Checkpoint{"malthouse.example/log", tree.Size(), tree.Root()}, signerKey)
	must(err)
	return p, leaf, verifierKey
}

// The package comment shows these bytes; they must be what the code writes.
func TestPackageCommentShowsTheTruth(t *testing.T) {
	p, leaf, verifierKey := workedExample(t)
	if _, err := CheckProof(p, leaf, verifierKey); err != nil {
		t.Fatal(err)
	}
	doc, err := os.ReadFile("doc.go")
	if err != nil {
		t.Fatal(err)
	}
	shown := "\n" + strings.ReplaceAll(string(doc), "//\t", "//")
	for _, block := range []string{string(FormatProof(p)), verifierKey + "\n", fmt.Sprintf("%v\n", leaf)} {
		want := "\n//" + strings.ReplaceAll(strings.TrimSuffix(block, "\n"), "\n", "\n//") + "\n"
		if !strings.Contains(shown, want) {
			t.Errorf("doc.go does not show\n%s", block)
		}
	}
}

func ExampleTree() {
	var tree Tree
	for _, data := range []string{"one", "two", "three"} {
		tree.Append(LeafHash([]byte(data)))
	}
	proof, _ := tree.Inclusion(1, 3)
	leaf, _ := tree.Leaf(1)
	fmt.Println(VerifyInclusion(tree.Root(), 3, 1, leaf, proof))

	tree.Append(LeafHash([]byte("four")))
	before, _ := tree.RootAt(3)
	growth, _ := tree.Consistency(3, 4)
	fmt.Println(VerifyConsistency(before, 3, tree.Root(), 4, growth))
	// Output:
	// <nil>
	// <nil>
}
