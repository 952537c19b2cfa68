package mongo

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"time"

	"go.mongodb.org/mongo-driver/bson"
	driver "go.mongodb.org/mongo-driver/mongo"
	"go.mongodb.org/mongo-driver/mongo/options"

	"grainward/records"
)

// chunkSize is of the pieces that documents and photos are kept in; any size is GridFS as long as the file says which.
const chunkSize = 4 << 20

// fileDoc and chunkDoc are as the GridFS specification has them
// (https://github.com/mongodb/specifications/blob/master/source/gridfs/gridfs-spec.md). What is kept under a key has one
// content only, so every piece has one _id and one content too: writing it again, or from two servers at once, changes
// nothing, and a piece that was damaged is put right. That is why they are written here and not by the driver's bucket,
// which gives each upload pieces of its own.
type fileDoc struct {
	Key       string    `bson:"_id"`
	Length    int64     `bson:"length"`
	ChunkSize int32     `bson:"chunkSize"`
	Uploaded  time.Time `bson:"uploadDate"`
	Name      string    `bson:"filename"`
}

type chunkDoc struct {
	ID   string `bson:"_id"`
	File string `bson:"files_id"`
	N    int32  `bson:"n"`
	Data []byte `bson:"data"`
}

func chunkID(key string, n int) string { return fmt.Sprintf("%s-%d", key, n) }

// PutBlob keeps a document or photo by its SHA-256. A kept copy that has been damaged is put right.
func (s *Store) PutBlob(ctx context.Context, data []byte) (string, error) {
	ctx, done, err := s.begin(ctx)
	if err != nil {
		return "", err
	}
	defer done()
	if s.mode == Read {
		return "", s.errReadOnly()
	}
	if len(data) == 0 || len(data) > records.MaxBlob {
		return "", &records.Error{Kind: records.Invalid, What: fmt.Sprintf("the document has %d bytes", len(data)),
			Do: fmt.Sprintf("a document or photo has at least 1 byte and at most %d", records.MaxBlob)}
	}
	key := keyOf(data)
	for n := 0; n*chunkSize < len(data); n++ {
		piece := chunkDoc{chunkID(key, n), key, int32(n), data[n*chunkSize : min(len(data), (n+1)*chunkSize)]}
		if err := s.replace(ctx, s.chunks, piece.ID, piece); err != nil {
			return "", s.wrongWriting("keeping a document in", err)
		}
	}
	// Last, so that a file that is listed is whole.
	if err := s.replace(ctx, s.files, key, fileDoc{key, int64(len(data)), chunkSize, time.Now(), key}); err != nil {
		return "", s.wrongWriting("keeping a document in", err)
	}
	return key, nil
}

// replace puts a document in the place of whatever has its _id.
func (s *Store) replace(ctx context.Context, in *driver.Collection, id string, doc any) error {
	return s.again(ctx, func(ctx context.Context) error {
		_, err := in.ReplaceOne(ctx, byID(id), doc, options.Replace().SetUpsert(true))
		if driver.IsDuplicateKeyError(err) { // two upserts at once: the other one wrote the same
			_, err = in.ReplaceOne(ctx, byID(id), doc)
		}
		return err
	})
}

// GetBlob gives the bytes kept under a key, after hashing them.
func (s *Store) GetBlob(ctx context.Context, key string) ([]byte, error) {
	ctx, done, err := s.begin(ctx)
	if err != nil {
		return nil, err
	}
	defer done()
	var file fileDoc
	err = s.again(ctx, func(ctx context.Context) error { return s.files.FindOne(ctx, byID(key)).Decode(&file) })
	if errors.Is(err, driver.ErrNoDocuments) {
		return nil, &records.Error{Kind: records.NotFound, What: fmt.Sprintf("no document with SHA-256 %q is kept in %s", key, s.name)}
	}
	if err != nil {
		return nil, s.wrong("reading a document of", err)
	}
	data, err := s.pieces(ctx, file)
	if err != nil {
		return nil, s.wrong("reading a document of", err)
	}
	if keyOf(data) != key {
		return nil, &records.Error{Kind: records.Corrupt, What: fmt.Sprintf("the document kept as %s in %s no longer has that SHA-256", key, s.name), Do: "put the original in again"}
	}
	return data, nil
}

// pieces puts a file together, as far as its pieces are there.
func (s *Store) pieces(ctx context.Context, file fileDoc) (data []byte, err error) {
	if file.ChunkSize <= 0 || file.Length > records.MaxBlob {
		return nil, nil // it can not have the hash it should
	}
	for n := 0; int64(n)*int64(file.ChunkSize) < file.Length; n++ {
		var piece chunkDoc
		err := s.again(ctx, func(ctx context.Context) error {
			return s.chunks.FindOne(ctx, byID(chunkID(file.Key, n))).Decode(&piece)
		})
		if errors.Is(err, driver.ErrNoDocuments) {
			break
		}
		if err != nil {
			return nil, err
		}
		data = append(data, piece.Data...)
	}
	return data, nil
}

// EachBlob visits every key with its size in bytes, in order of key.
func (s *Store) EachBlob(ctx context.Context, visit func(key string, size int64) error) error {
	ctx, done, err := s.begin(ctx)
	if err != nil {
		return err
	}
	defer done()
	var visitors error
	err = s.each(ctx, s.files, bson.D{}, options.Find().SetSort(upwards).SetProjection(bson.D{{Key: "length", Value: 1}}), func(c *driver.Cursor) error {
		var file fileDoc
		if err := c.Decode(&file); err != nil {
			return err
		}
		visitors = visit(file.Key, file.Length)
		return visitors
	})
	if visitors != nil {
		return visitors
	}
	return s.wrong("listing the documents of", err)
}

func keyOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}
