package server

import (
	"context"
	"io"
	"log/slog"
	"net/http"
	"sync"
	"time"

	"github.com/gofiber/fiber/v2"

	"grainward/records"
	"grainward/records/book"
	"grainward/records/calendar"
	"grainward/server/auth"
	"grainward/server/watch"
)

// BinderMaker writes the binder of a period, both days included. progress may be called now and then.
type BinderMaker func(ctx context.Context, w io.Writer, from, to calendar.Date, madeBy string, progress func(done, all int)) error

// Config is what a server needs.
type Config struct {
	Book       *book.Book
	Auth       *auth.Store
	Now        func() records.Instant
	Version    string
	Host       string       // the one name it is asked under, where one Front answers for several; empty: any that is this machine's
	Key        string       // the plant's public key, to be handed to whoever checks proofs
	MakeBinder BinderMaker  // nil: no binders are made here
	Log        *slog.Logger // never given PINs, names or anything people typed; nil: nothing is logged
	FirstPIN   string       // the command that sets a first PIN, shown while nobody has one
	TLS        bool         // it is reached by TLS: cookies are marked Secure; set by New where there is a network
	Network    Network      // the certificate for the plant's network; nil: this machine alone is answered, without TLS
	InstallAt  string       // where the certificate of the plant's authority is handed out, unencrypted; empty: nowhere
	Company    *Company     // the page of a company with several plants is served, and no plant; then Book, Auth and Key are empty
	Watch      *watch.Plant // counts what happens; nil: nobody does
	TempDir    string       // where binders wait to be downloaded; the system's when empty
}

// Server is the application. Make it with New and run it with Run or Serve, once.
type Server struct {
	Config
	table     []route
	rates     *rates
	app       *fiber.App
	door      *fiber.App // what is answered without encryption on the plant's network
	at        reached
	cross     *http.CrossOriginProtection
	judge     judge
	graphs    joinedLots
	balances  balanced
	binders   *binders
	events    *events
	health    health
	described func() ([]byte, error) // the description of what answers programs, made once: it is the same for everybody
	seen      func(*request)         // of tests: every request as the handler got it
}

// GraceTime is how long requests under way may take to end when the server is told to stop.
const GraceTime = 10 * time.Second

const (
	bodyMost  = 40 << 20 // of a form with pictures
	formMost  = 256 << 10
	jsonMost  = 2 << 20          // a plan's text is at most half of it, and may be written with escapes
	askedTime = 30 * time.Second // for one request
)

// New makes a server.
func New(c Config) *Server {
	if c.Log == nil {
		c.Log = slog.New(slog.DiscardHandler)
	}
	s := &Server{Config: c, cross: http.NewCrossOriginProtection(), events: newEvents()}
	s.binders = newBinders(c.MakeBinder, c.TempDir)
	s.table, s.rates = routes(), newRates()
	if s.Company != nil {
		s.table = companyRoutes()
	}
	s.described = sync.OnceValues(func() ([]byte, error) { return describe(s.Version, s.table) })
	s.app = fiber.New(fiber.Config{
		AppName: "Grainward", DisableStartupMessage: true, BodyLimit: bodyMost, ErrorHandler: s.refused,
		ReadTimeout: readTime, WriteTimeout: 2 * time.Minute, IdleTimeout: 2 * time.Minute,
		ReadBufferSize: 16 << 10, // of the headers
		Concurrency:    connsMost,
	})
	s.app.Server().HeaderReceived = s.limit
	for i := range s.table {
		rt := &s.table[i]
		s.app.Add(rt.Method, rt.Path, s.adapt(rt))
		if rt.Method == "GET" && !rt.streams() { // RFC 9110 section 9.3.2; of a stream there is nothing to say beforehand
			s.app.Add("HEAD", rt.Path, s.adapt(rt))
		}
	}
	s.app.Use(s.adapt(&route{Path: "*", Least: nobody, Handle: (*Server).nowhere}))
	s.TLS = s.TLS || s.Network != nil
	s.door = fiber.New(fiber.Config{AppName: "Grainward", DisableStartupMessage: true, BodyLimit: 1024, ErrorHandler: s.refused,
		ReadTimeout: 10 * time.Second, WriteTimeout: 10 * time.Second, IdleTimeout: 10 * time.Second, ReadBufferSize: 16 << 10})
	for _, rt := range doorRoutes() {
		s.door.Add(rt.Method, rt.Path, s.adapt(&rt))
	}
	s.app.Server().Logger, s.door.Server().Logger = quiet{s.Log}, quiet{s.Log}
	s.door.Use(s.adapt(&route{Path: "*", Least: nobody, Handle: (*Server).nowhere, Door: true}))
	for _, app := range []*fiber.App{s.app, s.door} {
		app.Server().Handler = knownMethods(app.Server().Handler)
	}
	return s
}
