package crowd

import (
	"context"
	"sync"
	"time"

	"github.com/valyala/fasthttp"
)

// Ask is one request of a device.
type Ask struct {
	Kind   string // under which it is counted: "sign-off", "today"…
	Method string
	Path   string
	Body   []byte // JSON; sent as it is
	Packed bool   // takes an answer packed with gzip, which Heard then gets as it came over the line

	// Heard, when it is there, gets the answer on the device's own goroutine; the body is only good until it returns.
	Heard func(status int, body []byte)
}

// Go has all devices ask at once, each one request after the other, until next has no more for a device (false) or ctx ends.
// next is called from as many goroutines as there are devices, with the device's number and how many requests it made
// before. A request that is under way when ctx ends is waited for: what was acknowledged is counted.
func (c *Crowd) Go(ctx context.Context, next func(device, turn int) (Ask, bool)) *Tally {
	tallies := make([]*Tally, len(c.devices))
	start := make(chan struct{})
	var wg sync.WaitGroup
	for i, d := range c.devices {
		tallies[i] = newTally()
		wg.Go(func() {
			<-start
			for turn := 0; ctx.Err() == nil; turn++ {
				a, more := next(i, turn)
				if !more {
					return
				}
				tallies[i].add(d.timed(c.host, &a))
			}
		})
	}
	begun := time.Now()
	close(start)
	wg.Wait()
	all := newTally()
	all.Took = time.Since(begun)
	for _, t := range tallies {
		all.join(t)
	}
	all.sort()
	return all
}

// timed asks and measures, from before the request is written until its answer is read.
func (d *device) timed(host string, a *Ask) (string, outcome) {
	o := outcome{}
	heard := a.Heard
	a.Heard = func(status int, body []byte) {
		if status >= 400 {
			o.said = clip(body)
		}
		if heard != nil {
			heard(status, body)
		}
	}
	begun := time.Now()
	o.status, o.err = d.ask(host, a, false)
	o.took = time.Since(begun)
	return a.Kind, o
}

// ask sends one request and hands the answer to whoever asked for it. Cookies of the answer are kept if they are wanted.
func (d *device) ask(host string, a *Ask, cookies bool) (status int, err error) {
	req, res := fasthttp.AcquireRequest(), fasthttp.AcquireResponse()
	defer fasthttp.ReleaseRequest(req)
	defer fasthttp.ReleaseResponse(res)
	req.Header.SetMethod(a.Method)
	req.SetRequestURI(a.Path)
	req.Header.SetHost(host)
	if d.cookie != "" {
		req.Header.Set("Cookie", d.cookie)
	}
	if a.Body != nil {
		req.Header.SetContentType("application/json")
		req.SetBodyRaw(a.Body)
	}
	if a.Packed {
		req.Header.Set("Accept-Encoding", "gzip")
	}
	req.SetTimeout(patience)
	if err := d.client.Do(req, res); err != nil {
		return 0, err
	}
	if cookies {
		d.keep(&res.Header)
	}
	if a.Heard != nil {
		a.Heard(res.StatusCode(), res.Body())
	}
	return res.StatusCode(), nil
}
