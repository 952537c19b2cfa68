package mongo

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"go.mongodb.org/mongo-driver/bson"
	"go.mongodb.org/mongo-driver/event"
	driver "go.mongodb.org/mongo-driver/mongo"
	"go.mongodb.org/mongo-driver/mongo/options"
	"go.mongodb.org/mongo-driver/mongo/readconcern"
	"go.mongodb.org/mongo-driver/mongo/readpref"
	"go.mongodb.org/mongo-driver/mongo/writeconcern"
	"go.mongodb.org/mongo-driver/x/mongo/driver/topology"

	"grainward/records"
)

// Mode says what a store is opened for.
type Mode int

const (
	// Read never changes the database.
	Read Mode = iota
	// Write is for a journal that is there.
	Write
	// Create is Write, and makes the journal when the database holds none.
	Create
)

const (
	format = 1 // of the documents

	selectTime   = 5 * time.Second  // for a member that takes the request, unless the URI says otherwise
	askTime      = 10 * time.Second // for the answer to one exact request
	scanTime     = 2 * time.Minute  // for the next answer of a long reading
	patience     = 20 * time.Second // that a request is sent again and again while the database is away
	openPatience = 6 * time.Second  // the same while somebody waits for a store to open
	disconnects  = 2 * time.Second
)

// Store is one journal in one database. It is safe for use by many goroutines, and other processes may have the same
// database open for writing.
type Store struct {
	name   string // for messages: database and hosts, never who signs in
	mode   Mode
	client *driver.Client
	server Server

	patience time.Duration // that a request is sent again and again while the database is away
	most     int           // bytes of rows in one document

	about, journal, parts, files, chunks *driver.Collection

	tooOld  atomic.Bool // the driver said that it can not speak with the server
	closed  atomic.Bool
	stop    context.CancelFunc // ends what is under way when the store is closed
	stopped context.Context

	mu    sync.Mutex
	tail  records.Position // a border that the chain is known to reach
	since int              // batches appended since the note of the tail was renewed
	last  records.Position // the batch that ends there
}

var (
	_ records.Store = (*Store)(nil)
	_ records.Bulk  = (*Store)(nil)
)

// Server says what a store was opened on.
type Server struct {
	Product string // as far as it tells
	Version string
	Set     string // the replica set's name; empty for a server of one member
}

// String is one line for logs.
func (s Server) String() string {
	if s.Set == "" {
		return fmt.Sprintf("%s %s, one member", s.Product, s.Version)
	}
	return fmt.Sprintf("%s %s, replica set %s", s.Product, s.Version, s.Set)
}

// Open opens the journal in the database that the URI names, such as mongodb://db1,db2,db3/mill?replicaSet=grain.
//
// A database without a journal is kind NotFound in modes Read and Write. One that a newer program wrote is TooNew, and
// one that holds something else is Invalid; neither is touched. Wrong credentials are Denied; a server that does not
// answer, has no primary, or is too old for the driver, Unavailable.
func Open(ctx context.Context, uri string, mode Mode) (*Store, error) {
	s, err := open(ctx, uri, mode, openPatience)
	if err != nil {
		return nil, err
	}
	s.patience = patience
	return s, nil
}

