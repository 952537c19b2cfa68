package main

import (
	"cmp"
	"context"
	"errors"
	"io"

	"grainward/audit"
	"grainward/exports/binder"
	"grainward/records/book"
	"grainward/records/calendar"
	"grainward/records/sqlite"
	"grainward/server"
	"grainward/server/auth"
)

type serveCommand struct {
	somePlantFlag
	Company string `type:"path" placeholder:"FILE" help:"Serve every plant of a company file (grainward company init FILE), each under its own host, and the company's page."`
	listenFlags
}

// Help is the long help of the command.
func (*serveCommand) Help() string {
	return `With --company, one process serves several plants: requests go to each by the host they ask for, and nothing is shared between them. Without TLS, which is on this machine alone, hosts end in .localhost.

With --mongo, several servers may serve one plant at once, each with a copy of its directory (its keys and plan.yaml): what one takes, the others show within a second.

A lead needs a password first (grainward pin CODE --dir DIR); the others get PINs and devices from the lead in the browser. An interrupt (Ctrl-C) or SIGTERM takes nothing new, lets what is under way finish for up to 10 seconds, and closes the journal; a second one ends the program at once. What was acknowledged is stored in either case.

For phones, answer the plant's network: --listen 0.0.0.0:8443. The plant then gets a certificate authority of its own (authority.key and authority.crt in its directory), which every phone installs once; the page "Network" shows how.`
}

func (c *serveCommand) Run(ctx context.Context, w *world) error {
	if err := c.check(); err != nil {
		return err
	}
	if c.Company != "" {
		f, err := readCompany(c.Company)
		if err != nil {
			return err
		}
		return serveCompany(ctx, w, f, &c.listenFlags, func(url string) {
			w.say("Serving %s, %s, at %s. Press Ctrl-C to stop.", f.Name, plural(len(f.Plants), "plant"), url)
		})
	}
	p, err := c.plant()
	if err != nil {
		return err
	}
	return serve(ctx, w, p, &c.listenFlags, func(url string) {
		w.say("Serving %s at %s. Press Ctrl-C to stop.", c.Dir, url)
	})
}

// serve answers browsers for one plant until ctx ends.
func serve(ctx context.Context, w *world, p *plantFlag, f *listenFlags, ready func(url string)) (err error) {
	f.of(w, p.Dir.name()) // known to whoever watches before it is open
	unwatch, err := f.watchFlags.open(ctx, w)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, unwatch()) }()
	o, err := openServed(ctx, w, p, f, p.Dir.name(), server.Config{})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, o.close()) }()
	defer f.logger.Info("stopped")
	return o.server.Run(ctx, f.Listen, func(url string) {
		f.logger.Info("serving", "version", programVersion(), "entries", o.book.View().Head.Size)
		ready(url)
		tellNetwork(w, o.server)
	})
}

// served is a plant that is open to be served.
type served struct {
	server *server.Server
	book   *book.Book
	people *auth.Store
}

func (o *served) close() error { return errors.Join(o.people.Close(), o.book.Close()) }

// openServed opens a plant, which whoever watches knows by a name. c says beforehand what is not the plant's own: its host, its network where that is open already,
// and a log where it is to have another than the one of the flags.
func openServed(ctx context.Context, w *world, p *plantFlag, f *listenFlags, name string, c server.Config) (o *served, err error) {
	key, err := p.Dir.verifier()
	if err != nil {
		return nil, err
	}
	log, watched := f.of(w, name)
	c.Log, c.Watch = cmp.Or(c.Log, log), watched
	b, err := p.openBookTelling(ctx, w, sqlite.Write, tellAppended(c.Watch))
	if err != nil {
		return nil, err
	}
	people, err := p.openPeople(ctx, w)
	if err != nil {
		return nil, errors.Join(err, b.Close())
	}
	o = &served{book: b, people: people}
	c.Book, c.Auth, c.Now, c.Version, c.Key = b, people, w.instant, programVersion(), key
	c.MakeBinder, c.FirstPIN = binderMaker(w, b, key), "grainward pin CODE --dir "+string(p.Dir)
	if c.Network == nil {
		if err := f.configure(&c, w, p.Dir, b); err != nil {
			return nil, errors.Join(err, o.close())
		}
	}
	o.server = server.New(c)
	c.Watch.Show(o.server.Looks(p.Dir.newestBackup))
	return o, nil
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
