package server

import (
	"cmp"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"html"
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/valyala/fasthttp"
)

// Front answers for several servers at one address: each request goes to the one whose host it asks for, and to no other. It knows
// nothing of what they serve. A server with no host (Config.Host) is asked whatever the host, and stands in its front alone.
//
// The servers share the listener and nothing else: each has its own book, its own secrets and cookies, and (by the name a browser gives
// in the handshake, RFC 6066 section 3) its own certificate.
type Front struct {
	Grace time.Duration // for requests under way when it is told to stop; GraceTime when 0

	mu    sync.Mutex
	spots []*spot // in the order they were given
	ln    net.Listener
	door  net.Listener
}

// spot is a host, and what answers there. It is never changed, but replaced.
type spot struct {
	host    string
	network Network // kept while nothing answers yet, so that the certificate is right all the same
	server  *Server
}

// Keep makes a host known at which nothing answers yet: whoever asks there is told so until Put.
func (f *Front) Keep(host string, n Network) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.spots = append(f.spots, &spot{host: host, network: n})
}

// Put lets a server answer at its host, also while the front runs.
func (f *Front) Put(s *Server) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.ln != nil {
		s.reachedAt(f.ln, f.door)
	}
	s.app.Handler() // readies its routes
	s.door.Handler()
	now := &spot{host: s.Host, network: s.Network, server: s}
	if i := slices.IndexFunc(f.spots, func(at *spot) bool { return at.host == s.Host }); i >= 0 {
		f.spots[i] = now
		return
	}
	f.spots = append(f.spots, now)
}

// servers are those that answer now.
func (f *Front) servers() (all []*Server) {
	for _, at := range f.known() {
		if at.server != nil {
			all = append(all, at.server)
		}
	}
	return all
}

func (f *Front) known() []*spot {
	f.mu.Lock()
	defer f.mu.Unlock()
	return slices.Clone(f.spots)
}

// at is the spot of a host as a request gives it, with a port or without; nil when there is none.
func (f *Front) at(host string) *spot {
	host = hostName(host)
	for _, at := range f.known() {
		if at.host == "" || at.host == host {
			return at
		}
	}
	return nil
}

// hostName is a host without its port, in small letters, and without the dot that may end it.
func hostName(host string) string {
	if name, _, err := net.SplitHostPort(host); err == nil {
		host = name
	}
	return strings.ToLower(strings.TrimSuffix(strings.Trim(host, "[]"), "."))
}

// Run listens at an address and serves until ctx ends; then it lets requests under way finish. ready is told the
// address of the first server in the form a browser takes.
func (f *Front) Run(ctx context.Context, addr string, ready func(url string)) error {
	install := ""
	for _, s := range f.servers() {
		if install == "" {
			install = s.InstallAt
		}
		if s.Network == nil {
			if err := CheckListen(addr); err != nil {
				return err
			}
		}
	}
	ln, err := listen(addr)
	if err != nil {
		return err
	}
	var door net.Listener
	if install != "" {
		if door, err = listen(install); err != nil {
			return errors.Join(err, ln.Close())
		}
	}
	f.reachedAt(ln, door)
	if ready != nil {
		ready(strings.TrimSuffix(f.servers()[0].addresses()[0], "/"))
	}
	return f.serve(ctx, ln, door)
}

