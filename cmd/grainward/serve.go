package main

import (
	"context"
	"errors"
	"io"

	"grainward/audit"
	"grainward/exports/binder"
	"grainward/records/book"
	"grainward/records/calendar"
	"grainward/records/sqlite"
	"grainward/server"
)

type serveCommand struct {
	plantFlag
	listenFlags
}

// Help is the long help of the command.
func (*serveCommand) Help() string {
	return `With --mongo, several servers may serve one plant at once, each with a copy of its directory (its keys and plan.yaml): what one takes, the others show within a second.

A lead needs a password first (grainward pin CODE --dir DIR); the others get PINs and devices from the lead in the browser. An interrupt (Ctrl-C) lets what is under way finish and closes the journal.

For phones, answer the plant's network: --listen 0.0.0.0:8443. The plant then gets a certificate authority of its own (authority.key and authority.crt in its directory), which every phone installs once; the page "Network" shows how.`
}

func (c *serveCommand) Run(ctx context.Context, w *world) error {
	if err := c.check(); err != nil {
		return err
	}
	return serve(ctx, w, &c.plantFlag, &c.listenFlags, func(url string) {
		w.say("Serving %s at %s. Press Ctrl-C to stop.", c.Dir, url)
	})
}

// serve answers browsers until ctx ends.
func serve(ctx context.Context, w *world, p *plantFlag, f *listenFlags, ready func(url string)) (err error) {
	d := p.Dir
	key, err := d.verifier()
	if err != nil {
		return err
	}
	b, err := p.openBook(ctx, w, sqlite.Write)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	people, err := p.openPeople(ctx, w)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, people.Close()) }()
	c := server.Config{Book: b, Auth: people, Now: w.instant, Version: programVersion(),
		Key: key, MakeBinder: binderMaker(w, b, key), FirstPIN: "grainward pin CODE --dir " + string(d)}
	if err := f.configure(&c, w, d, b); err != nil {
		return err
	}
	s := server.New(c)
	return s.Run(ctx, f.Listen, func(url string) {
		ready(url)
		tellNetwork(w, s)
	})
}

// binderMaker makes binders of the journal as it is when asked.
func binderMaker(w *world, b *book.Book, key string) server.BinderMaker {
	return func(ctx context.Context, out io.Writer, from, to calendar.Date, madeBy string, progress func(done, all int)) error {
		view := b.View()
		in, err := binderInput(audit.At(view.State, w.instant()), view.Head, key, madeBy, b.Leaf)
		if err != nil {
			return err
		}
		in.From, in.To = from, to
		return binder.Write(ctx, out, in, progress)
	}
}
