package mongo

import (
	"bytes"
	"crypto/sha256"
	"math/rand/v2"
	"testing"

	"go.mongodb.org/mongo-driver/bson"
	"go.mongodb.org/mongo-driver/mongo/gridfs"

	"grainward/records"
	"grainward/records/mongo/mongotest"
)

func row(size, n int) records.Row {
	b := bytes.Repeat([]byte{byte(n)}, size)
	return records.Row{Bytes: b, Leaf: sha256.Sum256(b)}
}

func mustAppend(t testing.TB, s *Store, after int, rows ...records.Row) {
	t.Helper()
	if err := s.Append(t.Context(), records.Batch{After: records.Position(after), Rows: rows, Checkpoint: []byte("head")}); err != nil {
		t.Fatal(err)
	}
}

func readSizes(t testing.TB, s *Store, from int) (sizes []int, err error) {
	err = s.Read(t.Context(), records.Position(from), func(_ records.Position, r records.Row) error {
		if sha256.Sum256(r.Bytes) != r.Leaf {
			t.Error("the bytes are not what was appended")
		}
		sizes = append(sizes, len(r.Bytes))
		return nil
	})
	return sizes, err
}

// A batch longer than a document is all there or not at all: the parts alone are nothing.
func TestLongBatch(t *testing.T) {
	uri := mongotest.Database(t)
	s := mustOpen(t, uri, Create)
	mustAppend(t, s, 0, row(10, 0))
	s.most = 64 << 10
	var rows []records.Row
	for i := range 13 {
		rows = append(rows, row(20<<10, i+1))
	}
	lost, err := s.pack(t.Context(), records.Batch{After: 1, Rows: rows}) // its writer died before the one document that counts
	if err != nil || lost.Parts < 4 {
		t.Fatalf("%d parts, %v", lost.Parts, err)
	}
	if head := must(s.Head(t.Context())); head != 1 {
		t.Fatalf("parts alone make the head %d", head)
	}
	mustAppend(t, s, 1, rows...)
	mustAppend(t, s, 14, row(10, 14))
	for from, want := range map[int]int{0: 15, 1: 14, 6: 9, 14: 1} {
		sizes, err := readSizes(t, mustOpen(t, uri, Read), from)
		if err != nil || len(sizes) != want || sizes[len(sizes)-1] != 10 {
			t.Errorf("from %d: %d rows, %v", from, len(sizes), err)
		}
	}
	if err := s.Append(t.Context(), records.Batch{After: 15, Rows: []records.Row{row(16<<20, 1)}}); records.KindOf(err) != records.Invalid {
		t.Errorf("a row that fits no document: %v", err)
	}
	s.most = inDocument
	mustAppend(t, s, 15, row(6<<20, 15), row(5<<20, 16), row(6<<20, 17)) // more than one document can hold
	if sizes, err := readSizes(t, mustOpen(t, uri, Read), 15); err != nil || len(sizes) != 3 {
		t.Errorf("17 MiB: %d rows, %v", len(sizes), err)
	}
	if _, err := s.parts.DeleteOne(t.Context(), bson.D{}); err != nil { // one of those that died
		t.Fatal(err)
	}
	if sizes, err := readSizes(t, s, 0); err != nil || len(sizes) != 18 {
		t.Errorf("without a part that no batch names: %d rows, %v", len(sizes), err)
	}
	if _, err := s.parts.DeleteMany(t.Context(), bson.D{}); err != nil {
		t.Fatal(err)
	}
	if _, err := readSizes(t, s, 0); records.KindOf(err) != records.Corrupt {
		t.Errorf("without its parts: %v", err)
	}
}