func (f *Front) reachedAt(ln, door net.Listener) {
	for _, s := range f.servers() {
		s.reachedAt(ln, door)
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.ln, f.door = ln, door
}

func (f *Front) serve(ctx context.Context, ln, door net.Listener) error {
	if c := f.tls(); c != nil {
		ln = tls.NewListener(ln, c)
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	second := make(chan error, 1)
	if door == nil {
		second <- nil
	} else {
		go func() { second <- until(ctx, f.http(true), door, cmp.Or(f.Grace, GraceTime), func() {}); stop() }()
	}
	err := until(ctx, f.http(false), ln, cmp.Or(f.Grace, GraceTime), func() {
		for _, s := range f.servers() {
			s.events.stop() // those who listen for events would else be waited for
		}
	})
	stop()
	err = errors.Join(err, <-second)
	for _, s := range f.servers() {
		err = errors.Join(err, s.binders.close())
	}
	return err
}

// tls is the configuration of the listener: the certificate is that of the host a browser names, or the first.
func (f *Front) tls() *tls.Config {
	all := f.known()
	if len(all) == 0 || all[0].network == nil {
		return nil
	}
	c := all[0].network.TLS()
	if len(all) > 1 {
		c.GetCertificate = func(h *tls.ClientHelloInfo) (*tls.Certificate, error) {
			n := all[0].network
			if at := f.at(h.ServerName); at != nil && at.network != nil {
				n = at.network
			}
			return n.TLS().GetCertificate(h)
		}
	}
	return c
}

// http is the framework's server below the routes: one server's own, or one that gives each request to the server it is for. door is
// the unencrypted one.
func (f *Front) http(door bool) *fasthttp.Server {
	of := func(s *Server) *fasthttp.Server {
		if door {
			return s.door.Server()
		}
		return s.app.Server()
	}
	all := f.servers()
	first := of(all[0])
	if len(f.known()) == 1 {
		return first
	}
	h := &fasthttp.Server{Logger: first.Logger, NoDefaultServerHeader: true, Concurrency: first.Concurrency, MaxRequestBodySize: first.MaxRequestBodySize,
		ReadTimeout: first.ReadTimeout, WriteTimeout: first.WriteTimeout, IdleTimeout: first.IdleTimeout, ReadBufferSize: first.ReadBufferSize}
	h.Handler = func(c *fasthttp.RequestCtx) {
		host := string(c.Request.Host())
		at := f.at(host)
		if at == nil {
			f.nobodyThere(c, host)
			return
		}
		if at.server == nil {
			notYet(c)
			return
		}
		of(at.server).Handler(c)
	}
	h.ErrorHandler = func(c *fasthttp.RequestCtx, err error) {
		s := all[0]
		if at := f.at(string(c.Request.Host())); at != nil && at.server != nil {
			s = at.server
		}
		of(s).ErrorHandler(c, err)
	}
	h.HeaderReceived = func(h *fasthttp.RequestHeader) fasthttp.RequestConfig {
		if at := f.at(string(h.Host())); at != nil && at.server != nil && of(at.server).HeaderReceived != nil {
			return of(at.server).HeaderReceived(h)
		}
		return fasthttp.RequestConfig{ReadTimeout: readTime, MaxRequestBodySize: 1024}
	}
	return h
}

// nobodyThere answers who asks for a host that is none of ours (421, RFC 9110 section 15.5.20). The hosts there are are named only to
// whoever asked by an address or as localhost: a stranger's name that was made to point here (which makes a stranger's page of it) learns nothing.
func (f *Front) nobodyThere(c *fasthttp.RequestCtx, host string) {
	name, port := hostName(host), ""
	if _, p, err := net.SplitHostPort(host); err == nil {
		port = p
	}
	scheme := "http"
	if c.IsTLS() {
		scheme = "https"
	}
	var b strings.Builder
	fmt.Fprintf(&b, "<p>Nothing is kept under this name here. Ask for a plant by its own name, as your lead gave it to you.</p>\n<p lang=\"es\">Aquí no hay nada con este nombre. Pida la planta por su propio nombre, como se lo dio su responsable.</p>\n")
	if _, err := netip.ParseAddr(name); err == nil || name == "localhost" {
		b.WriteString("<ul>\n")
		for _, at := range f.known() {
			to := scheme + "://" + joinPort(at.host, port) + "/"
			fmt.Fprintf(&b, "<li><a href=\"%s\">%s</a></li>\n", html.EscapeString(to), html.EscapeString(at.host))
		}
		b.WriteString("</ul>\n")
	}
	plainly(c, http.StatusMisdirectedRequest, "No plant of this name · Ninguna planta con este nombre", b.String())
}

// notYet answers for a plant that could not be opened.
func notYet(c *fasthttp.RequestCtx) {
	c.Response.Header.Set("Retry-After", fmt.Sprint(int(OpenAgain/time.Second)))
	plainly(c, http.StatusServiceUnavailable, "This plant can not be opened now · Esta planta no se puede abrir ahora",
		"<p>Its records can not be read at the moment. It is tried again by itself; what was signed on the crew’s page waits on the device. The company page and the log say why.</p>\n"+
			"<p lang=\"es\">Sus registros no se pueden leer en este momento. Se vuelve a intentar solo; lo firmado en la página de la cuadrilla espera en el aparato. La página de la empresa y el registro dicen por qué.</p>\n")
}

// OpenAgain is how long to wait before a plant that could not be opened is tried again.
const OpenAgain = 30 * time.Second

// plainly sends a page that needs nothing from anywhere, for where there is no plant to draw one.
func plainly(c *fasthttp.RequestCtx, status int, heading, body string) {
	for name, value := range safety {
		c.Response.Header.Set(name, value)
	}
	c.Response.Header.Set("Cache-Control", "no-store")
	c.SetStatusCode(status)
	c.SetContentType("text/html; charset=utf-8")
	c.SetBodyString("<!doctype html>\n<html lang=\"en\">\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" content=\"width=device-width\">\n<title>" + heading + "</title>\n<h1>" + heading + "</h1>\n" + body)
}
