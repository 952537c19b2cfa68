package mongo

import (
	"context"
	"errors"
	"fmt"

	"go.mongodb.org/mongo-driver/bson"
	driver "go.mongodb.org/mongo-driver/mongo"
	"go.mongodb.org/mongo-driver/mongo/options"

	"grainward/records"
	"grainward/records/ledger"
)

var (
	onlyToken = bson.D{{Key: "n", Value: 1}, {Key: "token", Value: 1}}
	onlyN     = bson.D{{Key: "n", Value: 1}}
	onlyNote  = bson.D{{Key: "n", Value: 1}, {Key: "note", Value: 1}}
	upwards   = bson.D{{Key: "_id", Value: 1}}
	downwards = bson.D{{Key: "_id", Value: -1}}
)

// batch looks a batch up by its exact _id; fields nil takes all of it.
func (s *Store) batch(ctx context.Context, first records.Position, fields bson.D) (doc batchDoc, there bool, err error) {
	o := options.FindOne()
	if fields != nil {
		o.SetProjection(fields)
	}
	err = s.again(ctx, func(ctx context.Context) error {
		doc = batchDoc{}
		return s.journal.FindOne(ctx, byID(idOf(first)), o).Decode(&doc)
	})
	doc.place()
	if errors.Is(err, driver.ErrNoDocuments) {
		return doc, false, nil
	}
	return doc, err == nil, err
}

