package trust

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/hex"
	"fmt"
	"net"
	"net/netip"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"grainward/records"
)

const (
	day           = 24 * time.Hour
	authorityLife = 10 * 365 * day
	authorityLast = 365 * day // it is made anew when less is left
	behind        = day       // how far a phone's clock may be behind ours
)

// authority is the plant's own, with its private key.
type authority struct {
	cert *x509.Certificate
	key  *ecdsa.PrivateKey
}

func keyPath(dir string) string  { return filepath.Join(dir, "authority.key") }
func certPath(dir string) string { return filepath.Join(dir, "authority.crt") }

// openAuthority reads a plant's authority, makes it when there is none, and makes its certificate anew in its last year.
func openAuthority(dir, plant string, given []string, now time.Time) (*authority, error) {
	hasKey, err := exists(keyPath(dir))
	if err != nil {
		return nil, err
	}
	hasCert, err := exists(certPath(dir))
	switch {
	case err != nil:
		return nil, err
	case !hasKey && !hasCert:
		return newAuthority(dir, plant, given, now)
	case hasKey != hasCert:
		have, miss := keyPath(dir), certPath(dir)
		if hasCert {
			have, miss = miss, have
		}
		return nil, &records.Error{Kind: records.NotFound, What: fmt.Sprintf("%s is there, but %s is not", have, miss),
			Do: "Put it back from a copy. Or remove the one that is left to start a new authority; every phone then needs the new certificate."}
	}
	text, err := readSecret(keyPath(dir))
	if err != nil {
		return nil, err
	}
	key, err := parseKey(keyPath(dir), text)
	if err != nil {
		return nil, err
	}
	if text, err = readPublic(certPath(dir)); err != nil {
		return nil, err
	}
	chain, err := parseChain(certPath(dir), text)
	if err != nil {
		return nil, err
	}
	a := &authority{cert: chain[0]}
	ec, ok := key.(*ecdsa.PrivateKey)
	if !ok || !a.cert.IsCA || !belong(a.cert, key) {
		return nil, &records.Error{Kind: records.Invalid, What: fmt.Sprintf("%s and %s are not the two halves of one plant authority", keyPath(dir), certPath(dir)),
			Do: "Put both back from the same copy. A certificate of the site's own is given with --cert and --key instead."}
	}
	a.key = ec
	if a.cert.NotAfter.Sub(now) < authorityLast {
		return a, a.renew(dir, now)
	}
	return a, nil
}

func newAuthority(dir, plant string, given []string, now time.Time) (*authority, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, fmt.Errorf("making the authority's key: %w", err)
	}
	a := &authority{key: key}
	text, err := encodeKey(key)
	if err != nil {
		return nil, fmt.Errorf("writing the authority's key down: %w", err)
	}
	// A mark of the key in the name keeps two plants of the same name apart on one phone.
	pub, err := x509.MarshalPKIXPublicKey(key.Public())
	if err != nil {
		return nil, fmt.Errorf("writing the authority's key down: %w", err)
	}
	sum := sha256.Sum256(pub)
	name := pkix.Name{CommonName: clip(plant, 40) + " plant network " + hex.EncodeToString(sum[:3])}
	domains := slices.Clone(permittedDomains)
	n, err := Found(given)
	if err != nil {
		return nil, err
	}
	for _, h := range n.Hosts {
		if !slices.Contains(domains, h) && !slices.ContainsFunc(domains, func(d string) bool { return within(h, d) }) {
			domains = append(domains, h)
		}
	}
	var nets []*net.IPNet
	for _, p := range permittedNets {
		_, ipnet, err := net.ParseCIDR(p)
		if err != nil {
			return nil, err
		}
		nets = append(nets, ipnet)
	}
	for _, g := range given {
		if ip, err := netip.ParseAddr(strings.Trim(g, "[]")); err == nil {
			bits := ip.Unmap().BitLen()
			nets = append(nets, &net.IPNet{IP: ip.Unmap().AsSlice(), Mask: net.CIDRMask(bits, bits)})
		}
	}
	if err := a.sign(name, domains, nets, now); err != nil {
		return nil, err
	}
	if err := replace(keyPath(dir), text, 0o600); err != nil {
		return nil, err
	}
	return a, replace(certPath(dir), encodeCertificate(a.cert.Raw), 0o644)
}

// renew makes the certificate anew, with the same key, name and constraints.
func (a *authority) renew(dir string, now time.Time) error {
	if err := a.sign(a.cert.Subject, a.cert.PermittedDNSDomains, a.cert.PermittedIPRanges, now); err != nil {
		return err
	}
	return replace(certPath(dir), encodeCertificate(a.cert.Raw), 0o644)
}

func (a *authority) sign(name pkix.Name, domains []string, nets []*net.IPNet, now time.Time) error {
	template := &x509.Certificate{ // without a serial number crypto/x509 makes a random one (RFC 5280, 4.1.2.2)
		Subject: name, NotBefore: now.Add(-behind).UTC().Truncate(time.Second), NotAfter: now.Add(authorityLife).UTC().Truncate(time.Second),
		IsCA: true, BasicConstraintsValid: true, MaxPathLenZero: true,
		KeyUsage: x509.KeyUsageCertSign | x509.KeyUsageCRLSign, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		PermittedDNSDomainsCritical: true, PermittedDNSDomains: domains, PermittedIPRanges: nets,
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, a.key.Public(), a.key)
	if err != nil {
		return fmt.Errorf("making the authority's certificate: %w", err)
	}
	a.cert, err = x509.ParseCertificate(der)
	return err
}

// may says whether the authority may certify a name.
func (a *authority) may(host string) bool {
	return slices.ContainsFunc(a.cert.PermittedDNSDomains, func(d string) bool { return within(host, d) })
}

func (a *authority) mayAddress(ip netip.Addr) bool {
	return slices.ContainsFunc(a.cert.PermittedIPRanges, func(n *net.IPNet) bool { return n.Contains(ip.AsSlice()) && len(n.IP) == len(ip.AsSlice()) })
}

// within says whether a name is a domain or lies in it (RFC 5280, 4.2.1.10).
func within(host, domain string) bool {
	return host == domain || strings.HasSuffix(host, "."+strings.TrimPrefix(domain, "."))
}

// clip keeps a common name within the 64 characters of RFC 5280 (ub-common-name).
func clip(s string, most int) string {
	if rs := []rune(s); len(rs) > most {
		return string(rs[:most])
	}
	return s
}
