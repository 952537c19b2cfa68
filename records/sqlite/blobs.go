package sqlite

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"

	"grainward/records"
)

// PutBlob keeps a document or photo by its SHA-256. A kept copy that has been damaged is put right.
func (s *Store) PutBlob(ctx context.Context, data []byte) (string, error) {
	if s.mode != Write {
		return "", s.errReadOnly()
	}
	if len(data) == 0 || len(data) > records.MaxBlob {
		return "", &records.Error{Kind: records.Invalid, What: fmt.Sprintf("the document has %d bytes", len(data)),
			Do: fmt.Sprintf("a document or photo has at least 1 byte and at most %d", records.MaxBlob)}
	}
	key := keyOf(data)
	err := s.write(ctx, "keeping a document", func(ctx context.Context, w *writer) error {
		_, err := w.blob.ExecContext(ctx, key, len(data), data)
		return err
	})
	if err != nil {
		return "", err
	}
	return key, nil
}

// GetBlob gives the bytes kept under a key, after hashing them.
func (s *Store) GetBlob(ctx context.Context, key string) ([]byte, error) {
	var data []byte
	err := s.reading(func() error {
		return s.reads.QueryRowContext(ctx, "SELECT bytes FROM blobs WHERE sha256 = ?", key).Scan(&data)
	})
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return nil, &records.Error{Kind: records.NotFound, What: fmt.Sprintf("no document with SHA-256 %q is kept in %s", key, s.path)}
	case err != nil:
		return nil, s.wrong("reading a document", err)
	case keyOf(data) != key:
		return nil, &records.Error{Kind: records.Corrupt, What: fmt.Sprintf("the document kept as %s in %s no longer has that SHA-256", key, s.path),
			Do: "put the original in again"}
	}
	return data, nil
}

// EachBlob visits every key with its size in bytes, in order of key.
func (s *Store) EachBlob(ctx context.Context, visit func(key string, size int64) error) error {
	return s.each(ctx, "listing the documents", "SELECT sha256, size FROM blobs ORDER BY sha256", nil, func(rows *sql.Rows) (error, error) {
		var key string
		var size int64
		if err := rows.Scan(&key, &size); err != nil {
			return err, nil
		}
		return nil, visit(key, size)
	})
}

func keyOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}