// follow goes along the chain to its end, and remembers it.
func (s *Store) follow(ctx context.Context) (records.Position, error) {
	s.mu.Lock()
	at, last := s.tail, s.last
	s.mu.Unlock()
	for {
		doc, there, err := s.batch(ctx, at, onlyN)
		if err != nil {
			return at, err
		}
		if !there {
			break
		}
		if doc.N <= 0 {
			return at, s.corrupt(at)
		}
		last, at = at, at+records.Position(doc.N)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.tail, s.last = max(s.tail, at), max(s.last, last)
	return s.tail, nil
}

// findTail gives follow a place near the end to begin at: the batch that was noted, when it is there, else the last one.
func (s *Store) findTail(ctx context.Context) error {
	var note struct {
		At string `bson:"at"`
	}
	err := s.again(ctx, func(ctx context.Context) error { return s.about.FindOne(ctx, byID("tail")).Decode(&note) })
	if err != nil && !errors.Is(err, driver.ErrNoDocuments) {
		return s.wrong("reading where the journal ends in", err)
	}
	if err == nil {
		noted := batchDoc{ID: note.At}
		noted.place()
		doc, there, err := s.batch(ctx, noted.First, onlyN)
		if err != nil {
			return s.wrong("reading where the journal ends in", err)
		}
		if there && doc.N > 0 {
			s.last, s.tail = doc.First, doc.First+records.Position(doc.N)
			return nil
		}
	}
	doc, there, err := s.lastBefore(ctx, bson.D{}, onlyN)
	if err == nil && there {
		s.last, s.tail = doc.First, doc.First+records.Position(doc.N)
	}
	return s.wrong("reading where the journal ends in", err)
}

// lastBefore is the last batch that a filter lets through: a look at the index on MongoDB, a scan on FerretDB.
func (s *Store) lastBefore(ctx context.Context, filter, fields bson.D) (doc batchDoc, there bool, err error) {
	o := options.Find().SetSort(downwards).SetLimit(1)
	if fields != nil {
		o.SetProjection(fields)
	}
	err = s.each(ctx, s.journal, filter, o, func(c *driver.Cursor) error {
		there = true
		err := c.Decode(&doc)
		doc.place()
		return err
	})
	return doc, there && err == nil, err
}

// Head is the number of entries stored.
func (s *Store) Head(ctx context.Context) (records.Position, error) {
	ctx, done, err := s.begin(ctx)
	if err != nil {
		return 0, err
	}
	defer done()
	at, err := s.follow(ctx)
	return at, s.wrong("counting the entries of", err)
}

// exactly is how many batches in a row are looked up one by one before a reading goes over to a range.
const exactly = 64

// Read visits the rows from a position on. Near the end, which is where a server that follows the journal reads, batches
// are looked up one by one; a long reading goes along a range.
func (s *Store) Read(ctx context.Context, from records.Position, visit func(records.Position, records.Row) error) error {
	ctx, done, err := s.begin(ctx)
	if err != nil {
		return err
	}
	defer done()
	r := reading{s: s, from: max(from, 0), visit: visit}
	if err := r.run(ctx); err != nil && r.visitors != nil {
		return r.visitors
	} else if err != nil {
		return s.wrong("reading the entries of", err)
	}
	return nil
}

// Resume is the first position from one on that a batch covers.
func (s *Store) Resume(ctx context.Context, from records.Position) (at records.Position, there bool, err error) {
	ctx, done, err := s.begin(ctx)
	if err != nil {
		return 0, false, err
	}
	defer done()
	from = max(from, 0)
	doc, there, err := s.lastBefore(ctx, bson.D{{Key: "_id", Value: bson.D{{Key: "$lte", Value: idOf(from)}}}}, onlyN)
	if err == nil && there && doc.First+records.Position(doc.N) > from {
		return from, true, nil
	}
	there = false
	if err == nil {
		err = s.each(ctx, s.journal, bson.D{{Key: "_id", Value: bson.D{{Key: "$gt", Value: idOf(from)}}}}, options.Find().SetSort(upwards).SetLimit(1).SetProjection(onlyN), func(c *driver.Cursor) error {
			var next batchDoc
			err := c.Decode(&next)
			next.place()
			at, there = next.First, err == nil
			return err
		})
	}
	return at, there, s.wrong("looking where the entries go on in", err)
}

type reading struct {
	s        *Store
	from     records.Position // rows before it are passed over
	at       records.Position // the border reached
	known    records.Position // the end as it was known when the reading began
	visit    func(records.Position, records.Row) error
	visitors error // of visit
}

func (r *reading) run(ctx context.Context) error {
	beyond, err := r.start(ctx)
	if err != nil || beyond {
		return err
	}
	if r.from == 0 { // a whole reading, which must also notice a batch that is gone
		return r.along(ctx)
	}
	for range exactly {
		doc, there, err := r.s.batch(ctx, r.at, nil)
		if err != nil {
			return err
		}
		if !there {
			return r.ended()
		}
		if err := r.take(ctx, &doc); err != nil {
			return err
		}
	}
	return r.along(ctx)
}

// start finds the border at or before the position to read from.
func (r *reading) start(ctx context.Context) (beyond bool, err error) {
	r.s.mu.Lock()
	tail := r.s.tail
	r.s.mu.Unlock()
	if r.from > tail {
		if tail, err = r.s.follow(ctx); err != nil || r.from >= tail {
			return err == nil, err
		}
	}
	r.at, r.known = r.from, tail
	if r.from == 0 || r.from == tail {
		return false, nil
	}
	if _, there, err := r.s.batch(ctx, r.from, onlyN); err != nil || there {
		return false, err
	}
	doc, there, err := r.s.lastBefore(ctx, bson.D{{Key: "_id", Value: bson.D{{Key: "$lte", Value: idOf(r.from)}}}}, onlyN)
	if err != nil {
		return false, err
	}
	if !there || doc.First+records.Position(doc.N) <= r.from {
		return false, r.s.missing(r.from)
	}
	r.at = doc.First
	return false, nil
}

// ended is called where the chain ends: not before the end that was known. What has been appended since the reading began
// need not be in it.
func (r *reading) ended() error {
	if r.at < r.known {
		return r.s.missing(r.at)
	}
	return nil
}

// along reads a range, in order.
func (r *reading) along(ctx context.Context) error {
	err := r.s.each(ctx, r.s.journal, bson.D{{Key: "_id", Value: bson.D{{Key: "$gte", Value: idOf(r.at)}}}}, options.Find().SetSort(upwards), func(c *driver.Cursor) error {
		var doc batchDoc
		if err := c.Decode(&doc); err != nil {
			return err
		}
		doc.place()
		return r.take(ctx, &doc)
	})
	if err != nil {
		return err
	}
	return r.ended()
}

// take visits the rows of the batch that is due.
func (r *reading) take(ctx context.Context, doc *batchDoc) error {
	if doc.First != r.at {
		return r.s.missing(r.at)
	}
	if doc.N <= 0 {
		return r.s.corrupt(r.at)
	}
	if doc.Parts > 0 {
		if err := r.s.fetchParts(ctx, doc); err != nil {
			return err
		}
	}
	if int64(len(doc.Rows)) != doc.N {
		return r.s.corrupt(r.at)
	}
	for i := range doc.Rows {
		pos := r.at + records.Position(i)
		if pos < r.from {
			continue
		}
		if len(doc.Rows[i].Leaf) != len(ledger.Hash{}) {
			return &records.Error{Kind: records.Corrupt, What: fmt.Sprintf("the leaf hash at position %d in %s has %d bytes, not %d", pos, r.s.name, len(doc.Rows[i].Leaf), len(ledger.Hash{})), Do: doCorrupt}
		}
		if err := r.visit(pos, records.Row{Bytes: doc.Rows[i].Bytes, Leaf: ledger.Hash(doc.Rows[i].Leaf)}); err != nil {
			r.visitors = err
			return err
		}
	}
	r.at += records.Position(doc.N)
	return nil
}

func (s *Store) fetchParts(ctx context.Context, doc *batchDoc) error {
	for i := range doc.Parts {
		var part partDoc
		err := s.again(ctx, func(ctx context.Context) error {
			return s.parts.FindOne(ctx, byID(partID(doc.Token, i))).Decode(&part)
		})
		if errors.Is(err, driver.ErrNoDocuments) {
			return s.corrupt(doc.First)
		}
		if err != nil {
			return err
		}
		doc.Rows = append(doc.Rows, part.Rows...)
	}
	return nil
}

// Checkpoints visits the signed tree heads, oldest first.
func (s *Store) Checkpoints(ctx context.Context, visit func(size records.Position, signed []byte) error) error {
	ctx, done, err := s.begin(ctx)
	if err != nil {
		return err
	}
	defer done()
	var visitors error
	err = s.each(ctx, s.journal, bson.D{}, options.Find().SetSort(upwards).SetProjection(onlyNote), func(c *driver.Cursor) error {
		var doc batchDoc
		if err := c.Decode(&doc); err != nil || len(doc.Note) == 0 {
			return err
		}
		doc.place()
		visitors = visit(doc.First+records.Position(doc.N), doc.Note)
		return visitors
	})
	if visitors != nil {
		return visitors
	}
	return s.wrong("reading the tree heads of", err)
}

// each goes through what a filter lets through. The answers may take scanTime each.
func (s *Store) each(ctx context.Context, in *driver.Collection, filter bson.D, o *options.FindOptions, take func(*driver.Cursor) error) error {
	c, err := in.Find(ctx, filter, o)
	if err != nil {
		return err
	}
	defer c.Close(context.WithoutCancel(ctx))
	for c.Next(ctx) {
		if err := take(c); err != nil {
			return err
		}
	}
	return c.Err()
}

// NewestCheckpoint is the signed tree head of the last batch; nil when there is none.
func (s *Store) NewestCheckpoint(ctx context.Context) ([]byte, error) {
	ctx, done, err := s.begin(ctx)
	if err != nil {
		return nil, err
	}
	defer done()
	if _, err := s.follow(ctx); err != nil {
		return nil, s.wrong("reading the newest tree head of", err)
	}
	s.mu.Lock()
	last := s.last
	s.mu.Unlock()
	doc, _, err := s.batch(ctx, last, onlyNote)
	return doc.Note, s.wrong("reading the newest tree head of", err)
}
