package server

import (
	"net/url"
	"strings"
	"unicode/utf8"

	"grainward/records"
	"grainward/server/auth"
	"grainward/server/pages"
)

const withdrawnShown = 20 // of the devices that are no more

func (s *Server) devices(r *request) (reply, error) {
	p, err := s.devicesPage(r)
	return reply{page: p}, err
}

func (s *Server) devicesPage(r *request) (*pages.Devices, error) {
	all, err := s.Auth.Devices(r.ctx)
	if err != nil {
		return nil, err
	}
	p := &pages.Devices{Frame: s.frame(r, r.say("devices"), "devices")}
	for i := range all {
		row := r.deviceRow(&all[i])
		switch gone := r.query.Get("gone"); {
		case all[i].Withdrawn == 0:
			p.Rows = append(p.Rows, row)
			if row.Code == r.query.Get("named") {
				p.Notice = r.say("device-named", row.Name)
			}
			continue
		case gone != "" && gone == row.Code:
			p.Notice = r.say("device-withdrawn", row.Name)
		}
		p.Withdrawn = append([]pages.DeviceRow{row}, p.Withdrawn...) // they come the earliest first
	}
	p.Withdrawn = p.Withdrawn[:min(len(p.Withdrawn), withdrawnShown)]
	return p, nil
}

func (r *request) deviceRow(d *auth.Device) pages.DeviceRow {
	row := pages.DeviceRow{Href: "/devices/" + string(d.Code), Name: d.Name, Code: string(d.Code), Enrolled: r.moment(d.Made), Used: r.clock(d.Seen), This: d.Code == r.device}
	if d.By != "" {
		row.Enrolled += ", " + personName(r.plan, d.By)
	}
	if d.Withdrawn != 0 {
		row.Gone = r.moment(d.Withdrawn)
	}
	return row
}

// nameOf reads the name of a device. ok is false when it can not be one.
func nameOf(v url.Values) (name string, ok bool) {
	name = strings.Join(strings.Fields(v.Get("name")), " ")
	n := utf8.RuneCountInString(name)
	return name, n >= 1 && n <= auth.NameMost
}

// makeCode shows an enrolment code on the page that answers: it is kept nowhere, so there is no address to look at it again.
func (s *Server) makeCode(r *request) (reply, error) {
	p, err := s.devicesPage(r)
	if err != nil {
		return reply{}, err
	}
	name, ok := nameOf(r.form)
	if !ok {
		p.Messages, p.Typed = []pages.Message{{Field: "name", Text: r.say("device-name-bad")}}, r.form.Get("name")
		return again(p)
	}
	code, ends, err := s.Auth.MakeCode(r.ctx, r.who.Code, name, 0)
	if records.KindOf(err) == records.Invalid {
		p.Messages, p.Typed = []pages.Message{{Field: "name", Text: r.say("code-busy")}}, name
		return again(p)
	}
	if err != nil {
		return reply{}, err
	}
	s.Log.Info("enrolment code made", "request", r.id)
	p.Made = &pages.MadeCode{Name: name, Code: code, Link: s.address(r) + enrolHref(code), Until: r.clock(ends)}
	return page(p)
}

func enrolHref(code string) string { return "/enrol?" + url.Values{"code": {code}}.Encode() }

// address is where the browser found this server.
func (s *Server) address(r *request) string {
	if s.TLS {
		return "https://" + r.host
	}
	return "http://" + r.host
}

// theDevice is the one in the address, as long as it is enrolled.
func (s *Server) theDevice(r *request) (*auth.Device, error) {
	all, err := s.Auth.Devices(r.ctx)
	if err != nil {
		return nil, err
	}
	for i := range all {
		if string(all[i].Code) == r.params["device"] && all[i].Withdrawn == 0 {
			return &all[i], nil
		}
	}
	return nil, notFound()
}

func (s *Server) deviceForm(r *request) (reply, error) {
	d, err := s.theDevice(r)
	if err != nil {
		return reply{}, err
	}
	return page(s.devicePage(r, d, d.Name, nil))
}

func (s *Server) devicePage(r *request, d *auth.Device, typed string, ms []pages.Message) *pages.Device {
	return &pages.Device{Frame: s.frame(r, d.Name, "devices"), To: "/devices/" + string(d.Code), Row: r.deviceRow(d), Typed: typed, Messages: ms}
}

func (s *Server) changeDevice(r *request) (reply, error) {
	d, err := s.theDevice(r)
	if err != nil {
		return reply{}, err
	}
	if r.form.Get("do") == "withdraw" {
		s.Log.Info("device withdrawn", "request", r.id)
		return reply{redirect: "/devices?gone=" + string(d.Code)}, s.Auth.WithdrawDevice(r.ctx, d.Code, r.who.Code)
	}
	name, ok := nameOf(r.form)
	if ok {
		err = s.Auth.RenameDevice(r.ctx, d.Code, name)
	}
	if !ok || records.KindOf(err) == records.Invalid && err != nil {
		return again(s.devicePage(r, d, r.form.Get("name"), []pages.Message{{Field: "name", Text: r.say("device-name-bad")}}))
	}
	return reply{redirect: "/devices?named=" + string(d.Code)}, err
}

func (s *Server) enrolForm(r *request) (reply, error) {
	p, err := s.enrolPage(r, r.query.Get("code"), "")
	return reply{page: p}, err
}

func (s *Server) enrolPage(r *request, code, message string) (*pages.Enrol, error) {
	p := &pages.Enrol{Frame: s.frame(r, r.say("enrol"), ""), Code: code[:min(len(code), 20)], Message: message}
	if r.device != "" {
		d, err := s.Auth.Device(r.ctx, r.key)
		if err != nil {
			return nil, err
		}
		p.Already = d.Name
	}
	return p, nil
}

// enrol makes the browser that gives a code an enrolled device. A lead who makes their own browser one signs in again after it.
func (s *Server) enrol(r *request) (reply, error) {
	key, _, a, err := s.Auth.Enrol(r.ctx, r.form.Get("code"), r.address)
	if err != nil {
		return reply{}, err
	}
	if a.Outcome != auth.Right {
		s.Log.Warn("enrolment refused", "request", r.id, "outcome", outcomeWords[a.Outcome])
		message, status := r.say("enrol-wrong"), 422
		if a.Outcome != auth.Wrong {
			message, status = r.say("place-wait", r.toSecond(a.Until)), 429
		}
		p, err := s.enrolPage(r, r.form.Get("code"), message)
		return reply{status: status, page: p}, err
	}
	s.Log.Info("device enrolled", "request", r.id)
	return reply{redirect: "/", key: &key}, nil
}
