package trust

import (
	"crypto/tls"
	"fmt"
	"net/netip"
	"os"
	"strings"
	"sync"
	"time"

	"grainward/records"
)

// Own is a certificate of the site's own, read again when its files change. It may be used by many goroutines at once.
type Own struct {
	cert, key string
	now       func() time.Time
	log       func(error)

	mu      sync.Mutex
	pair    *tls.Certificate
	looked  time.Time
	version string // of the files that were read, or tried, last
}

// OpenOwn reads a certificate (PEM, with what is between it and its authority) and its key. Of the options it uses Now and Log.
func OpenOwn(cert, key string, o Options) (*Own, error) {
	w := &Own{cert: cert, key: key, now: o.Now, log: o.Log}
	w.looked, w.version = w.now(), w.files()
	return w, w.read()
}

// files tells one state of the two files from another.
func (w *Own) files() string {
	var b strings.Builder
	for _, path := range []string{w.cert, w.key} {
		if info, err := os.Stat(path); err == nil {
			fmt.Fprintf(&b, "%d %d %v\n", info.ModTime().UnixNano(), info.Size(), info.Mode())
		}
	}
	return b.String()
}

func (w *Own) read() error {
	text, err := readPublic(w.cert)
	if err != nil {
		return err
	}
	chain, err := parseChain(w.cert, text)
	if err != nil {
		return err
	}
	secret, err := readSecret(w.key)
	if err != nil {
		return err
	}
	key, err := parseKey(w.key, secret)
	if err != nil {
		return err
	}
	leaf, now := chain[0], w.now()
	wrong := func(what, do string) error { return &records.Error{Kind: records.Invalid, What: what, Do: do} }
	switch {
	case !belong(leaf, key):
		return wrong(w.key+" is not the key of the first certificate in "+w.cert, "Give the two that belong together; the server's own certificate comes first in its file.")
	case now.After(leaf.NotAfter):
		return wrong(w.cert+" ended on "+leaf.NotAfter.UTC().Format("2006-01-02")+", so no browser would believe it", "Get a new one from whoever gave it; until then, leave --cert and --key out and use the plant's own authority.")
	case now.Before(leaf.NotBefore):
		return wrong(w.cert+" begins only on "+leaf.NotBefore.UTC().Format("2006-01-02 15:04")+" UTC", "Check this machine's clock.")
	case len(leaf.DNSNames)+len(leaf.IPAddresses) == 0:
		return wrong(w.cert+" names no host and no address as browsers want it (subject alternative names)", "Get one that does.")
	}
	pair := &tls.Certificate{PrivateKey: key, Leaf: leaf}
	for _, c := range chain {
		pair.Certificate = append(pair.Certificate, c.Raw)
	}
	w.pair = pair
	return nil
}

func (w *Own) current() *tls.Certificate {
	w.mu.Lock()
	defer w.mu.Unlock()
	now := w.now()
	if since := now.Sub(w.looked); since >= 0 && since < time.Second {
		return w.pair
	}
	w.looked = now
	if v := w.files(); v != w.version {
		w.version = v
		if err := w.read(); err != nil && w.log != nil {
			w.log(fmt.Errorf("the certificate that was read before stays: %w", err))
		}
	}
	return w.pair
}

// TLS is Plant.TLS.
func (w *Own) TLS() *tls.Config {
	return config(func(*tls.ClientHelloInfo) (*tls.Certificate, error) { return w.current(), nil })
}

// Covers is Plant.Covers.
func (w *Own) Covers(host string) bool { return covers(w.current().Leaf, host) }

// Shown is Plant.Shown, without an authority.
func (w *Own) Shown() Shown {
	leaf := w.current().Leaf
	s := Shown{Leaf: leaf, Names: Names{Hosts: leaf.DNSNames, Given: len(leaf.DNSNames)}}
	for _, ip := range leaf.IPAddresses {
		if a, ok := netip.AddrFromSlice(ip); ok {
			s.Names.Addresses = append(s.Names.Addresses, a.Unmap())
		}
	}
	return s
}

func readPublic(path string) ([]byte, error) {
	b, err := os.ReadFile(path)
	if err != nil {
		return nil, fileError("reading the certificate", path, err)
	}
	return b, nil
}
