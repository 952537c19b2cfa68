package mongo

import (
	"context"
	"time"

	"go.mongodb.org/mongo-driver/bson"

	"grainward/records"
)

var (
	_ records.Ready = (*Store)(nil)
	_ records.Sized = (*Store)(nil)
)

// readyTime is how long a database may take to say that it is there. It is asked once and not again and again: whoever watches wants
// to know what it is like now.
const readyTime = 3 * time.Second

// Ready asks whether a member answers that takes what is written.
func (s *Store) Ready(ctx context.Context) error {
	ctx, end, err := s.begin(ctx)
	if err != nil {
		return err
	}
	defer end()
	if s.mode == Read {
		return &records.Error{Kind: records.ReadOnly, What: s.name + " was opened for reading only", Do: "open it for writing"}
	}
	ctx, cancel := context.WithTimeout(ctx, readyTime)
	defer cancel()
	var hello struct {
		Writable *bool `bson:"isWritablePrimary"`
	}
	if err := s.journal.Database().RunCommand(ctx, bson.D{{Key: "hello", Value: 1}}).Decode(&hello); err != nil {
		return s.away(err)
	}
	if hello.Writable != nil && !*hello.Writable {
		return &records.Error{Kind: records.Unavailable, What: s.name + " has no primary", Do: doPrimary}
	}
	return nil
}

// away is wrong for what has a short time: that it ran out is that the database does not answer.
func (s *Store) away(err error) error {
	out := s.wrong("asking", err)
	if records.KindOf(out) == records.Internal && !s.closed.Load() {
		return &records.Error{Kind: records.Unavailable, What: s.name + " does not answer", Do: doAway, Err: err}
	}
	return out
}

// Footprint is what the database says of itself. Not every server tells how much room its disk has.
func (s *Store) Footprint(ctx context.Context) (f records.Footprint, err error) {
	ctx, end, err := s.begin(ctx)
	if err != nil {
		return f, err
	}
	defer end()
	ctx, cancel := context.WithTimeout(ctx, askTime)
	defer cancel()
	var stats struct {
		Storage float64 `bson:"storageSize"`
		Indexes float64 `bson:"indexSize"`
		Used    float64 `bson:"fsUsedSize"`
		Total   float64 `bson:"fsTotalSize"`
	}
	if err := s.journal.Database().RunCommand(ctx, bson.D{{Key: "dbStats", Value: 1}}).Decode(&stats); err != nil {
		return f, s.away(err)
	}
	f = records.Footprint{Stored: int64(stats.Storage + stats.Indexes), Free: -1}
	if stats.Total > 0 && stats.Total >= stats.Used {
		f.Free = int64(stats.Total - stats.Used)
	}
	return f, nil
}
