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
func (f *listenFlags) configure(c *server.Config, w *world, d plantDir, b *book.Book) error {
	if !f.network() {
		return nil
	}
	o := trust.Options{Now: w.now, Given: f.Name, Log: func(err error) { w.say("%v", err) }}
	if f.Cert != "" {
		own, err := trust.OpenOwn(f.Cert, f.Key, o)
		if err != nil {
			return err
		}
		c.Network = own
		return nil
	}
	o.Plant = "Grainward"
	if p := b.View().State.PlanAt(w.instant()); p != nil {
		o.Plant = p.Plant.Name
	}
	plant, err := trust.Open(string(d), o)
	if err != nil {
		return err
	}
	c.Network = plant
	switch f.Install {
	case "off":
	case "":
		host, _, err := net.SplitHostPort(f.Listen)
		if err != nil {
			return server.CheckListen(f.Listen)
		}
		c.InstallAt = net.JoinHostPort(host, "8480")
	default:
		c.InstallAt = f.Install
	}
	return nil
}

// tellNetwork says where phones begin.
func tellNetwork(w *world, s *server.Server) {
	if at := s.InstallAddress(); at != "" {
		w.say("Phones get this plant's certificate at %s; the page “Network” has the code to scan.", at)
	}
}
