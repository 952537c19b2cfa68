package main

import (
	"context"
	"errors"
	"strings"
	"sync"
	"time"

	"grainward/records"
	"grainward/records/company"
	"grainward/records/plan"
	"grainward/server"
)

// serveCompany answers browsers for every plant of a company, and for its own page, until ctx ends. A plant that can not be opened
// is tried again now and then; the others are served meanwhile.
func serveCompany(ctx context.Context, w *world, c *companyFile, f *listenFlags, ready func(url string)) (err error) {
	h := &house{w: w, file: c, listen: f, page: server.NewCompany(c.Company), open: map[company.PlantCode]*served{}}
	if err := h.checkHosts(); err != nil {
		return err
	}
	for _, p := range c.Plants { // known to whoever watches, open or not
		f.of(w, string(p.Code))
	}
	unwatch, err := f.watchFlags.open(ctx, w)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, unwatch()) }()
	conf := server.Config{Company: h.page, Now: w.instant, Version: programVersion(), Host: c.Host, Log: f.logger.With("plant", "company page")}
	if conf.Network, conf.InstallAt, err = h.network(c.dir, c.Name, c.Host); err != nil {
		return err
	}
	h.front.Put(server.New(conf))
	defer func() { err = errors.Join(err, h.close()) }()
	for i := range c.Plants {
		if err := h.ready(&c.Plants[i]); err != nil {
			return err
		}
	}
	for i := range c.Plants {
		h.try(ctx, &c.Plants[i])
	}
	for _, n := range c.Notes(h.planOf) {
		w.say("note: %s", n)
	}
	again, stop := context.WithCancel(ctx)
	defer stop()
	h.retry(again)
	err = h.front.Run(ctx, f.Listen, ready)
	stop()
	h.trying.Wait()
	return err
}

// house is a company being served.
type house struct {
	w       *world
	file    *companyFile
	listen  *listenFlags
	front   server.Front
	page    *server.Company
	conf    map[company.PlantCode]server.Config
	trying  sync.WaitGroup
	mu      sync.Mutex
	open    map[company.PlantCode]*served
	trouble map[company.PlantCode]string
}

// checkHosts sees that every host can be answered where it listens: without TLS only names of this machine are.
func (h *house) checkHosts() error {
	if h.listen.network() {
		return nil
	}
	for _, host := range h.hosts() {
		if host != "localhost" && !strings.HasSuffix(host, ".localhost") {
			return &records.Error{Kind: records.Invalid, What: host + " is a name of the network, and PINs and records would go to it unencrypted",
				Do: "Listen on the network, which is answered by TLS (--listen 0.0.0.0:8443), or take names that end in .localhost in the company file to try it on this machine."}
		}
	}
	return nil
}

func (h *house) hosts() (all []string) {
	all = append(all, h.file.Host)
	for _, p := range h.file.Plants {
		all = append(all, p.Host)
	}
	return all
}

// network is what a host of the company is answered with on the network: a certificate under the authority in a directory, or the site's own.
func (h *house) network(dir, name, host string) (server.Network, string, error) {
	if !h.listen.network() {
		return nil, "", nil
	}
	f := *h.listen
	f.Name = append([]string{host}, f.Name...)
	n, install, err := f.keeper(h.w, plantDir(dir), name)
	if err != nil {
		return nil, "", err
	}
	if !n.Covers(host) {
		return nil, "", &records.Error{Kind: records.Invalid, What: "the certificate given with --cert is not for " + host, Do: "Give one for every host of the company file: " + strings.Join(h.hosts(), ", ") + "."}
	}
	return n, install, nil
}

// ready makes a plant's host known, with its certificate, whether or not its records can be opened.
func (h *house) ready(p *company.Plant) error {
	flags, err := h.file.flags(p)
	if err == nil {
		err = flags.Dir.check()
	}
	conf := server.Config{Host: p.Host}
	if err == nil {
		conf.Network, conf.InstallAt, err = h.network(string(flags.Dir), h.file.Name+" "+string(p.Code), p.Host)
	}
	if h.conf == nil {
		h.conf = map[company.PlantCode]server.Config{}
	}
	if err != nil && h.listen.network() && records.KindOf(err) == records.Invalid { // a certificate that is none of the host's is to be put right first
		return err
	}
	h.conf[p.Code] = conf
	h.front.Keep(p.Host, conf.Network)
	return nil
}

// try opens a plant and lets it answer, or says why not.
func (h *house) try(ctx context.Context, p *company.Plant) bool {
	flags, err := h.file.flags(p)
	var o *served
	if err == nil {
		conf := h.conf[p.Code]
		if conf.Network == nil { // its directory was not there before
			conf.Network, conf.InstallAt, err = h.network(string(flags.Dir), h.file.Name+" "+string(p.Code), p.Host)
		}
		if err == nil {
			o, err = openServed(ctx, h.w, flags, h.listen, string(p.Code), conf)
		}
	}
	if err != nil {
		h.failed(p.Code, err)
		return false
	}
	h.mu.Lock()
	h.open[p.Code] = o
	was := h.trouble[p.Code]
	delete(h.trouble, p.Code)
	h.mu.Unlock()
	h.page.Opened(p.Code, o.server)
	h.front.Put(o.server)
	if was != "" {
		h.w.say("plant %s is open now", p.Code)
	}
	return true
}

// failed says why a plant can not be opened, once for each reason.
func (h *house) failed(code company.PlantCode, err error) {
	h.page.Failed(code, err)
	_, watched := h.listen.of(h.w, string(code))
	watched.Shut(server.WhyShut(err))
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.trouble == nil {
		h.trouble = map[company.PlantCode]string{}
	}
	if h.trouble[code] != err.Error() {
		h.trouble[code] = err.Error()
		h.w.note("plant %s can not be opened, and is tried again every %v: %v", code, server.OpenAgain, err)
	}
}

// retry tries again to open what could not be opened, until ctx ends.
func (h *house) retry(ctx context.Context) {
	for i := range h.file.Plants {
		p := &h.file.Plants[i]
		if h.at(p.Code) != nil {
			continue
		}
		h.trying.Go(func() {
			for {
				select {
				case <-ctx.Done():
					return
				case <-time.After(server.OpenAgain):
				}
				if h.try(ctx, p) {
					return
				}
			}
		})
	}
}

func (h *house) at(code company.PlantCode) *served {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.open[code]
}

func (h *house) planOf(code company.PlantCode) *plan.Plan {
	if o := h.at(code); o != nil {
		return o.book.View().State.PlanAt(h.w.instant())
	}
	return nil
}

func (h *house) close() (err error) {
	for _, p := range h.file.Plants {
		if o := h.at(p.Code); o != nil {
			err = errors.Join(err, o.close())
		}
	}
	return err
}