func open(ctx context.Context, uri string, mode Mode, patience time.Duration) (s *Store, err error) {
	o, database, err := clientOptions(uri)
	if err != nil {
		return nil, err
	}
	s = &Store{name: fmt.Sprintf("the database %s at %s", database, strings.Join(o.Hosts, ",")), mode: mode, patience: patience, most: inDocument}
	s.stopped, s.stop = context.WithCancel(context.Background())
	o.SetServerMonitor(s.watchVersions())
	if s.client, err = driver.Connect(ctx, o); err != nil {
		s.stop()
		return nil, s.wrong("connecting to", err)
	}
	db := s.client.Database(database)
	s.about, s.journal, s.parts = db.Collection("about"), db.Collection("journal"), db.Collection("parts")
	s.files, s.chunks = db.Collection("fs.files"), db.Collection("fs.chunks")
	if err := s.identify(ctx, db); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

// watchVersions notes whether the driver can speak with the server, whose error for that has no type. The driver refuses
// from the moment on that it knows, which is before it tells of the topology; so a server that is too old is noted when
// the driver tells of that server, which is before.
func (s *Store) watchVersions() *event.ServerMonitor {
	return &event.ServerMonitor{
		ServerDescriptionChanged: func(e *event.ServerDescriptionChangedEvent) {
			if wire := e.NewDescription.WireVersion; wire != nil && wire.Max < topology.SupportedWireVersions.Min {
				s.tooOld.Store(true)
			}
		},
		TopologyDescriptionChanged: func(e *event.TopologyDescriptionChangedEvent) {
			s.tooOld.Store(e.NewDescription.CompatibilityErr != nil)
		},
	}
}

// clientOptions are the URI's, with what the contract needs put over it. No error carries the URI, which may hold a
// password.
func clientOptions(uri string) (*options.ClientOptions, string, error) {
	database, err := databaseOf(uri)
	if err != nil {
		return nil, "", err
	}
	durable := writeconcern.Majority()
	journaled := true
	durable.Journal = &journaled
	o := options.Client().SetServerSelectionTimeout(selectTime).SetConnectTimeout(selectTime).SetSocketTimeout(scanTime).SetAppName("grainward").ApplyURI(uri).
		SetWriteConcern(durable).SetReadConcern(readconcern.Majority()).SetReadPreference(readpref.Primary())
	if err := o.Validate(); err != nil {
		return nil, "", wrongURI("one that the driver understands")
	}
	if o.TLSConfig == nil { // TLS itself breaks off a connection with something repeated in it
		o.SetDialer(strictDialer{})
	}
	return o, database, nil
}

// identify finds out what the server and the database are.
func (s *Store) identify(ctx context.Context, db *driver.Database) error {
	if err := s.askServer(ctx, db); err != nil {
		return err
	}
	have, err := s.formatThere(ctx)
	switch {
	case err != nil:
		return err
	case have > format:
		return &records.Error{Kind: records.TooNew, What: fmt.Sprintf("%s was written by a newer Grainward (its format is %d, this program knows %d)", s.name, have, format), Do: "run the newer program"}
	case have > 0:
		return s.findTail(ctx)
	case s.mode != Create:
		return &records.Error{Kind: records.NotFound, What: "there is no journal in " + s.name, Do: "check the URI, or start a plant with grainward init"}
	}
	if _, there, err := s.batch(ctx, 0, nil); err != nil || there {
		if err == nil {
			err = &records.Error{Kind: records.Invalid, What: s.name + " holds something that is not a journal of this program", Do: "name a database of its own"}
		}
		return err
	}
	return s.create(ctx)
}

// askServer asks for its version, which also shows that a primary answers.
func (s *Store) askServer(ctx context.Context, db *driver.Database) error {
	var hello struct {
		Set string `bson:"setName"`
	}
	var build struct {
		Version  string `bson:"version"`
		FerretDB string `bson:"ferretdbVersion"`
	}
	err := s.again(ctx, func(ctx context.Context) error {
		if err := db.RunCommand(ctx, bson.D{{Key: "hello", Value: 1}}).Decode(&hello); err != nil {
			return err
		}
		return db.RunCommand(ctx, bson.D{{Key: "buildInfo", Value: 1}}).Decode(&build)
	})
	if err != nil {
		return s.wrong("opening", err)
	}
	s.server = Server{Product: "MongoDB", Version: build.Version, Set: hello.Set}
	if build.FerretDB != "" {
		s.server.Product = "FerretDB speaking for MongoDB" // its own version is "unknown" when it is embedded
	}
	return nil
}

// Server says what the store was opened on.
func (s *Store) Server() Server { return s.server }

func (s *Store) formatThere(ctx context.Context) (int, error) {
	var doc struct {
		Format int `bson:"format"`
	}
	err := s.again(ctx, func(ctx context.Context) error { return s.about.FindOne(ctx, byID("journal")).Decode(&doc) })
	if errors.Is(err, driver.ErrNoDocuments) {
		return 0, nil
	}
	return doc.Format, s.wrong("reading what is in", err)
}

// create makes the collections and, last, the mark that the database is a journal.
func (s *Store) create(ctx context.Context) error {
	err := s.again(ctx, func(ctx context.Context) error {
		// What GridFS tools expect to find; we ourselves look up by _id only.
		if _, err := s.files.Indexes().CreateOne(ctx, driver.IndexModel{Keys: bson.D{{Key: "filename", Value: 1}, {Key: "uploadDate", Value: 1}}}); err != nil {
			return err
		}
		_, err := s.chunks.Indexes().CreateOne(ctx, driver.IndexModel{Keys: bson.D{{Key: "files_id", Value: 1}, {Key: "n", Value: 1}}, Options: options.Index().SetUnique(true)})
		if err != nil {
			return err
		}
		_, err = s.about.InsertOne(ctx, bson.D{{Key: "_id", Value: "journal"}, {Key: "format", Value: format}})
		if driver.IsDuplicateKeyError(err) { // another process was quicker, or our own first try got through
			return nil
		}
		return err
	})
	return s.wrongWriting("making a journal in", err)
}

// Close ends what is under way and lets go of the connections. Closing twice is allowed.
func (s *Store) Close() error {
	if s.closed.Load() {
		return nil
	}
	s.mu.Lock()
	noteTail := s.mode != Read && s.since > 0
	s.mu.Unlock()
	if noteTail {
		s.noteTail(s.stopped)
	}
	if s.closed.Swap(true) {
		return nil
	}
	s.stop()
	ctx, cancel := context.WithTimeout(context.Background(), disconnects)
	defer cancel()
	if err := s.client.Disconnect(ctx); err != nil && !errors.Is(err, driver.ErrClientDisconnected) && !errors.Is(err, context.DeadlineExceeded) {
		return s.wrong("letting go of", err)
	}
	return nil
}

func byID(id any) bson.D { return bson.D{{Key: "_id", Value: id}} }
