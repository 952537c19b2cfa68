package mongo

import (
	"context"
	"errors"
	"math/rand/v2"

	"go.mongodb.org/mongo-driver/bson"
	driver "go.mongodb.org/mongo-driver/mongo"
	"go.mongodb.org/mongo-driver/mongo/options"
)

// Kept holds small values in drawers, each with a revision, in the collection "kept" of a plant's database. It is what
// server/auth keeps PINs and sign-ins in (its interface Cabinet says what is promised), beside the journal and no part of
// it: values are changed and erased. It does not know what they mean.
type Kept struct {
	store *Store
	docs  *driver.Collection
}

type keptDoc struct {
	ID    string `bson:"_id"` // drawer, a slash, key
	Value []byte `bson:"value"`
	Rev   int64  `bson:"rev"` // drawn anew at each writing, so that it also tells whose writing it was
}

// OpenKept opens the values kept in a plant's database, which must hold a journal.
func OpenKept(ctx context.Context, uri string) (*Kept, error) {
	s, err := Open(ctx, uri, Write)
	if err != nil {
		return nil, err
	}
	return &Kept{s, s.journal.Database().Collection("kept")}, nil
}

// Close lets go of the connections.
func (k *Kept) Close() error { return k.store.Close() }

func keptID(drawer, key string) string { return drawer + "/" + key }

// Get reads a value and its revision; nil and 0 when there is none.
func (k *Kept) Get(ctx context.Context, drawer, key string) (value []byte, rev int64, err error) {
	ctx, done, err := k.store.begin(ctx)
	if err != nil {
		return nil, 0, err
	}
	defer done()
	doc, err := k.get(ctx, keptID(drawer, key))
	return doc.Value, doc.Rev, k.store.wrong("reading what is kept in", err)
}

// get is Get; a document of revision 0 is none.
func (k *Kept) get(ctx context.Context, id string) (doc keptDoc, err error) {
	err = k.store.again(ctx, func(ctx context.Context) error {
		doc = keptDoc{}
		return k.docs.FindOne(ctx, byID(id)).Decode(&doc)
	})
	if errors.Is(err, driver.ErrNoDocuments) {
		return keptDoc{}, nil
	}
	return doc, err
}

var errOvertaken = errors.New("the answer was lost, and somebody else has written since")

// Put writes a value if its revision is still rev, 0 for none. When the answer is lost it is asked again, and the new
// revision tells whether the first asking got through.
func (k *Kept) Put(ctx context.Context, drawer, key string, value []byte, rev int64) (ok bool, err error) {
	ctx, done, err := k.store.begin(ctx)
	if err != nil {
		return false, err
	}
	defer done()
	doc := keptDoc{keptID(drawer, key), value, 1 + rand.Int64N(1<<62)}
	asked := 0
	err = k.store.again(ctx, func(ctx context.Context) error {
		asked++
		ok, err = k.write(ctx, doc, rev)
		return err
	})
	if err == nil && !ok && asked > 1 {
		var there keptDoc
		switch there, err = k.get(ctx, doc.ID); {
		case err == nil && there.Rev == doc.Rev:
			ok = true
		case err == nil && there.Rev != rev: // ours may have been written before theirs
			err = errOvertaken
		}
	}
	if err != nil {
		return false, k.store.wrongWriting("keeping something in", err)
	}
	return ok, nil
}

// write asks once.
func (k *Kept) write(ctx context.Context, doc keptDoc, rev int64) (ok bool, err error) {
	if rev == 0 {
		_, err := k.docs.InsertOne(ctx, doc)
		if driver.IsDuplicateKeyError(err) {
			return false, nil
		}
		return err == nil, err
	}
	res, err := k.docs.ReplaceOne(ctx, bson.D{{Key: "_id", Value: doc.ID}, {Key: "rev", Value: rev}}, doc)
	return err == nil && res.MatchedCount == 1, err
}

// Delete takes a value out.
func (k *Kept) Delete(ctx context.Context, drawer, key string) error {
	ctx, done, err := k.store.begin(ctx)
	if err != nil {
		return err
	}
	defer done()
	err = k.store.again(ctx, func(ctx context.Context) error {
		_, err := k.docs.DeleteOne(ctx, byID(keptID(drawer, key)))
		return err
	})
	return k.store.wrongWriting("erasing something in", err)
}

// Each calls do for every value of a drawer, in order of key. The drawer is read before, so that do may write.
func (k *Kept) Each(ctx context.Context, drawer string, do func(key string, value []byte) error) error {
	ctx, done, err := k.store.begin(ctx)
	if err != nil {
		return err
	}
	defer done()
	var all []keptDoc
	err = k.store.again(ctx, func(ctx context.Context) error {
		// Every id that begins with the drawer and a slash lies between that and the drawer with what follows the slash.
		c, err := k.docs.Find(ctx, bson.D{{Key: "_id", Value: bson.D{{Key: "$gte", Value: drawer + "/"}, {Key: "$lt", Value: drawer + "0"}}}}, options.Find().SetSort(upwards))
		if err != nil {
			return err
		}
		all = nil
		return c.All(ctx, &all)
	})
	if err != nil {
		return k.store.wrong("reading what is kept in", err)
	}
	for _, doc := range all {
		if err := do(doc.ID[len(drawer)+1:], doc.Value); err != nil {
			return err
		}
	}
	return nil
}
