package ledger

import (
	"encoding/hex"
	"errors"
	"slices"
	"strings"
	"testing"

	"golang.org/x/mod/sumdb/tlog"
)

func unhex(t testing.TB, s string) []byte {
	t.Helper()
	b, err := hex.DecodeString(s)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func hash(t testing.TB, s string) Hash {
	t.Helper()
	return Hash(unhex(t, s))
}

// Source: github.com/transparency-dev/merkle v0.0.2, testonly/constants.go (LeafInputs, RootHashes).
var (
	publishedLeaves = []string{"", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f"}
	publishedRoots  = []string{
		"e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
		"6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
		"fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
		"aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
		"d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
		"4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
		"76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
		"ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
		"5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
	}
)

func publishedTree(t testing.TB) *Tree {
	t.Helper()
	var tree Tree
	for _, l := range publishedLeaves {
		tree.Append(LeafHash(unhex(t, l)))
	}
	return &tree
}

func TestPublishedRoots(t *testing.T) {
	var growing Tree
	whole := publishedTree(t)
	for size, want := range publishedRoots {
		if got := growing.Root(); got != hash(t, want) {
			t.Errorf("root at %d = %x, want %s", size, got, want)
		}
		if got, err := whole.RootAt(int64(size)); err != nil || got != hash(t, want) {
			t.Errorf("RootAt(%d) = %x, %v, want %s", size, got, err, want)
		}
		if size < len(publishedLeaves) {
			growing.Append(LeafHash(unhex(t, publishedLeaves[size])))
		}
	}
	if got := EmptyRoot(); got != hash(t, publishedRoots[0]) {
		t.Errorf("EmptyRoot = %x", got)
	}
}

// Source: the proofs of the published tree above, made with merkle v0.0.2.
func TestPublishedProofs(t *testing.T) {
	tree := publishedTree(t)
	got, err := tree.Inclusion(5, 8)
	want := []Hash{
		hash(t, "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b"),
		hash(t, "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0"),
		hash(t, "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7"),
	}
	if err != nil || !slices.Equal(got, want) {
		t.Errorf("Inclusion(5, 8) = %x, %v", got, err)
	}
	leaf, _ := tree.Leaf(5)
	if err := VerifyInclusion(hash(t, publishedRoots[8]), 8, 5, leaf, want); err != nil {
		t.Error(err)
	}
	got, err = tree.Consistency(6, 8)
	want[0] = hash(t, "0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a")
	if err != nil || !slices.Equal(got, want) {
		t.Errorf("Consistency(6, 8) = %x, %v", got, err)
	}
	if err := VerifyConsistency(hash(t, publishedRoots[6]), 6, hash(t, publishedRoots[8]), 8, want); err != nil {
		t.Error(err)
	}
}

// Source: merkle v0.0.2, rfc6962/rfc6962_test.go.
func TestPublishedHashes(t *testing.T) {
	if got, want := LeafHash([]byte("L123456")), hash(t, "395aa064aa4c29f7010acfe3f25db9485bbd4b91897b6ad7ad547639252b4d56"); got != want {
		t.Errorf("LeafHash = %x", got)
	}
	// Lengths on both sides of the stack buffer, against the streaming hash of golang.org/x/mod/sumdb/tlog.
	for _, n := range []int{0, 1, 1022, 1023, 1024, 1025, 5000} {
		data := []byte(strings.Repeat("m", n))
		if got, want := LeafHash(data), tlog.RecordHash(data); got != want {
			t.Errorf("LeafHash of %d bytes = %x, want %x", n, got, want)
		}
	}
}

// Source: RFC 6962 section 2.1.3, the tree of seven leaves d0…d6 whose nodes are named a…l.
func TestNamedExampleOfTheRFC(t *testing.T) {
	var tree Tree
	names := map[string]Hash{}
	for _, n := range []string{"a", "b", "c", "d", "e", "f", "j"} {
		names[n] = LeafHash([]byte("data under " + n))
		tree.Append(names[n])
	}
	for _, join := range []string{"g=ab", "h=cd", "i=ef", "k=gh", "l=ij"} {
		names[join[:1]] = tlog.NodeHash(names[join[2:3]], names[join[3:4]])
	}
	if want := tlog.NodeHash(names["k"], names["l"]); tree.Root() != want {
		t.Fatal("root is not H(k, l)")
	}
	spell := func(proof []Hash, err error) string {
		if err != nil {
			t.Fatal(err)
		}
		var s strings.Builder
		for _, h := range proof {
			for n, v := range names {
				if v == h {
					s.WriteString(n)
				}
			}
		}
		return s.String()
	}
	for index, want := range map[int64]string{0: "bhl", 3: "cgl", 4: "fjk", 6: "ik"} {
		if got := spell(tree.Inclusion(index, 7)); got != want {
			t.Errorf("path of d%d = %s, want %s", index, got, want)
		}
	}
	for from, want := range map[int64]string{3: "cdgl", 4: "l", 6: "ijk"} {
		if got := spell(tree.Consistency(from, 7)); got != want {
			t.Errorf("proof from %d to 7 = %s, want %s", from, got, want)
		}
	}
}

const (
	// Source: C2SP signed-note, the example key and signature of the test vectors.
	fooVerifier = "example.com/foo+530d903a+AekyeRrm56hApGFkyQR4ZCbV54Id2LKaANYcrnKv3U2k"
	fooText     = "This is an example message.\n"
	fooNote     = fooText + "\n— example.com/foo Uw2QOkn8srV1yJGh2VYRlL1Tnagv1YEq6TfXppzi2ONncAlTgK7Ztg1ERYNZXsYjOBH3mFXmRKuwHjG1Yu72IneyaQM=\n"

	// Source: golang.org/x/mod v0.43.0, sumdb/note/example_test.go.
	neumannSigner   = "PRIVATE+KEY+PeterNeumann+c74f20a3+AYEKFALVFGyNhPJEMzD1QIDr+Y7hfZx09iUvxdXHKDFz"
	neumannVerifier = "PeterNeumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW"
	neumannText     = "If you think cryptography is the answer to your problem,\nthen you don't know what your problem is.\n"
	neumannNote     = neumannText + "\n— PeterNeumann x08go/ZJkuBS9UG/SffcvIAQxVBtiFupLLr8pAcElZInNIuGUgYN1FFYC2pZSNXgKvqfqdngotpRZb6KE6RyyBwJnAM=\n"

	// Source: C2SP tlog-checkpoint, the example at its head. (The key is not given there.)
	sofaText = "example.com/behind-the-sofa\n20852163\nCsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=\n"
	sofaNote = sofaText + "\n— example.com/behind-the-sofa Az3grlgtzPICa5OS8npVmf1Myq/5IZniMp+ZJurmRDeOoRDe4URYN7u5/Zhcyv2q1gGzGku9nTo+zyWE+xeMcTOAYQ8=\n"
)

func TestPublishedNotes(t *testing.T) {
	if text, err := openNote([]byte(fooNote), fooVerifier); err != nil || text != fooText {
		t.Errorf("example.com/foo: %q, %v", text, err)
	}
	if text, err := openNote([]byte(neumannNote), neumannVerifier); err != nil || text != neumannText {
		t.Errorf("PeterNeumann: %q, %v", text, err)
	}
	if signed, err := signNote(neumannText, neumannSigner); err != nil || string(signed) != neumannNote {
		t.Errorf("signed by PeterNeumann: %q, %v", signed, err)
	}
	if v, err := VerifierOf(neumannSigner); err != nil || v != neumannVerifier {
		t.Errorf("VerifierOf = %q, %v", v, err)
	}
	// Rightly signed, but not a checkpoint.
	if _, err := Open([]byte(fooNote), fooVerifier); !errors.Is(err, ErrMalformed) {
		t.Errorf("a note that is no checkpoint: %v", err)
	}
	c, err := ParseCheckpoint(sofaText)
	if err != nil || c.Origin != "example.com/behind-the-sofa" || c.Size != 20852163 || FormatCheckpoint(c) != sofaText {
		t.Errorf("behind the sofa: %+v, %v", c, err)
	}
	if _, err := Open([]byte(sofaNote), fooVerifier); !errors.Is(err, ErrUnknownKey) || !strings.Contains(err.Error(), "example.com/behind-the-sofa+033de0ae") {
		t.Errorf("somebody else's checkpoint: %v", err)
	}
}

// signNote signs a text that need not be a checkpoint's.
func signNote(text, signerKey string) ([]byte, error) {
	signer, err := NewSigner(signerKey)
	if err != nil {
		return nil, err
	}
	return signText(text, signer.with)
}
