package mongo

import (
	"testing"

	"go.mongodb.org/mongo-driver/bson"

	"grainward/records"
	"grainward/records/backendtest"
	"grainward/records/mongo/mongotest"
)

func TestBackend(t *testing.T) {
	backendtest.Run(t, func(t *testing.T) backendtest.Opened {
		uri := mongotest.Database(t)
		s := mustOpen(t, uri, Create)
		return backendtest.Opened{
			Name:     "mongo, on " + s.Server().String(),
			Store:    s,
			Reopen:   func(t *testing.T) records.Store { return mustOpen(t, uri, Write) },
			Beside:   func(t *testing.T) records.Store { return mustOpen(t, uri, Write) },
			ReadOnly: func(t *testing.T) records.Store { return mustOpen(t, uri, Read) },
			Damage: func(t *testing.T, key string) {
				var piece chunkDoc
				if err := s.chunks.FindOne(t.Context(), byID(chunkID(key, 0))).Decode(&piece); err != nil {
					t.Fatal(err)
				}
				piece.Data[0] ^= 1
				if _, err := s.chunks.ReplaceOne(t.Context(), bson.D{{Key: "_id", Value: piece.ID}}, piece); err != nil {
					t.Fatal(err)
				}
			},
		}
	})
}

func mustOpen(t testing.TB, uri string, mode Mode) *Store {
	t.Helper()
	s, err := Open(t.Context(), uri, mode)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	return s
}
