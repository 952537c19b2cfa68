package server

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/pem"
	"net/url"
	"strings"
	"time"

	"grainward/records"
	"grainward/server/pages"
	"grainward/server/qr"
)

// doorRoutes is everything that is answered without encryption on the plant's network: how a phone gets the certificate, and the
// way to the encrypted address. Nobody's sign-in is read there.
func doorRoutes() []route {
	return []route{
		{Method: "GET", Path: "/", Least: nobody, Handle: (*Server).install, Says: "how to install the plant's certificate", Door: true},
		{Method: "GET", Path: "/authority.crt", Least: nobody, Handle: (*Server).authorityDER, Says: "the certificate of the plant's authority, DER", Door: true},
		{Method: "GET", Path: "/authority.pem", Least: nobody, Handle: (*Server).authorityPEM, Says: "the same, PEM", Door: true},
		{Method: "GET", Path: "/static/:file", Least: nobody, Handle: (*Server).static, Says: "style sheet, icon", Door: true},
		{Method: "GET", Path: "/*", Least: nobody, Handle: (*Server).encrypted, Says: "to the encrypted address", Door: true},
	}
}

// encrypted leads to the same page at the encrypted address. It is always an address of ours, whatever was asked for.
func (s *Server) encrypted(r *request) (reply, error) {
	to := url.URL{Path: r.path, RawQuery: r.query.Encode()}
	return redirect(strings.TrimSuffix(s.addresses()[0], "/") + to.String())
}

// network shows a lead how the plant's machines and phones find the server and come to trust it.
func (s *Server) network(r *request) (reply, error) {
	p, err := s.networkPage(r, "network")
	if err != nil {
		return reply{}, err
	}
	p.Whole = true
	return page(p)
}

// install is the part of it that somebody with a phone in their hand needs, signed in or not.
func (s *Server) install(r *request) (reply, error) {
	p, err := s.networkPage(r, "")
	if err != nil {
		return reply{}, err
	}
	return page(p)
}

func (s *Server) networkPage(r *request, here string) (*pages.Network, error) {
	p := &pages.Network{Frame: s.frame(r, r.say("this-network"), here)}
	all := s.addresses()
	p.Address, p.Others = all[0], all[1:]
	if s.Network == nil {
		p.Only = true
		return p, nil
	}
	var err error
	if p.Code, err = code(p.Address); err != nil {
		return nil, err
	}
	shown := s.Network.Shown()
	p.Without, p.LeafEnds = shown.Names.Without, r.certificateDay(shown.Leaf.NotAfter)
	if shown.Authority == nil {
		p.Own, p.Issuer = true, shown.Leaf.Issuer.CommonName
		return p, nil
	}
	p.Authority, p.Ends = shown.Authority.Subject.CommonName, r.certificateDay(shown.Authority.NotAfter)
	p.Print = fingerprint(shown.Authority.Raw)
	p.Install = s.InstallAddress()
	if p.Install == "" {
		p.Install = p.Address + "install"
	}
	p.InstallCode, err = code(p.Install)
	return p, err
}

// certificateDay is a day of a certificate; there may be no plan yet, and so no zone.
func (r *request) certificateDay(t time.Time) string {
	zone := time.UTC
	if r.plan != nil {
		zone = r.plan.Location()
	}
	return t.In(zone).Format("2006-01-02")
}

// fingerprint is the SHA-256 of a certificate as phones show it, in rows of eight pairs.
func fingerprint(der []byte) (rows []string) {
	sum := sha256.Sum256(der)
	for i := 0; i < len(sum); i += 8 {
		var pairs []string
		for _, b := range sum[i : i+8] {
			pairs = append(pairs, strings.ToUpper(hex.EncodeToString([]byte{b})))
		}
		rows = append(rows, strings.Join(pairs, " "))
	}
	return rows
}

func code(text string) (pages.Code, error) {
	c, err := qr.Draw(text)
	return pages.Code{Text: c.Text, Size: c.Size, Path: c.Path}, err
}

// authorityDER is the certificate as phones take it: shown as a file of its media type (RFC 2585, 4.1, has application/pkix-cert; the
// older x-x509-ca-cert is what makes phones ask whether to install it as an authority). It has no Content-Disposition: a download to keep is not offered to be installed.
func (s *Server) authorityDER(*request) (reply, error) {
	der, err := s.authority()
	return reply{data: der, media: "application/x-x509-ca-cert"}, err
}

func (s *Server) authorityPEM(*request) (reply, error) {
	der, err := s.authority()
	if err != nil {
		return reply{}, err
	}
	return reply{data: pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), media: "application/x-pem-file", name: "plant-authority.pem"}, nil
}

func (s *Server) authority() ([]byte, error) {
	if s.Network != nil {
		if a := s.Network.Shown().Authority; a != nil {
			return a.Raw, nil
		}
	}
	return nil, &records.Error{Kind: records.NotFound, What: "this plant has no authority of its own"}
}
