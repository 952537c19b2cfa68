package mongo

import (
	"context"
	"errors"
	"fmt"
	"time"

	driver "go.mongodb.org/mongo-driver/mongo"
	wire "go.mongodb.org/mongo-driver/x/mongo/driver"
	"go.mongodb.org/mongo-driver/x/mongo/driver/auth"
	"go.mongodb.org/mongo-driver/x/mongo/driver/topology"

	"grainward/records"
)

// begin is how every call starts: not after Close, and ended by it.
func (s *Store) begin(ctx context.Context) (context.Context, context.CancelFunc, error) {
	if s.closed.Load() {
		return ctx, func() {}, s.errClosed()
	}
	ctx, cancel := context.WithCancel(ctx)
	release := context.AfterFunc(s.stopped, cancel)
	return ctx, func() { release(); cancel() }, nil
}

const (
	firstWait   = 2 * time.Millisecond
	longestWait = 500 * time.Millisecond
)

// within asks once, for at most askTime.
func within(ctx context.Context, ask func(context.Context) error) error {
	ctx, cancel := context.WithTimeout(ctx, askTime)
	defer cancel()
	return ask(ctx)
}

// again asks until there is an answer, for at most patience. Only for what may be asked twice.
func (s *Store) again(ctx context.Context, ask func(context.Context) error) error {
	ctx, cancel := context.WithTimeout(ctx, s.patience)
	defer cancel()
	var telling error // the newest error that says more than that nothing came
	for wait := firstWait; ; wait = min(2*wait, longestWait) {
		err := within(ctx, ask)
		if err == nil || !passing(err) {
			return err
		}
		if _, ok := codeOf(err); ok || telling == nil {
			telling = err
		}
		select {
		case <-ctx.Done():
			return telling
		case <-time.After(wait):
		}
	}
}

const unauthorized = 13

// Codes of https://github.com/mongodb/mongo/blob/master/src/mongo/base/error_codes.yml.
var codes = map[int]struct {
	kind records.ErrorKind
	do   string
}{
	18:           {records.Denied, doSignIn},
	8000:         {records.Denied, doSignIn},
	unauthorized: {records.Denied, doRights},
	6:            {records.Unavailable, doAway},
	7:            {records.Unavailable, doAway},
	50:           {records.Unavailable, doAway},
	64:           {records.Unavailable, doMajority},
	89:           {records.Unavailable, doAway},
	91:           {records.Unavailable, doPrimary},
	100:          {records.Unavailable, doMajority},
	189:          {records.Unavailable, doPrimary},
	262:          {records.Unavailable, doAway},
	9001:         {records.Unavailable, doAway},
	10058:        {records.Unavailable, doPrimary},
	10107:        {records.Unavailable, doPrimary},
	11600:        {records.Unavailable, doPrimary},
	11602:        {records.Unavailable, doPrimary},
	13435:        {records.Unavailable, doPrimary},
	13436:        {records.Unavailable, doPrimary},
	10334:        {records.Invalid, ""},
	14031:        {records.Full, doFull},
}

const (
	doSignIn   = "check the name, the password and authSource in the URI"
	doRights   = "give the database user the role readWrite on this database (read, for reading only)"
	doAway     = "check that the database runs and that this machine reaches it; then do it again"
	doPrimary  = "wait until the members have chosen a primary, or start those that are down"
	doMajority = "start the members that are down: a majority of them must hold what is written"
	doFull     = "free some space on the database's disk and do it again"
	doVersion  = "run a newer server: the driver takes MongoDB 3.6 or later; one that is still maintained is better"
	doCorrupt  = "stop writing, run grainward verify, and restore the newest backup that verifies"
)

