package backendtest

import (
	"bytes"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"grainward/records"
)

// The SHA-256 of "abc": FIPS 180-2, appendix B.1.
const abcKey = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"

func mustPut(t *testing.T, s records.Store, data []byte) string {
	t.Helper()
	key, err := s.PutBlob(t.Context(), data)
	if err != nil {
		t.Fatalf("putting a blob of %d bytes: %v", len(data), err)
	}
	return key
}

func wantBlob(t *testing.T, s records.Store, key string, want []byte) {
	t.Helper()
	got, err := s.GetBlob(t.Context(), key)
	if err != nil {
		t.Fatalf("getting blob %s: %v", key, err)
	}
	if !bytes.Equal(got, want) {
		t.Fatalf("blob %s has %d bytes %.60q, want %d bytes %.60q", key, len(got), got, len(want), want)
	}
}

type blobEntry struct {
	key  string
	size int64
}

func listBlobs(t *testing.T, s records.Store) (list []blobEntry) {
	t.Helper()
	err := s.EachBlob(t.Context(), func(key string, size int64) error {
		list = append(list, blobEntry{key, size})
		return nil
	})
	if err != nil {
		t.Fatalf("listing blobs: %v", err)
	}
	return list
}

func blobComesBack(t *testing.T, o Opened) {
	if key := mustPut(t, o.Store, []byte("abc")); key != abcKey {
		t.Fatalf("key of abc is %s, want %s", key, abcKey)
	}
	wantBlob(t, o.Store, abcKey, []byte("abc"))
	every := make([]byte, 256) // every byte value, zero first: it is not text
	for i := range every {
		every[i] = byte(i)
	}
	wantBlob(t, o.Store, mustPut(t, o.Store, every), every)
	wantJournal(t, o.Store, nil) // blobs lie beside the journal, not in it
}

func blobTwice(t *testing.T, o Opened) {
	for range 3 {
		if key := mustPut(t, o.Store, []byte("abc")); key != abcKey {
			t.Fatalf("key %s, want %s", key, abcKey)
		}
	}
	wantBlob(t, o.Store, abcKey, []byte("abc"))
	if got := listBlobs(t, o.Store); !slices.Equal(got, []blobEntry{{abcKey, 3}}) {
		t.Fatalf("blobs %v, want the one", got)
	}
}

func blobSizes(t *testing.T, o Opened) {
	data := make([]byte, records.MaxBlob+1)
	for i, r := 0, rand.New(rand.NewPCG(1, 2)); i < len(data); i++ {
		data[i] = byte(r.Uint32())
	}
	for _, wrong := range [][]byte{nil, {}, data} {
		_, err := o.Store.PutBlob(t.Context(), wrong)
		wantKind(t, fmt.Sprintf("putting a blob of %d bytes", len(wrong)), err, records.Invalid)
	}
	if got := listBlobs(t, o.Store); len(got) != 0 {
		t.Fatalf("blobs %v after refusals only", got)
	}
	for _, n := range []int{1, records.MaxBlob} {
		wantBlob(t, o.Store, mustPut(t, o.Store, data[:n]), data[:n])
	}
}

func blobNotFound(t *testing.T, o Opened) {
	mustPut(t, o.Store, []byte("another"))
	for _, key := range []string{abcKey, "", "abc", strings.ToUpper(abcKey), "../" + abcKey} {
		_, err := o.Store.GetBlob(t.Context(), key)
		wantKind(t, fmt.Sprintf("getting %q", key), err, records.NotFound)
	}
	mustPut(t, o.Store, []byte("abc"))
	_, err := o.Store.GetBlob(t.Context(), strings.ToUpper(abcKey))
	wantKind(t, "getting a key in capitals", err, records.NotFound)
}

func blobDamaged(t *testing.T, o Opened) {
	if o.Damage == nil {
		t.Skipf("backend %s gives no way to damage a blob", o.Name)
	}
	other := mustPut(t, o.Store, []byte("another"))
	mustPut(t, o.Store, []byte("abc"))
	o.Damage(t, abcKey)
	data, err := o.Store.GetBlob(t.Context(), abcKey)
	wantKind(t, "getting a damaged blob", err, records.Corrupt)
	if data != nil {
		t.Fatal("the damaged bytes were given all the same")
	}
	wantBlob(t, o.Store, other, []byte("another"))
	// A nil error from PutBlob says that the bytes are kept, so a damaged copy can not pass for them.
	mustPut(t, o.Store, []byte("abc"))
	wantBlob(t, o.Store, abcKey, []byte("abc"))
}

func blobsInOrder(t *testing.T, o Opened) {
	var want []blobEntry
	for i := range 40 {
		data := bytes.Repeat([]byte{byte(i)}, 1+i*i)
		want = append(want, blobEntry{mustPut(t, o.Store, data), int64(len(data))})
	}
	slices.SortFunc(want, func(a, b blobEntry) int { return strings.Compare(a.key, b.key) })
	if got := listBlobs(t, o.Store); !slices.Equal(got, want) {
		t.Fatalf("blobs %v, want %v", got, want)
	}
	enough := errors.New("enough")
	visits := 0
	err := o.Store.EachBlob(t.Context(), func(key string, _ int64) error {
		visits++
		if key == want[2].key {
			return enough
		}
		return nil
	})
	if !errors.Is(err, enough) || visits != 3 {
		t.Fatalf("stopping at the third blob: %d visits, error %v", visits, err)
	}
}

func blobNoSharedMemory(t *testing.T, o Opened) {
	given := []byte("abc")
	key := mustPut(t, o.Store, given)
	given[0] = '!'
	wantBlob(t, o.Store, key, []byte("abc"))
	shown, err := o.Store.GetBlob(t.Context(), key)
	if err != nil {
		t.Fatal(err)
	}
	shown[0] = '!'
	wantBlob(t, o.Store, key, []byte("abc"))
}
