package main

import (
	"net"

	"grainward/records/book"
	"grainward/server"
	"grainward/server/trust"
)

// listenFlags say where browsers are answered, and what the plant's network is shown.
type listenFlags struct {
	Listen  string   `default:"127.0.0.1:8417" placeholder:"HOST:PORT" help:"Where to answer: this machine only, unless it is an address of the network, such as 0.0.0.0:8443, which is answered by TLS. Port 0 takes a free one."`
	Name    []string `placeholder:"NAME" help:"A name or address by which phones reach this machine, beside those it has; the first goes on printed codes. Repeat it for more."`
	Install string   `placeholder:"HOST:PORT" help:"Where phones get the plant's certificate, unencrypted; port 8480 when left out, 'off' for nowhere."`
	Cert    string   `type:"path" placeholder:"FILE" help:"A certificate of the site's own (PEM) instead of the plant's; read again when it changes."`
	Key     string   `type:"path" placeholder:"FILE" help:"Its private key (PEM, mode 0600)."`
	watchFlags
}

// check finds what can not be, before a journal is read.
func (f *listenFlags) check() error {
	if err := f.watchFlags.check(); err != nil {
		return err
	}
	switch {
	case (f.Cert == "") != (f.Key == ""):
		return wrongFlag("--cert and --key", f.Cert+f.Key, "both, or neither")
	case f.network():
		if _, _, err := net.SplitHostPort(f.Listen); err != nil {
			return server.CheckListen(f.Listen)
		}
		return nil
	}
	return server.CheckListen(f.Listen)
}

// network says whether TLS is answered: where other machines can reach it, or a certificate was given.
func (f *listenFlags) network() bool {
	_, _, err := net.SplitHostPort(f.Listen)
	return f.Cert != "" || err == nil && server.CheckListen(f.Listen) != nil
}

// configure adds the network to what a server needs.
func (f *listenFlags) configure(c *server.Config, w *world, d plantDir, b *book.Book) (err error) {
	if !f.network() {
		return nil
	}
	name := "Grainward"
	if p := b.View().State.PlanAt(w.instant()); p != nil {
		name = p.Plant.Name
	}
	c.Network, c.InstallAt, err = f.keeper(w, d, name)
	return err
}

// keeper keeps the certificate of the network: the site's own, or one under the authority in a directory. install is where the
// authority's certificate is handed out; empty when nowhere.
func (f *listenFlags) keeper(w *world, d plantDir, name string) (n server.Network, install string, err error) {
	o := trust.Options{Now: w.now, Given: f.Name, Plant: name, Log: func(err error) { w.say("%v", err) }}
	if f.Cert != "" {
		own, err := trust.OpenOwn(f.Cert, f.Key, o)
		if err != nil {
			return nil, "", err
		}
		return own, "", nil
	}
	plant, err := trust.Open(string(d), o)
	if err != nil {
		return nil, "", err
	}
	switch f.Install {
	case "off":
	case "":
		host, _, err := net.SplitHostPort(f.Listen)
		if err != nil {
			return nil, "", server.CheckListen(f.Listen)
		}
		install = net.JoinHostPort(host, "8480")
	default:
		install = f.Install
	}
	return plant, install, nil
}

// tellNetwork says where phones begin.
func tellNetwork(w *world, s *server.Server) {
	if at := s.InstallAddress(); at != "" {
		w.say("Phones get this plant's certificate at %s; the page “Network” has the code to scan.", at)
	}
}
