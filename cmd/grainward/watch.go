package main

import (
	"context"
	"log/slog"
	"net"
	"path/filepath"
	"strconv"
	"time"

	"grainward/records"
	"grainward/server"
	"grainward/server/watch"
)

// watchFlags say how whoever keeps the machine running sees what the server does.
type watchFlags struct {
	Watch    string `placeholder:"[HOST:]PORT" help:"Where to answer /metrics (for Prometheus) and /healthz of all plants, unencrypted; a port alone is answered on this machine only. Not at all when left out."`
	Log      string `default:"text" enum:"text,json,off" help:"How to log to standard error: text, json or off. No names, codes, secrets or addresses are logged."`
	LogLevel string `default:"warn" enum:"debug,info,warn,error" help:"What to log: at info, a line a request; at warn, refused secrets and what needs somebody."`

	board  *watch.Board
	logger *slog.Logger
}

// check finds what can not be, before a journal is read.
func (f *watchFlags) check() error {
	if f.Watch == "" {
		return nil
	}
	_, err := f.address()
	return err
}

// address is where to answer: on this machine, unless a host is given.
func (f *watchFlags) address() (string, error) {
	if n, err := strconv.ParseUint(f.Watch, 10, 16); err == nil {
		return net.JoinHostPort("127.0.0.1", strconv.FormatUint(n, 10)), nil
	}
	_, port, err := net.SplitHostPort(f.Watch)
	if _, bad := strconv.ParseUint(port, 10, 16); err != nil || bad != nil {
		return "", wrongFlag("--watch", f.Watch, "a port, such as 9464, or an address, such as 192.0.2.7:9464")
	}
	return f.Watch, nil
}

// of gives the log of a plant, and what counts it.
func (f *watchFlags) of(w *world, plant string) (*slog.Logger, *watch.Plant) {
	if f.logger == nil {
		f.logger = newLogger(w, f.Log, f.LogLevel)
	}
	if f.Watch != "" && f.board == nil {
		f.board = watch.NewBoard(programVersion())
	}
	log := f.logger.With("plant", plant)
	if f.board == nil {
		return log, nil
	}
	return log, f.board.Plant(plant)
}

func newLogger(w *world, form, level string) *slog.Logger {
	var o slog.HandlerOptions
	var l slog.Level
	if err := l.UnmarshalText([]byte(level)); err != nil {
		l = slog.LevelWarn // kong has let nothing else through; a caller that left it out means this
	}
	o.Level = l
	switch form {
	case "json":
		return slog.New(slog.NewJSONHandler(w.err, &o))
	case "off":
		return slog.New(slog.DiscardHandler)
	}
	return slog.New(slog.NewTextHandler(w.err, &o))
}

// open opens the door for whoever watches, when one was asked for; done closes it.
func (f *watchFlags) open(ctx context.Context, w *world) (done func() error, err error) {
	if f.Watch == "" {
		return func() error { return nil }, nil
	}
	at, err := f.address()
	if err != nil {
		return nil, err
	}
	if f.board == nil {
		f.board = watch.NewBoard(programVersion())
	}
	ln, err := net.Listen("tcp", at)
	if err != nil {
		return nil, &records.Error{Kind: records.Busy, What: "nothing can be watched at " + at, Do: "Choose another port for --watch, or end the program that has it.", Err: err}
	}
	at = ln.Addr().String()
	w.say("Metrics and health at http://%s/metrics and /healthz.", at)
	if server.CheckListen(at) != nil {
		w.say("Other machines can read them there: they name plants and routes, and no people.")
	}
	ctx, stop := context.WithCancel(ctx)
	ended := make(chan error, 1)
	go func() { ended <- f.board.Serve(ctx, ln) }()
	return func() error { stop(); return <-ended }, nil
}

// tellAppended counts what the book hands to its store.
func tellAppended(to *watch.Plant) func(int, time.Duration, error) {
	return func(entries int, took time.Duration, err error) {
		kind := ""
		if err != nil {
			kind = server.CodeOf(err)
		}
		to.Appended(entries, took, kind)
	}
}

// name is how an operator calls a plant: by its directory.
func (d plantDir) name() string {
	full, err := filepath.Abs(string(d))
	if err != nil {
		return string(d)
	}
	return filepath.Base(full)
}
