package mongo

import (
	"errors"
	"net"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"go.mongodb.org/mongo-driver/bson"
	"go.mongodb.org/mongo-driver/event"
	"go.mongodb.org/mongo-driver/mongo/description"
	"go.mongodb.org/mongo-driver/mongo/options"

	"grainward/records"
	"grainward/records/mongo/mongotest"
)

func failure(code int, name string) bson.D {
	return bson.D{{Key: "ok", Value: 0}, {Key: "code", Value: code}, {Key: "codeName", Value: name}, {Key: "errmsg", Value: "as a server would say it"}}
}

func on(commands string, answer bson.D) func(string, bson.Raw) (bson.D, bool) {
	return func(command string, _ bson.Raw) (bson.D, bool) {
		for _, c := range strings.Fields(commands) {
			if c == command {
				return answer, false
			}
		}
		return nil, true
	}
}

const hellos = "hello isMaster ismaster"

// What opening says of a server that can not be used. The codes are the MongoDB server's own (error_codes.yml).
func TestOpeningRefused(t *testing.T) {
	uri := mongotest.Database(t)
	mustOpen(t, uri, Create)
	cases := map[string]struct {
		say     func(string, bson.Raw) (bson.D, bool)
		user    string
		options string
		kind    records.ErrorKind
		says    string
	}{
		"bad credentials": {say: on("saslStart", failure(18, "AuthenticationFailed")), user: "ana:s3cret-word@", options: "&authMechanism=SCRAM-SHA-256", kind: records.Denied, says: "password"},
		"may not read":    {say: on("find", failure(13, "Unauthorized")), kind: records.Denied, says: "role"},
		"too old": {say: on(hellos, bson.D{{Key: "ok", Value: 1}, {Key: "ismaster", Value: true}, {Key: "maxWireVersion", Value: 3}, {Key: "minWireVersion", Value: 0}}),
			kind: records.Unavailable, says: "newer server"},
		"no primary": {say: on("buildInfo", failure(10107, "NotWritablePrimary")), kind: records.Unavailable, says: "primary"},
		"shut down":  {say: on("buildInfo", failure(91, "ShutdownInProgress")), kind: records.Unavailable, says: "primary"},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			liar := mongotest.NewLiar(t, hostOf(t, uri), c.say)
			through := mongotest.Through(t, uri, liar.Address())
			through = strings.Replace(through, "mongodb://", "mongodb://"+c.user, 1) + c.options + "&serverSelectionTimeoutMS=300"
			begun := time.Now()
			_, err := open(t.Context(), through, Write, 500*time.Millisecond)
			wantError(t, err, c.kind, c.says)
			if strings.Contains(err.Error(), "s3cret-word") {
				t.Errorf("it tells the password: %v", err)
			}
			t.Logf("after %v: %v", time.Since(begun).Round(time.Millisecond), err)
		})
	}
}

// The driver may refuse a server that is too old before it tells that the topology changed; what it says then must be
// understood all the same.
func TestTooOldAtOnce(t *testing.T) {
	s := &Store{name: "the database mill"}
	watch := s.watchVersions()
	refusal := errors.New("as the driver would say it")
	wire := func(most int32) *event.ServerDescriptionChangedEvent {
		return &event.ServerDescriptionChangedEvent{NewDescription: description.Server{WireVersion: &description.VersionRange{Max: most}}}
	}
	watch.ServerDescriptionChanged(&event.ServerDescriptionChangedEvent{}) // nothing is known of it yet
	watch.ServerDescriptionChanged(wire(6))                                // MongoDB 3.6, the oldest the driver takes
	wantError(t, s.wrong("opening", refusal), records.Internal, "did not work")
	watch.ServerDescriptionChanged(wire(5))
	wantError(t, s.wrong("opening", refusal), records.Unavailable, "newer server")
	watch.TopologyDescriptionChanged(&event.TopologyDescriptionChangedEvent{NewDescription: description.Topology{CompatibilityErr: refusal}})
	wantError(t, s.wrong("opening", refusal), records.Unavailable, "newer server")
	watch.TopologyDescriptionChanged(&event.TopologyDescriptionChangedEvent{}) // the server was renewed
	wantError(t, s.wrong("opening", refusal), records.Internal, "did not work")
}

// A replica set whose members answer and have no primary.
func TestNoPrimary(t *testing.T) {
	uri := mongotest.Database(t)
	var address atomic.Pointer[string]
	liar := mongotest.NewLiar(t, hostOf(t, uri), func(command string, _ bson.Raw) (bson.D, bool) {
		if !strings.Contains(hellos, command) {
			return nil, true
		}
		return bson.D{{Key: "ok", Value: 1}, {Key: "ismaster", Value: false}, {Key: "secondary", Value: true}, {Key: "setName", Value: "grain"}, {Key: "setVersion", Value: 1},
			{Key: "hosts", Value: bson.A{*address.Load()}}, {Key: "me", Value: *address.Load()}, {Key: "maxWireVersion", Value: 21}, {Key: "minWireVersion", Value: 0}}, false
	})
	at := liar.Address()
	address.Store(&at)
	_, err := open(t.Context(), "mongodb://"+at+"/mill?replicaSet=grain&serverSelectionTimeoutMS=300", Write, 500*time.Millisecond)
	wantError(t, err, records.Unavailable, "chosen a primary")
}

func TestNobodyThere(t *testing.T) {
	ln := must(net.Listen("tcp", "127.0.0.1:0"))
	at := ln.Addr().String()
	if err := ln.Close(); err != nil {
		t.Fatal(err)
	}
	_, err := open(t.Context(), "mongodb://ana:s3cret-word@"+at+"/mill?serverSelectionTimeoutMS=300", Write, 500*time.Millisecond)
	wantError(t, err, records.Unavailable, "runs")
	if strings.Contains(err.Error(), "s3cret-word") {
		t.Errorf("it tells the password: %v", err)
	}
}

