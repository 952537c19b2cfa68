package mongo

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"time"

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
	turns *driver.Collection
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
	db := s.journal.Database()
	return &Kept{s, db.Collection("kept"), db.Collection("turns")}, nil
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

// turnDoc is taken by the one writer who may replace a revision. A MongoDB server would not need it, since it compares the
// revision and writes in one step; FerretDB looks first and writes afterwards, but an _id it gives away once only.
type turnDoc struct {
	ID    string    `bson:"_id"` // that of the value, a space, and the revision to be replaced
	Of    string    `bson:"of"`  // that of the value
	Next  int64     `bson:"next"`
	Value []byte    `bson:"value"`
	Taken time.Time `bson:"taken"`
}

// abandoned is how old a turn is when whoever took it must have died before writing. Others then write in their place, and the same, so
// that it does no harm if the writer lives. The time is that of the writer's clock: one that is far ahead makes nobody wait for long.
const abandoned = 5 * time.Second

// Put writes a value if its revision is still rev, 0 for none. When an answer is lost it is asked again, and the new revision
// tells whose writing is there.
func (k *Kept) Put(ctx context.Context, drawer, key string, value []byte, rev int64) (ok bool, err error) {
	ctx, done, err := k.store.begin(ctx)
	if err != nil {
		return false, err
	}
	defer done()
	doc := keptDoc{keptID(drawer, key), value, 1 + rand.Int64N(1<<62)}
	if rev == 0 {
		ok, err = k.make(ctx, doc)
	} else {
		ok, err = k.replace(ctx, doc, rev)
	}
	return ok && err == nil, k.store.wrongWriting("keeping something in", err)
}

// make writes a value where there is none.
func (k *Kept) make(ctx context.Context, doc keptDoc) (bool, error) {
	err := k.store.again(ctx, func(ctx context.Context) error {
		_, err := k.docs.InsertOne(ctx, doc)
		return err
	})
	if !driver.IsDuplicateKeyError(err) {
		return err == nil, err
	}
	there, err := k.get(ctx, doc.ID)
	return there.Rev == doc.Rev, err
}

// replace takes the turn to replace a revision, writes, and gives the turn back.
func (k *Kept) replace(ctx context.Context, doc keptDoc, rev int64) (ok bool, err error) {
	turn := turnDoc{fmt.Sprintf("%s %d", doc.ID, rev), doc.ID, doc.Rev, doc.Value, time.Now()}
	err = k.store.again(ctx, func(ctx context.Context) error {
		_, err := k.turns.InsertOne(ctx, turn)
		return err
	})
	if driver.IsDuplicateKeyError(err) {
		var taken turnDoc
		err = k.store.again(ctx, func(ctx context.Context) error { return k.turns.FindOne(ctx, byID(turn.ID)).Decode(&taken) })
		switch {
		case errors.Is(err, driver.ErrNoDocuments): // given back meanwhile: somebody else has written
			return false, nil
		case err != nil:
			return false, err
		case taken.Next != turn.Next && time.Since(taken.Taken).Abs() < abandoned:
			return false, nil
		}
		turn.Next, turn.Value = taken.Next, taken.Value
	}
	if err != nil {
		return false, err
	}
	ok, err = k.write(ctx, keptDoc{doc.ID, turn.Value, turn.Next}, rev)
	if err != nil {
		return false, err // the turn stays, and with it what was to be written
	}
	err = k.store.again(ctx, func(ctx context.Context) error {
		_, err := k.turns.DeleteOne(ctx, byID(turn.ID))
		return err
	})
	return ok && turn.Next == doc.Rev, err
}

// write replaces a revision; the turn to do so is ours. That it is there already is as good.
func (k *Kept) write(ctx context.Context, doc keptDoc, rev int64) (ok bool, err error) {
	err = k.store.again(ctx, func(ctx context.Context) error {
		res, err := k.docs.ReplaceOne(ctx, bson.D{{Key: "_id", Value: doc.ID}, {Key: "rev", Value: rev}}, doc)
		ok = err == nil && res.MatchedCount == 1
		return err
	})
	if err != nil || ok {
		return ok, err
	}
	there, err := k.get(ctx, doc.ID)
	return there.Rev == doc.Rev, err
}

// Delete takes a value out.
func (k *Kept) Delete(ctx context.Context, drawer, key string) error {
	ctx, done, err := k.store.begin(ctx)
	if err != nil {
		return err
	}
	defer done()
	err = k.store.again(ctx, func(ctx context.Context) error {
		if _, err := k.docs.DeleteOne(ctx, byID(keptID(drawer, key))); err != nil {
			return err
		}
		_, err := k.turns.DeleteMany(ctx, bson.D{{Key: "of", Value: keptID(drawer, key)}}) // left by a writer that died: it holds a value too
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
