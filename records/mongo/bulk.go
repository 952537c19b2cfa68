package mongo

import (
	"context"

	"go.mongodb.org/mongo-driver/bson"
	driver "go.mongodb.org/mongo-driver/mongo"

	"grainward/records"
)

// atOnce bounds one request of AppendAll, in documents and in bytes of them.
const (
	docsAtOnce  = 500
	bytesAtOnce = 8 << 20
)

// AppendAll stores batches in order, many documents a request. When the answer to one is lost, its documents are asked about
// one by one.
func (s *Store) AppendAll(ctx context.Context, batches []records.Batch) error {
	ctx, done, err := s.begin(ctx)
	if err != nil {
		return err
	}
	defer done()
	if s.mode == Read {
		return s.errReadOnly()
	}
	var docs []*batchDoc
	var raws []any
	size := 0
	flush := func() error {
		if err := s.insertAll(ctx, docs, raws); err != nil {
			return err
		}
		docs, raws, size = nil, nil, 0
		return nil
	}
	for i, b := range batches {
		if len(b.Rows) == 0 {
			return errEmpty()
		}
		if i == 0 {
			if err := s.mustEndAt(ctx, b.After); err != nil {
				return err
			}
		} else if before := batches[i-1]; before.After+records.Position(len(before.Rows)) != b.After {
			return conflict(b.After, before.After+records.Position(len(before.Rows)))
		}
		doc, err := s.pack(ctx, b)
		if err != nil {
			return err
		}
		raw, err := bson.Marshal(doc)
		if err != nil {
			return s.wrong("writing a batch for", err)
		}
		if len(docs) == docsAtOnce || size+len(raw) > bytesAtOnce {
			if err := flush(); err != nil {
				return err
			}
		}
		docs, raws, size = append(docs, doc), append(raws, bson.Raw(raw)), size+len(raw)
	}
	return flush()
}

func (s *Store) insertAll(ctx context.Context, docs []*batchDoc, raws []any) error {
	if len(docs) == 0 {
		return nil
	}
	err := within(ctx, func(ctx context.Context) error {
		_, err := s.journal.InsertMany(ctx, raws) // in order, up to the first that fails
		return err
	})
	switch {
	case err == nil:
		s.appended(ctx, docs[len(docs)-1], len(docs))
		return nil
	case !driver.IsDuplicateKeyError(err) && !passing(err):
		return s.wrongWriting("appending to", err)
	}
	for _, doc := range docs {
		if err := s.insert(ctx, doc); err != nil {
			return err
		}
		s.appended(ctx, doc, 1)
	}
	return nil
}
