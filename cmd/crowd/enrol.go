package crowd

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/valyala/fasthttp"

	"grainward/records"
)

// Pass is what one device needs to be let in.
type Pass struct {
	Code   string             // an enrolment code, which counts once
	Person records.PersonCode // who signs in on it
	PIN    string
}

// Crowd is devices that are enrolled, with somebody signed in on each.
type Crowd struct {
	host    string
	devices []*device
}

// device is one of them: its connection and its cookies.
type device struct {
	client *fasthttp.HostClient
	cookie string
	person records.PersonCode
}

// patience is how long an answer is waited for.
const patience = 30 * time.Second

// Most is how many devices a crowd can have: the loopback addresses 127.1.0.1 to 127.1.3.254.
const Most = 4 * 254

// Enrol makes a device of each pass and signs its person in. base is the server's address, on this machine and unencrypted.
func Enrol(ctx context.Context, base string, passes []Pass) (*Crowd, error) {
	at, err := url.Parse(base)
	if err != nil || at.Scheme != "http" || at.Host == "" {
		return nil, &records.Error{Kind: records.Invalid, What: fmt.Sprintf("%q is not the address of a server on this machine", base), Do: "Write it like http://127.0.0.1:8417."}
	}
	c := &Crowd{host: at.Host}
	if err := c.Add(ctx, passes); err != nil {
		c.Leave()
		return nil, err
	}
	return c, nil
}

// Add enrols more devices: a server lets only so many codes wait to be used, so that many devices come in groups.
func (c *Crowd) Add(ctx context.Context, passes []Pass) error {
	if n := len(c.devices) + len(passes); n > Most {
		return &records.Error{Kind: records.Invalid, What: fmt.Sprintf("%d devices are more than there are addresses for", n), Do: fmt.Sprintf("Take at most %d.", Most)}
	}
	for i, p := range passes {
		d := &device{person: p.Person, client: &fasthttp.HostClient{Addr: c.host, Dial: dialFrom(len(c.devices)), MaxConns: 1, NoDefaultUserAgentHeader: true,
			MaxIdleConnDuration: time.Hour, DisablePathNormalizing: true, MaxIdemponentCallAttempts: 1}}
		c.devices = append(c.devices, d)
		if err := d.enter(ctx, c.host, p); err != nil {
			return fmt.Errorf("device %d of %d, for %s: %w", i+1, len(passes), p.Person, err)
		}
	}
	return nil
}

// dialFrom dials from the loopback address of a device.
func dialFrom(i int) fasthttp.DialFunc {
	from := &net.TCPAddr{IP: net.IPv4(127, 1, byte(i/254), byte(i%254+1))}
	d := net.Dialer{LocalAddr: from, Timeout: 10 * time.Second}
	return func(addr string) (net.Conn, error) {
		conn, err := d.Dial("tcp4", addr)
		if err != nil {
			return nil, fmt.Errorf("speaking from %s to %s (each device has a loopback address of its own; not every system has them): %w", from.IP, addr, err)
		}
		return conn, nil
	}
}

// enter enrols the device and signs its person in.
func (d *device) enter(ctx context.Context, host string, p Pass) error {
	type code struct {
		Code string `json:"code"`
	}
	type secret struct {
		Person records.PersonCode `json:"person"`
		Secret string             `json:"secret"`
	}
	for _, step := range []struct {
		path string
		body any
	}{{"/api/enrol", code{p.Code}}, {"/api/sign-in", secret{p.Person, p.PIN}}} {
		if err := ctx.Err(); err != nil {
			return err
		}
		body, err := json.Marshal(step.body)
		if err != nil {
			return err
		}
		var refused error
		_, err = d.ask(host, &Ask{Method: http.MethodPost, Path: step.path, Body: body, Heard: func(status int, said []byte) {
			if status >= 300 {
				refused = fmt.Errorf("POST %s was answered with %d: %s", step.path, status, clip(said))
			}
		}}, true)
		if err = errors.Join(err, refused); err != nil {
			return err
		}
	}
	return nil
}

// Len is how many devices there are.
func (c *Crowd) Len() int { return len(c.devices) }

// Person is who is signed in on a device.
func (c *Crowd) Person(device int) records.PersonCode { return c.devices[device].person }

// Leave closes the connections. The sign-ins stay until the server ends them.
func (c *Crowd) Leave() {
	for _, d := range c.devices {
		d.client.CloseIdleConnections()
	}
}

// keep adds the cookies of an answer to those the device sends.
func (d *device) keep(h *fasthttp.ResponseHeader) {
	have := map[string]string{}
	var order []string
	put := func(name, value string) {
		if _, known := have[name]; !known {
			order = append(order, name)
		}
		have[name] = value
	}
	for part := range strings.SplitSeq(d.cookie, "; ") {
		if name, value, ok := strings.Cut(part, "="); ok {
			put(name, value)
		}
	}
	h.VisitAllCookie(func(_, line []byte) {
		if ck, err := http.ParseSetCookie(string(line)); err == nil {
			put(ck.Name, ck.Value)
		}
	})
	var all []string
	for _, name := range order {
		if have[name] != "" {
			all = append(all, name+"="+have[name])
		}
	}
	d.cookie = strings.Join(all, "; ")
}

// clip keeps what a server said readable in an error.
func clip(said []byte) string {
	const most = 300
	if len(said) > most {
		return strings.ToValidUTF8(string(said[:most]), "") + "…"
	}
	return string(said)
}
