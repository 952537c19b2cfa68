package trust

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"fmt"
	"net"
	"net/netip"
	"slices"
	"strings"
	"sync"
	"time"

	"grainward/records"
)

const (
	leafLife  = 90 * day
	leafLast  = 30 * day    // it is made again when less is left
	lookAgain = time.Minute // how often the machine's addresses and a site's own files are looked at, at most
)

// Options are what the keeper of a certificate needs.
type Options struct {
	Now func() time.Time
	Log func(error) // told what went wrong while the old certificate goes on; nil: nobody

	Plant string                // name of the plant, for the authority's
	Given []string              // names and addresses beside those found
	Find  func() (Names, error) // nil: those of this machine and those given
}

// Shown is what a server shows of itself.
type Shown struct {
	Names     Names
	Leaf      *x509.Certificate // the server's
	Authority *x509.Certificate // the plant's own; nil when the certificate is of the site's own
}

// Plant is the plant's authority and the certificate it gives the server. It may be used by many goroutines at once.
type Plant struct {
	Options
	dir string

	mu        sync.Mutex
	authority *authority
	names     Names
	leaf      *tls.Certificate
	looked    time.Time
}

// Open reads a plant's authority, or makes it, and gives the server a certificate.
func Open(dir string, o Options) (*Plant, error) {
	if o.Find == nil {
		o.Find = func() (Names, error) { return Found(o.Given) }
	}
	p := &Plant{Options: o, dir: dir}
	var err error
	now := o.Now()
	if p.authority, err = openAuthority(dir, o.Plant, o.Given, now); err != nil {
		return nil, err
	}
	if err := p.mayAll(); err != nil {
		return nil, err
	}
	return p, p.renew(now)
}

// mayAll says of the names that were given whether the authority may certify them. Names that were only found are left out instead.
func (p *Plant) mayAll() error {
	n := Names{}
	for _, g := range p.Given {
		if err := n.add(g); err != nil {
			return err
		}
	}
	var not []string
	for _, h := range n.Hosts {
		if !p.authority.may(h) {
			not = append(not, h)
		}
	}
	for _, ip := range n.Addresses {
		if !p.authority.mayAddress(ip) {
			not = append(not, ip.String())
		}
	}
	if len(not) == 0 {
		return nil
	}
	return &records.Error{Kind: records.Invalid, What: "the plant's authority was made without " + strings.Join(not, ", ") + ", and phones would not believe it about them",
		Do: "Use a name it may certify (" + strings.Join(p.authority.cert.PermittedDNSDomains, ", ") + " and names in them), give a certificate of the site's own with --cert and --key, or move " +
			keyPath(p.dir) + " and " + certPath(p.dir) + " away to start a new authority, which every phone has to be given."}
}

// renew looks at the machine's names and makes what is due.
func (p *Plant) renew(now time.Time) error {
	p.looked = now
	found, err := p.Find()
	if err != nil {
		return err
	}
	if p.authority.cert.NotAfter.Sub(now) < authorityLast {
		if err := p.authority.renew(p.dir, now); err != nil {
			return err
		}
	}
	n := p.allowed(found)
	if p.leaf != nil && n.same(p.names) && p.good(now) {
		return nil
	}
	leaf, err := p.authority.certify(n, now)
	if err != nil {
		return err
	}
	p.leaf, p.names = leaf, n
	return nil
}

// good says whether the server's certificate can stay.
func (p *Plant) good(now time.Time) bool {
	left := p.leaf.Leaf.NotAfter.Sub(now)
	return left >= leafLast && !now.Before(p.leaf.Leaf.NotBefore)
}

func (p *Plant) allowed(found Names) (n Names) {
	n.Without, n.Given = slices.Clone(found.Without), found.Given // what was given may all be certified (mayAll)
	for _, h := range found.Hosts {
		if p.authority.may(h) {
			n.Hosts = append(n.Hosts, h)
		} else {
			n.Without = append(n.Without, h)
		}
	}
	for _, ip := range found.Addresses {
		if p.authority.mayAddress(ip) {
			n.Addresses = append(n.Addresses, ip)
		} else {
			n.Without = append(n.Without, ip.String())
		}
	}
	return n
}

// certify makes a certificate for a server's names, with a key of its own.
func (a *authority) certify(n Names, now time.Time) (*tls.Certificate, error) {
	from, to := now.Add(-behind), now.Add(leafLife)
	if from.Before(a.cert.NotBefore) {
		from = a.cert.NotBefore
	}
	if to.After(a.cert.NotAfter) {
		to = a.cert.NotAfter
	}
	if !from.Before(to) || now.Before(a.cert.NotBefore) {
		return nil, &records.Error{Kind: records.Unavailable, What: "this machine's clock says " + now.UTC().Format("2006-01-02 15:04") + " UTC, which is before the plant's authority was made",
			Do: "Set the clock; phones would not believe a certificate of that day."}
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, fmt.Errorf("making the server's key: %w", err)
	}
	template := &x509.Certificate{Subject: pkix.Name{CommonName: commonName(n)}, NotBefore: from.UTC().Truncate(time.Second), NotAfter: to.UTC().Truncate(time.Second),
		BasicConstraintsValid: true, KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}, DNSNames: n.Hosts}
	for _, ip := range n.Addresses {
		template.IPAddresses = append(template.IPAddresses, net.IP(ip.AsSlice()))
	}
	der, err := x509.CreateCertificate(rand.Reader, template, a.cert, key.Public(), a.key)
	if err != nil {
		return nil, fmt.Errorf("making the server's certificate: %w", err)
	}
	leaf, err := x509.ParseCertificate(der)
	if err != nil {
		return nil, err
	}
	return &tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key, Leaf: leaf}, nil
}

func commonName(n Names) string {
	if len(n.Hosts) > 0 {
		return clip(n.Hosts[0], 64)
	}
	return "Grainward"
}

// current is the certificate to show now. When it can not be made again the old one goes on, and the log is told.
func (p *Plant) current() (*tls.Certificate, Names) {
	p.mu.Lock()
	defer p.mu.Unlock()
	now := p.Now()
	if since := now.Sub(p.looked); since >= lookAgain || since < 0 {
		if err := p.renew(now); err != nil && p.Log != nil {
			p.Log(fmt.Errorf("the server's certificate stays as it is: %w", err))
		}
	}
	return p.leaf, p.names
}

// TLS is the configuration of a listener: TLS 1.2 at least, and whatever certificate is due at each handshake.
func (p *Plant) TLS() *tls.Config {
	return config(func(*tls.ClientHelloInfo) (*tls.Certificate, error) {
		c, _ := p.current()
		return c, nil
	})
}

// Covers says whether the certificate is for a name or address.
func (p *Plant) Covers(host string) bool {
	c, _ := p.current()
	return covers(c.Leaf, host)
}

// Shown is what the server shows now.
func (p *Plant) Shown() Shown {
	c, n := p.current()
	p.mu.Lock()
	defer p.mu.Unlock()
	return Shown{Names: n, Leaf: c.Leaf, Authority: p.authority.cert}
}

func config(get func(*tls.ClientHelloInfo) (*tls.Certificate, error)) *tls.Config {
	return &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: get, NextProtos: []string{"http/1.1"}}
}

func covers(leaf *x509.Certificate, host string) bool {
	if ip, err := netip.ParseAddr(strings.Trim(host, "[]")); err == nil {
		host = ip.Unmap().String()
	}
	return leaf.VerifyHostname(host) == nil
}
