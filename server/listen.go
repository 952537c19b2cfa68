package server

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/netip"
	"strings"
	"time"

	"github.com/valyala/fasthttp"

	"grainward/records"
	"grainward/server/trust"
)

// Network is what the plant's network is answered with.
type Network interface {
	// TLS is the configuration of the listener; it shows whatever certificate is due at each handshake.
	TLS() *tls.Config
	// Covers says whether the certificate is for a name or address.
	Covers(host string) bool
	// Shown is the certificate and its names as they are now.
	Shown() trust.Shown
}

// reached is where the server listens, once it does.
type reached struct {
	host, port string // host is empty when it listens at every address
	install    string // port of the unencrypted door; empty when there is none
}

// CheckListen says whether plain HTTP may be answered at an address: only where no other machine can reach it.
func CheckListen(addr string) error {
	host, _, err := net.SplitHostPort(addr)
	if err != nil {
		return &records.Error{Kind: records.Invalid, What: fmt.Sprintf("%q is not an address to listen at", addr), Do: "Write it like 127.0.0.1:8417, or 0.0.0.0:8443 for the plant's network.", Err: err}
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
	return s.alone().Run(ctx, addr, ready)
}

func (s *Server) alone() *Front {
	f := &Front{}
	f.Put(s)
	return f
}

func listen(addr string) (net.Listener, error) {
	ln, err := net.Listen("tcp", addr)
	if err != nil {
		return nil, &records.Error{Kind: records.Busy, What: "nothing can be served at " + addr, Do: "Choose another port, or end the program that has it.", Err: err}
	}
	return ln, nil
}

// Serve is Run on a listener, which it closes; there is no unencrypted door.
func (s *Server) Serve(ctx context.Context, ln net.Listener) error {
	if s.Network == nil {
		if err := CheckListen(ln.Addr().String()); err != nil {
			return errors.Join(err, ln.Close())
		}
	}
	f := s.alone()
	f.reachedAt(ln, nil)
	return f.serve(ctx, ln, nil)
}

func (s *Server) reachedAt(ln, door net.Listener) {
	host, port, err := net.SplitHostPort(ln.Addr().String())
	if err == nil {
		if ip, err := netip.ParseAddr(host); err == nil && ip.IsUnspecified() {
			host = ""
		}
		s.at = reached{host: host, port: port}
	}
	if door != nil {
		_, s.at.install, _ = net.SplitHostPort(door.Addr().String())
	}
}

// until serves until ctx ends, or until the listener does; before is done in either case before requests are waited for. What has not
// been sent or taken in whole by the end of grace is cut off: it was not acknowledged, and whoever sent it sends it again.
func until(ctx context.Context, app *fasthttp.Server, ln net.Listener, grace time.Duration, before func()) error {
	ended := make(chan error, 1)
	go func() { ended <- app.Serve(ln) }()
	select {
	case err := <-ended:
		before()
		return err
	case <-ctx.Done():
	}
	before()
	waits, cancel := context.WithTimeout(context.Background(), grace)
	defer cancel()
	err := app.ShutdownWithContext(waits)
	if errors.Is(err, context.DeadlineExceeded) {
		app.Logger.Printf("after %s some were cut off", grace)
		err = nil
	}
	// Before the framework has taken the listener on, its shutdown does nothing: closing it here ends the wait all the same.
	if closed := ln.Close(); !errors.Is(closed, net.ErrClosed) {
		err = errors.Join(err, closed)
	}
	return errors.Join(err, <-ended)
}

// quiet takes what the framework says of single connections, which is mostly that a phone does not trust the certificate yet.
type quiet struct{ log *slog.Logger }

// Printf logs it where somebody looks for it.
func (q quiet) Printf(format string, args ...any) {
	q.log.Debug("connection", "says", plainText(fmt.Sprintf(format, args...)))
}

// addresses are where the server is found, the best to tell people first; never none.
func (s *Server) addresses() (all []string) {
	scheme := "http://"
	if s.TLS {
		scheme = "https://"
	}
	for _, host := range s.hosts() {
		all = append(all, scheme+joinPort(host, s.at.port)+"/")
	}
	return all
}

// InstallAddress is where phones get the plant's certificate; empty when nowhere.
func (s *Server) InstallAddress() string {
	if s.at.install == "" {
		return ""
	}
	return "http://" + joinPort(s.hosts()[0], s.at.install) + "/"
}

func (s *Server) hosts() []string {
	if s.Host != "" {
		return []string{s.Host}
	}
	if s.Network != nil && s.at.host == "" {
		if best := s.Network.Shown().Names.Best(); len(best) > 0 {
			return best
		}
	}
	if s.at.host == "" {
		return []string{"localhost"}
	}
	if s.Network != nil && !s.Network.Covers(s.at.host) { // a certificate of the site's own, for names alone
		if best := s.Network.Shown().Names.Best(); len(best) > 0 {
			return best
		}
	}
	return []string{s.at.host}
}

func joinPort(host, port string) string {
	if port == "" {
		return host
	}
	if strings.Contains(host, ":") {
		host = "[" + strings.Trim(host, "[]") + "]"
	}
	return host + ":" + port
}
