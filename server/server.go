package server

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"sync"
	"time"

	"github.com/gofiber/fiber/v2"

	"grainward/records"
	"grainward/records/book"
	"grainward/records/calendar"
	"grainward/server/auth"
)

// BinderMaker writes the binder of a period, both days included. progress may be called now and then.
type BinderMaker func(ctx context.Context, w io.Writer, from, to calendar.Date, madeBy string, progress func(done, all int)) error

// Config is what a server needs.
type Config struct {
	Book       *book.Book
	Auth       *auth.Store
	Now        func() records.Instant
	Version    string
	MakeBinder BinderMaker  // nil: no binders are made here
	Log        *slog.Logger // never given PINs, names or anything people typed; nil: nothing is logged
	FirstPIN   string       // the command that sets a first PIN, shown while nobody has one
	TLS        bool         // it is reached by TLS: cookies are marked Secure
	TempDir    string       // where binders wait to be downloaded; the system's when empty
}

// Server is the application. Make it with New and run it with Run or Serve, once.
type Server struct {
	Config
	app       *fiber.App
	cross     *http.CrossOriginProtection
	judge     judge
	binders   *binders
	events    *events
	described func() ([]byte, error) // the description of what answers programs, made once: it is the same for everybody
	seen      func(*request)         // of tests: every request as the handler got it
}

const (
	bodyMost  = 40 << 20 // of a form with pictures
	formMost  = 256 << 10
	jsonMost  = 2 << 20          // a plan's text is at most half of it, and may be written with escapes
	graceTime = 10 * time.Second // for requests under way when it is told to stop
	askedTime = 30 * time.Second // for one request
)

// New makes a server.
func New(c Config) *Server {
	if c.Log == nil {
		c.Log = slog.New(slog.DiscardHandler)
	}
	s := &Server{Config: c, cross: http.NewCrossOriginProtection(), events: newEvents()}
	s.binders = newBinders(c.MakeBinder, c.TempDir)
	s.described = sync.OnceValues(func() ([]byte, error) { return describe(s.Version) })
	s.app = fiber.New(fiber.Config{
		AppName: "Grainward", DisableStartupMessage: true, BodyLimit: bodyMost, ErrorHandler: s.refused,
		ReadTimeout: time.Minute, WriteTimeout: 2 * time.Minute, IdleTimeout: 2 * time.Minute,
		ReadBufferSize: 16 << 10, // of the headers
	})
	for _, rt := range routes() {
		s.app.Add(rt.Method, rt.Path, s.adapt(&rt))
	}
	s.app.Use(s.adapt(&route{Path: "*", Least: nobody, Handle: (*Server).nowhere}))
	return s
}

// CheckListen says whether plain HTTP may be answered at an address: only where no other machine can reach it.
func CheckListen(addr string) error {
	host, _, err := net.SplitHostPort(addr)
	if err != nil {
		return &records.Error{Kind: records.Invalid, What: fmt.Sprintf("%q is not an address to listen at", addr), Do: "Write it like 127.0.0.1:8417.", Err: err}
	}
	if loopback(host) {
		return nil
	}
	return &records.Error{Kind: records.Invalid, What: fmt.Sprintf("%q can be reached from other machines, and PINs and records would go over the network unencrypted", addr),
		Do: "Listen at 127.0.0.1 (or [::1]) with a port of your choice."}
}

// loopback says whether a host is this machine's own. Names other than localhost are not asked for: an answer can change.
func loopback(host string) bool {
	if host == "localhost" {
		return true
	}
	ip, err := netip.ParseAddr(host)
	return err == nil && ip.Unmap().IsLoopback()
}

// Run listens at an address and serves until ctx ends; then it lets requests under way finish. ready is told the
// address in the form a browser takes.
func (s *Server) Run(ctx context.Context, addr string, ready func(url string)) error {
	if err := CheckListen(addr); err != nil {
		return err
	}
	ln, err := net.Listen("tcp", addr)
	if err != nil {
		return &records.Error{Kind: records.Busy, What: "nothing can be served at " + addr, Do: "Choose another port, or end the program that has it.", Err: err}
	}
	if ready != nil {
		ready("http://" + ln.Addr().String())
	}
	return s.Serve(ctx, ln)
}

// Serve is Run on a listener, which it closes.
func (s *Server) Serve(ctx context.Context, ln net.Listener) error {
	if err := CheckListen(ln.Addr().String()); err != nil {
		return errors.Join(err, ln.Close())
	}
	ended := make(chan error, 1)
	go func() { ended <- s.app.Listener(ln) }()
	select {
	case err := <-ended:
		s.events.stop()
		return errors.Join(err, s.binders.close())
	case <-ctx.Done():
	}
	s.events.stop() // else they would be waited for
	err := s.app.ShutdownWithTimeout(graceTime)
	// Before fiber has taken the listener on, its shutdown does nothing: closing it here ends the wait all the same.
	if closed := ln.Close(); !errors.Is(closed, net.ErrClosed) {
		err = errors.Join(err, closed)
	}
	return errors.Join(err, <-ended, s.binders.close())
}
