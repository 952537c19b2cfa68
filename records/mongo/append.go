package mongo

import (
	"bytes"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"strconv"
	"time"

	"go.mongodb.org/mongo-driver/bson"
	driver "go.mongodb.org/mongo-driver/mongo"
	"go.mongodb.org/mongo-driver/mongo/options"

	"grainward/records"
)

// batchDoc is one document of the journal.
type batchDoc struct {
	ID    string   `bson:"_id"` // the first position; see idOf
	N     int64    `bson:"n"`
	Token []byte   `bson:"token"` // of the Append that wrote it
	Rows  []rowDoc `bson:"rows,omitempty"`
	Parts int      `bson:"parts,omitempty"` // so many documents hold the rows instead
	Note  []byte   `bson:"note,omitempty"`  // the signed tree head

	First records.Position `bson:"-"` // ID as a number
}

// idOf is a batch's _id: its first position in 19 digits, so that ids sort as positions do. It is a text because FerretDB
// looks those up in an index, and numbers not.
func idOf(first records.Position) string { return fmt.Sprintf("%019d", first) }

// place reads the ID. A negative First says that it is none of ours.
func (d *batchDoc) place() {
	n, err := strconv.ParseInt(d.ID, 10, 64)
	if d.First = records.Position(n); err != nil || n < 0 || idOf(d.First) != d.ID {
		d.First = -1
	}
}

type rowDoc struct {
	Bytes []byte `bson:"bytes"`
	Leaf  []byte `bson:"leaf"`
}

type partDoc struct {
	ID   string   `bson:"_id"`
	Rows []rowDoc `bson:"rows"`
}

// inDocument is how many bytes of rows are put into one document, which MongoDB limits to 16 MiB; rowCost is what a
// row takes beside its bytes.
const (
	inDocument = 8 << 20
	rowCost    = 96
	longestRow = 15 << 20
)

// Append stores the batch. When ctx ends, or the database stays away for longer than patience, the outcome is open.
func (s *Store) Append(ctx context.Context, b records.Batch) error {
	ctx, done, err := s.begin(ctx)
	if err != nil {
		return err
	}
	defer done()
	if s.mode == Read {
		return s.errReadOnly()
	}
	if len(b.Rows) == 0 {
		return errEmpty()
	}
	if err := s.mustEndAt(ctx, b.After); err != nil {
		return err
	}
	doc, err := s.pack(ctx, b)
	if err != nil {
		return err
	}
	if err := s.insert(ctx, doc); err != nil {
		return err
	}
	s.appended(ctx, doc, 1)
	return nil
}

// mustEndAt follows the chain to its end and sees whether a batch may be put there.
func (s *Store) mustEndAt(ctx context.Context, after records.Position) error {
	s.mu.Lock()
	end := s.tail
	s.mu.Unlock()
	if end == after {
		return nil // a border; whether it is still the end is what the insertion tells
	}
	if end < after {
		var err error
		if end, err = s.follow(ctx); err != nil {
			return s.wrong("looking for the end of the journal in", err)
		}
	}
	if end != after {
		return conflict(after, end)
	}
	return nil
}

func errEmpty() error {
	return &records.Error{Kind: records.Invalid, What: "the batch to append has no rows", Do: "append at least one row"}
}

func conflict(after, have records.Position) error {
	return &records.Error{Kind: records.Conflict, What: fmt.Sprintf("the batch was made when the journal held %d entries, and it holds %d", after, have),
		Do: "read the newer entries and make the batch again"}
}