// wrong turns an error of the driver into one of ours: what was being done, where, and what to do about it. The kind
// comes from codes and types, never from a message.
func (s *Store) wrong(doing string, err error) error {
	if err == nil {
		return nil
	}
	var own *records.Error
	if errors.As(err, &own) {
		return err
	}
	if s.closed.Load() {
		return s.errClosed()
	}
	kind, do := s.kindOf(err)
	if kind == records.Internal && (errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded)) {
		return fmt.Errorf("%s %s: %w", doing, s.name, err)
	}
	return &records.Error{Kind: kind, What: fmt.Sprintf("%s %s did not work", doing, s.name), Do: do, Err: err}
}

// wrongWriting is wrong for what changes the database: a user who may not is one who may only read.
func (s *Store) wrongWriting(doing string, err error) error {
	out := s.wrong(doing, err)
	var own *records.Error
	if code, ok := codeOf(err); ok && code == unauthorized && errors.As(out, &own) {
		own.Kind = records.ReadOnly
	}
	return out
}

func (s *Store) kindOf(err error) (records.ErrorKind, string) {
	var denied *auth.Error
	if errors.As(err, &denied) {
		return records.Denied, doSignIn
	}
	var selecting topology.ServerSelectionError
	if errors.As(err, &selecting) {
		return selectionKind(selecting)
	}
	if code, ok := codeOf(err); ok {
		return codes[code].kind, codes[code].do
	}
	if s.tooOld.Load() {
		return records.Unavailable, doVersion
	}
	if driver.IsNetworkError(err) || driver.IsTimeout(err) {
		return records.Unavailable, doAway
	}
	return records.Internal, ""
}

// selectionKind says why no member could take a request.
func selectionKind(err topology.ServerSelectionError) (records.ErrorKind, string) {
	answers := false
	for _, member := range err.Desc.Servers {
		var denied *auth.Error
		if errors.As(member.LastError, &denied) {
			return records.Denied, doSignIn
		}
		if code, ok := codeOf(member.LastError); ok {
			return codes[code].kind, codes[code].do
		}
		answers = answers || member.WireVersion != nil
	}
	if answers {
		return records.Unavailable, doPrimary
	}
	return records.Unavailable, doAway
}

// codeOf finds the first of the codes we know.
func codeOf(err error) (int, bool) {
	var raw wire.Error // as the driver keeps it of a member
	if errors.As(err, &raw) {
		_, known := codes[int(raw.Code)]
		return int(raw.Code), known
	}
	var server driver.ServerError
	if !errors.As(err, &server) {
		return 0, false
	}
	for code := range codes {
		if server.HasErrorCode(code) {
			return code, true
		}
	}
	return 0, false
}

// passing says that an error may be gone when the same is asked again: the database is away, or choosing a primary.
func passing(err error) bool {
	var own *records.Error
	var selecting topology.ServerSelectionError
	switch {
	case errors.As(err, &own), errors.Is(err, driver.ErrClientDisconnected), errors.Is(err, context.Canceled):
		return false
	case errors.As(err, &selecting):
		kind, _ := selectionKind(selecting)
		return kind == records.Unavailable
	}
	if code, ok := codeOf(err); ok {
		return codes[code].kind == records.Unavailable
	}
	var denied *auth.Error
	return !errors.As(err, &denied) && (driver.IsNetworkError(err) || driver.IsTimeout(err))
}

func (s *Store) errClosed() error {
	return &records.Error{Kind: records.Internal, What: s.name + " was closed", Do: "open it again"}
}

func (s *Store) errReadOnly() error {
	return &records.Error{Kind: records.ReadOnly, What: s.name + " was opened for reading only", Do: "open it for writing"}
}

func (s *Store) missing(at records.Position) error {
	return &records.Error{Kind: records.Corrupt, What: fmt.Sprintf("the entry at position %d is missing from %s", at, s.name), Do: doCorrupt}
}

func (s *Store) corrupt(at records.Position) error {
	return &records.Error{Kind: records.Corrupt, What: fmt.Sprintf("the batch at position %d in %s is damaged", at, s.name), Do: doCorrupt}
}