// A batch that is gone, or is said to be longer or shorter than it is, is found out from wherever it is read.
func TestBrokenChain(t *testing.T) {
	for name, harm := range map[string]func(*testing.T, *Store){
		"gone": func(t *testing.T, s *Store) { must(s.journal.DeleteOne(t.Context(), byID(idOf(6)))) },
		"n":    func(t *testing.T, s *Store) { change(t, s, 6, bson.D{{Key: "n", Value: int64(1)}}) },
		"no n": func(t *testing.T, s *Store) { change(t, s, 6, bson.D{{Key: "n", Value: int64(0)}}) },
		"rows": func(t *testing.T, s *Store) { change(t, s, 6, bson.D{{Key: "rows", Value: bson.A{}}}) },
	} {
		t.Run(name, func(t *testing.T) {
			uri := mongotest.Database(t)
			s := mustOpen(t, uri, Create)
			for at := 0; at < 20; at += 2 {
				mustAppend(t, s, at, row(1, at), row(2, at))
			}
			harm(t, s)
			for _, s := range []*Store{s, mustOpen(t, uri, Read)} {
				for _, from := range []int{0, 2, 5, 6, 7} {
					if sizes, err := readSizes(t, s, from); records.KindOf(err) != records.Corrupt || len(sizes) > 6 {
						t.Errorf("from %d: %d rows, %v", from, len(sizes), err)
					}
				}
			}
			if sizes, err := readSizes(t, s, 8); err != nil || len(sizes) != 12 {
				t.Errorf("behind the harm: %d rows, %v", len(sizes), err)
			}
		})
	}
}

func change(t *testing.T, s *Store, first int, set bson.D) {
	t.Helper()
	must(s.journal.UpdateOne(t.Context(), byID(idOf(records.Position(first))), bson.D{{Key: "$set", Value: set}}))
}

// The note of where the journal ends saves time and decides nothing: old, wrong or gone, the head is the same.
func TestTailNote(t *testing.T) {
	uri := mongotest.Database(t)
	s := mustOpen(t, uri, Create)
	const batches = tailEvery + 10
	for at := range batches {
		mustAppend(t, s, at, row(1, at))
	}
	var note struct {
		At string `bson:"at"`
	}
	if err := s.about.FindOne(t.Context(), byID("tail")).Decode(&note); err != nil || note.At != idOf(tailEvery-1) {
		t.Fatalf("the note says %s, %v", note.At, err)
	}
	for name, at := range map[string]any{"as written": nil, "old": idOf(3), "no batch there": idOf(5000), "negative": idOf(-1), "no position": "x"} {
		if at != nil {
			must(s.about.UpdateOne(t.Context(), byID("tail"), bson.D{{Key: "$set", Value: bson.D{{Key: "at", Value: at}}}}))
		}
		if head := must(mustOpen(t, uri, Read).Head(t.Context())); head != batches {
			t.Errorf("%s: head %d", name, head)
		}
	}
	must(s.about.DeleteOne(t.Context(), byID("tail")))
	if head := must(mustOpen(t, uri, Read).Head(t.Context())); head != batches {
		t.Errorf("without it: head %d", head)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	r := mustOpen(t, uri, Read)
	if err := r.about.FindOne(t.Context(), byID("tail")).Decode(&note); err != nil || note.At != idOf(batches-1) {
		t.Errorf("after closing the note says %s, %v", note.At, err)
	}
}

// Documents are where any GridFS tool finds them: the driver's own bucket reads what we kept.
func TestGridFS(t *testing.T) {
	s := mustOpen(t, mongotest.Database(t), Create)
	data := make([]byte, records.MaxBlob)
	r := rand.New(rand.NewPCG(1, 2))
	for i := range data {
		data[i] = byte(r.Uint32())
	}
	for _, n := range []int{1, chunkSize, chunkSize + 1, records.MaxBlob} {
		key := must(s.PutBlob(t.Context(), data[:n]))
		bucket := must(gridfs.NewBucket(s.journal.Database()))
		var got bytes.Buffer
		if read, err := bucket.DownloadToStreamByName(key, &got); err != nil || int(read) != n || !bytes.Equal(got.Bytes(), data[:n]) {
			t.Errorf("%d bytes: the bucket reads %d, %v", n, read, err)
		}
	}
}