// pack makes the batch's document, writing its rows into parts when they are too long for it.
func (s *Store) pack(ctx context.Context, b records.Batch) (*batchDoc, error) {
	token := make([]byte, 16)
	_, _ = rand.Read(token) // never fails (crypto/rand)
	doc := &batchDoc{ID: idOf(b.After), First: b.After, N: int64(len(b.Rows)), Token: token, Note: b.Checkpoint}
	var docs [][]rowDoc
	size := s.most
	for i, r := range b.Rows {
		if len(r.Bytes) > longestRow {
			return nil, &records.Error{Kind: records.Invalid, What: fmt.Sprintf("row %d of the batch has %d bytes, and a MongoDB document holds at most %d", i+1, len(r.Bytes), longestRow)}
		}
		if size+len(r.Bytes)+rowCost > s.most {
			docs, size = append(docs, nil), 0
		}
		last := &docs[len(docs)-1]
		*last = append(*last, rowDoc{r.Bytes, bytes.Clone(r.Leaf[:])})
		size += len(r.Bytes) + rowCost
	}
	if len(docs) == 1 {
		doc.Rows = docs[0]
		return doc, nil
	}
	doc.Parts = len(docs)
	for i, rows := range docs {
		part := partDoc{partID(token, i), rows}
		err := s.again(ctx, func(ctx context.Context) error {
			_, err := s.parts.ReplaceOne(ctx, byID(part.ID), part, options.Replace().SetUpsert(true))
			return err
		})
		if err != nil {
			return nil, s.wrongWriting("writing part of a batch into", err)
		}
	}
	return doc, nil
}

func partID(token []byte, i int) string { return fmt.Sprintf("%x-%d", token, i) }

// insert sends the document until it is known what became of it. See the package comment.
func (s *Store) insert(ctx context.Context, doc *batchDoc) error {
	ctx, cancel := context.WithTimeout(ctx, s.patience)
	defer cancel()
	raw, err := bson.Marshal(doc)
	if err != nil {
		return s.wrong("writing a batch for", err)
	}
	var failed error // the last reason why it is not known
	for wait := firstWait; ; wait = min(2*wait, longestWait) {
		err := within(ctx, func(ctx context.Context) error {
			_, err := s.journal.InsertOne(ctx, bson.Raw(raw))
			return err
		})
		switch {
		case err == nil:
			return nil
		case driver.IsDuplicateKeyError(err):
			// Whose it is, once a majority has it. Until then it could still be taken back, and is not to be seen.
			there, found, err := s.batch(ctx, doc.First, onlyToken)
			if err == nil && found {
				if bytes.Equal(there.Token, doc.Token) {
					return nil
				}
				return conflict(doc.First, doc.First+records.Position(there.N))
			}
			if err != nil && !passing(err) {
				return s.open(err)
			}
			failed = errors.Join(err, errNotYet)
		case passing(err):
			failed = err
		default:
			return s.wrongWriting("appending to", err)
		}
		select {
		case <-ctx.Done():
			return s.open(failed)
		case <-time.After(wait):
		}
	}
}

var errNotYet = errors.New("a majority of the members does not hold it yet")

// open is the error of a batch of which it is not known whether it is in the journal.
func (s *Store) open(err error) error {
	own := s.wrong("appending to", err)
	var e *records.Error
	if errors.As(own, &e) {
		e.What += "; whether the batch was written is not known"
		e.Do = "Send it again with the same ids: what is there already is not written twice. " + e.Do
	}
	return own
}

// tailEvery is how many batches are appended before the note of the tail is renewed: whoever opens the journal follows
// the chain from there.
const tailEvery = 64

// appended remembers that n batches were appended, the last of which is doc.
func (s *Store) appended(ctx context.Context, doc *batchDoc, n int) {
	s.mu.Lock()
	s.tail = max(s.tail, doc.First+records.Position(doc.N))
	s.last = max(s.last, doc.First)
	s.since += n
	renew := s.since >= tailEvery
	s.mu.Unlock()
	if renew {
		s.noteTail(ctx)
	}
}

// noteTail writes down where the chain may be followed from. It may be old, and it may fail: it saves time and nothing
// else. Two servers may put it back by a little.
func (s *Store) noteTail(ctx context.Context) {
	s.mu.Lock()
	at := s.last
	s.since = 0
	s.mu.Unlock()
	_ = within(ctx, func(ctx context.Context) error {
		_, err := s.about.ReplaceOne(ctx, byID("tail"), bson.D{{Key: "_id", Value: "tail"}, {Key: "at", Value: idOf(at)}}, options.Replace().SetUpsert(true))
		return err
	})
}
