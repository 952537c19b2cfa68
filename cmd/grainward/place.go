package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"grainward/records"
	"grainward/records/book"
	"grainward/records/mongo"
	"grainward/records/sqlite"
	"grainward/server/auth"
)

// mongoURI is --mongo: a URI, or @FILE, whose first line is one. A URI may hold a password, so it is never printed, and a file
// or the environment is a better place for it than the command line.
type mongoURI string

// UnmarshalText reads the flag.
func (u *mongoURI) UnmarshalText(text []byte) error {
	uri := string(text)
	if path, ok := strings.CutPrefix(uri, "@"); ok {
		file, err := os.ReadFile(path)
		if err != nil {
			return fileError("reading the MongoDB URI", path, err)
		}
		uri, _, _ = strings.Cut(string(file), "\n")
	}
	*u = mongoURI(strings.TrimSpace(uri))
	if *u == "" {
		return nil
	}
	return mongo.CheckURI(string(*u))
}

// openStore opens the plant's journal, wherever it is.
func (p *plantFlag) openStore(ctx context.Context, mode sqlite.Mode) (records.Store, error) {
	if p.Mongo == "" {
		return p.Dir.openStore(ctx, mode)
	}
	if err := p.Dir.check(); err != nil {
		return nil, err
	}
	if mode == sqlite.Write {
		return mongo.Open(ctx, string(p.Mongo), mongo.Write)
	}
	return mongo.Open(ctx, string(p.Mongo), mongo.Read)
}

// openBook replays the journal, for writing or only for reading.
func (p *plantFlag) openBook(ctx context.Context, w *world, mode sqlite.Mode) (*book.Book, error) {
	return p.openBookTelling(ctx, w, mode, nil)
}

// openBookTelling is openBook, with somebody who is told of every batch.
func (p *plantFlag) openBookTelling(ctx context.Context, w *world, mode sqlite.Mode, told func(int, time.Duration, error)) (*book.Book, error) {
	o := book.Options{Appended: told, Now: w.instant, Progress: w.bar("reading the journal"), Shared: p.Mongo != ""}
	var err error
	if mode == sqlite.Write {
		if o.Signer, err = p.Dir.signer(); err != nil {
			return nil, err
		}
		if o.Origin, err = originOf(o.Signer, true); err != nil {
			return nil, err
		}
	}
	store, err := p.openStore(ctx, mode)
	if err != nil {
		return nil, err
	}
	if err = p.checkOwner(ctx, store); err == nil {
		var b *book.Book
		if b, err = book.Open(ctx, store, o); err == nil {
			return b, nil
		}
	}
	return nil, errors.Join(err, store.Close())
}

// checkOwner sees that a shared database holds this plant's journal: a mistyped database name must not mix two plants.
func (p *plantFlag) checkOwner(ctx context.Context, store records.Store) error {
	shared, ok := store.(*mongo.Store)
	if !ok {
		return nil
	}
	signed, err := shared.NewestCheckpoint(ctx)
	if err != nil || signed == nil {
		return err
	}
	key, err := p.Dir.verifier()
	if err != nil {
		return err
	}
	ours, err := originOf(key, false)
	if err != nil {
		return err
	}
	if theirs, _, _ := strings.Cut(string(signed), "\n"); theirs != ours {
		return &records.Error{Kind: records.Conflict, What: fmt.Sprintf("the journal in the database is %q, and the keys in %s are of %q", theirs, p.Dir, ours), Do: "Check --mongo and --dir; nothing was written."}
	}
	return nil
}

// openPeople opens the PINs and sign-ins: beside the journal, in the directory or in the database.
func (p *plantFlag) openPeople(ctx context.Context, w *world) (*auth.Store, error) {
	o := auth.Options{Now: w.instant, Remember: auth.Briefly}
	if p.Mongo == "" {
		return auth.Open(p.Dir.people(), o)
	}
	kept, err := mongo.OpenKept(ctx, string(p.Mongo))
	if err != nil {
		return nil, err
	}
	store, err := auth.New(kept, o)
	if err != nil {
		return nil, errors.Join(err, kept.Close())
	}
	return store, nil
}

// journalName is where the journal is, for people.
func (p *plantFlag) journalName() string {
	if p.Mongo == "" {
		return p.Dir.journal()
	}
	return "the journal in MongoDB"
}