// What appending says and does when the server refuses, or says something else than it did.
func TestAppendingRefused(t *testing.T) {
	writeError := func(code int) bson.D {
		return bson.D{{Key: "ok", Value: 1}, {Key: "n", Value: 0}, {Key: "writeErrors", Value: bson.A{bson.D{{Key: "index", Value: 0}, {Key: "code", Value: code}, {Key: "errmsg", Value: "as a server would say it"}}}}}
	}
	late := bson.D{{Key: "ok", Value: 1}, {Key: "n", Value: 1}, {Key: "writeConcernError", Value: bson.D{{Key: "code", Value: 64}, {Key: "codeName", Value: "WriteConcernFailed"}, {Key: "errmsg", Value: "waiting for replication timed out"}}}}
	ok := records.ErrorKind(-1)
	cases := map[string]struct {
		answers []bson.D // to the first insertions
		always  bson.D   // to all of them
		pass    bool     // the server sees them all the same
		kind    records.ErrorKind
		written int
	}{
		"read-only user":                   {always: failure(13, "Unauthorized"), kind: records.ReadOnly},
		"disk full":                        {always: writeError(14031), kind: records.Full},
		"stepped down, then back":          {answers: []bson.D{failure(10107, "NotWritablePrimary"), failure(189, "PrimarySteppedDown"), failure(11602, "InterruptedDueToReplStateChange")}, kind: ok, written: 1},
		"stepped down for good":            {always: failure(10107, "NotWritablePrimary"), kind: records.Unavailable},
		"written, and said to be late":     {answers: []bson.D{late}, pass: true, kind: ok, written: 1},
		"written, and said to be refused":  {answers: []bson.D{failure(91, "ShutdownInProgress"), failure(91, "ShutdownInProgress")}, pass: true, kind: ok, written: 1},
		"said to be late, and not written": {answers: []bson.D{late}, kind: ok, written: 1},
		"a majority never has it":          {always: late, kind: records.Unavailable},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			uri := mongotest.Database(t)
			mustOpen(t, uri, Create)
			t.Parallel() // only now: FerretDB takes seconds to make several databases at once
			var n atomic.Int64
			liar := mongotest.NewLiar(t, hostOf(t, uri), func(command string, body bson.Raw) (bson.D, bool) {
				if command != "insert" || body.Lookup("insert").StringValue() != "journal" {
					return nil, true
				}
				if c.always != nil {
					return c.always, c.pass
				}
				if i := int(n.Add(1)) - 1; i < len(c.answers) {
					return c.answers[i], c.pass
				}
				return nil, true
			})
			s, err := open(t.Context(), mongotest.Through(t, uri, liar.Address()), Write, time.Minute)
			if err != nil {
				t.Fatal(err)
			}
			defer s.Close()
			if c.kind != ok { // else it is asked until it is told, however busy the machine
				s.patience = 3 * time.Second
			}
			row := must(records.Format(deviation()))
			err = s.Append(t.Context(), records.Batch{Rows: []records.Row{row}})
			if c.kind == ok && err != nil {
				t.Fatal(err)
			}
			if c.kind != ok {
				wantError(t, err, c.kind, "")
			}
			fresh := mustOpen(t, uri, Read)
			if head := must(fresh.Head(t.Context())); int(head) != c.written {
				t.Errorf("%d entries, want %d", head, c.written)
			}
		})
	}
}

func TestDatabaseRefused(t *testing.T) {
	uri := mongotest.Database(t)
	_, err := Open(t.Context(), uri, Write)
	wantError(t, err, records.NotFound, "grainward init")
	_, err = Open(t.Context(), uri, Read)
	wantError(t, err, records.NotFound, "grainward init")
	s := mustOpen(t, uri, Create)
	set := func(doc bson.D) {
		t.Helper()
		if _, err := s.about.ReplaceOne(t.Context(), byID("journal"), doc, options.Replace().SetUpsert(true)); err != nil {
			t.Fatal(err)
		}
	}
	set(bson.D{{Key: "_id", Value: "journal"}, {Key: "format", Value: format + 1}})
	for _, mode := range []Mode{Read, Write, Create} {
		_, err = Open(t.Context(), uri, mode)
		wantError(t, err, records.TooNew, "newer program")
	}
	if _, err := s.about.DeleteOne(t.Context(), byID("journal")); err != nil {
		t.Fatal(err)
	}
	if _, err := s.journal.InsertOne(t.Context(), bson.D{{Key: "_id", Value: idOf(0)}, {Key: "mine", Value: true}}); err != nil {
		t.Fatal(err)
	}
	_, err = Open(t.Context(), uri, Create)
	wantError(t, err, records.Invalid, "database of its own")
}

func TestWrongURIs(t *testing.T) {
	for _, uri := range []string{"", "mill", "http://h/mill", "mongodb://h", "mongodb://h/", "mongodb://u:s3cret-word@h/a.b", "mongodb://u:s3cret-word@h/mill?w=purple&tls=maybe",
		"mongodb://u:s3cret-word:@/@h/mill"} {
		_, err := Open(t.Context(), uri, Read)
		if records.KindOf(err) != records.Invalid || strings.Contains(err.Error(), "s3cret-word") {
			t.Errorf("%s: %v", uri, err)
		}
	}
}

func wantError(t *testing.T, err error, kind records.ErrorKind, says string) {
	t.Helper()
	if err == nil {
		t.Fatalf("no error, want kind %d", kind)
	}
	if got := records.KindOf(err); got != kind || !strings.Contains(err.Error(), says) {
		t.Fatalf("kind %d, want %d with %q: %v", got, kind, says, err)
	}
}
