package auth

import (
	"cmp"
	"context"
	"crypto/subtle"
	"fmt"
	"slices"
	"strings"
	"time"

	"grainward/records"
)

const (
	// CodeLasts is how long an enrolment code is taken, unless another time is asked for.
	CodeLasts = 15 * time.Minute
	// CodeMost is the longest it may be.
	CodeMost = 24 * time.Hour

	codeLetters = 8 // 40 bits: guessing among a few for a quarter of an hour is hopeless even unhindered
	devicesMost = 300
	codesMost   = 20
)

// Device is a browser that a lead enrolled.
type Device struct {
	Code        records.DeviceCode `json:"code"`
	Name        string             `json:"name"`
	Made        records.Instant    `json:"made"`
	By          records.PersonCode `json:"by,omitzero"` // who made the code; empty from the command line
	Seen        records.Instant    `json:"seen"`        // last used, to the minute
	Withdrawn   records.Instant    `json:"withdrawn,omitzero"`
	WithdrawnBy records.PersonCode `json:"withdrawnBy,omitzero"`
}

type device struct {
	Device
	Hash string `json:"hash"` // of its token
}

// code is an enrolment code that was made, under the hash of what is typed.
type code struct {
	Name string             `json:"name"`
	By   records.PersonCode `json:"by,omitzero"`
	Ends records.Instant    `json:"ends"`
	Used bool               `json:"used,omitzero"`
}

// good says that a code has not run out, nor was made before the clock was set back.
func (c *code) good(now records.Instant) bool {
	return now < c.Ends && !ahead(c.Ends, now.Add(CodeMost))
}

// MakeCode makes an enrolment code for one device of a name, to be used once within lasts (CodeLasts when 0). It is shown as
// four letters and digits, a hyphen, and four more; only its hash is kept.
func (s *Store) MakeCode(ctx context.Context, by records.PersonCode, name string, lasts time.Duration) (text string, ends records.Instant, err error) {
	if err := checkName(name); err != nil {
		return "", 0, err
	}
	if err := s.sweepNow(ctx); err != nil {
		return "", 0, err
	}
	if lasts <= 0 {
		lasts = CodeLasts
	}
	ends = s.now().Add(min(lasts, CodeMost))
	waiting := 0
	if err := all(ctx, s.in, inCodes, func(_ string, c code) error {
		if !c.Used && c.good(s.now()) {
			waiting++
		}
		return nil
	}); err != nil {
		return "", 0, err
	}
	if waiting >= codesMost {
		return "", 0, &records.Error{Kind: records.Invalid, What: fmt.Sprintf("%d codes are waiting to be used", waiting), Do: "Use one of them, or wait a quarter of an hour."}
	}
	if text, err = randomLetters(codeLetters); err != nil {
		return "", 0, err
	}
	err = change(ctx, s.in, inCodes, codeKey(text), func(c *code, _ bool) (bool, error) {
		*c = code{Name: name, By: by, Ends: ends}
		return true, nil
	})
	return text[:4] + "-" + text[4:], ends, err
}

func codeKey(text string) string { return hashOf([]byte("enrol " + text)) }

// plainLetters is a code as it was made, however it is typed.
func plainLetters(text string) string {
	return strings.Map(func(c rune) rune {
		switch c {
		case 'o', 'O':
			return '0'
		case 'i', 'I', 'l', 'L':
			return '1'
		case '-', ' ', '\t', '\u00a0', '–':
			return -1
		}
		return c
	}, strings.ToUpper(text))
}

// Enrol takes a code and gives the browser its secret, for good. Wrong codes count for the address.
func (s *Store) Enrol(ctx context.Context, text, address string) (token string, d Device, a Answer, err error) {
	place := Try{Address: address}.place()
	a, ok, err := s.reserve(ctx, place, ofPlace)
	if err != nil || !ok {
		a.Place = true
		return "", d, a, err
	}
	var of code
	taken := false
	err = change(ctx, s.in, inCodes, codeKey(plainLetters(text)), func(c *code, there bool) (bool, error) {
		if taken = there && !c.Used && c.good(s.now()); taken {
			of, c.Used = *c, true
		}
		return taken, nil
	})
	if err != nil || !taken {
		return "", d, a, err
	}
	if err := s.giveBack(ctx, place); err != nil {
		return "", d, a, err
	}
	if err := s.roomForDevice(ctx); err != nil {
		return "", d, a, err
	}
	token, d, err = s.addDevice(ctx, of)
	return token, d, Answer{Outcome: Right}, err
}

func (s *Store) roomForDevice(ctx context.Context) error {
	n := 0
	err := all(ctx, s.in, inDevices, func(_ string, d device) error {
		if d.Withdrawn == 0 {
			n++
		}
		return nil
	})
	if err == nil && n >= devicesMost {
		return &records.Error{Kind: records.Invalid, What: fmt.Sprintf("%d devices are enrolled", n), Do: "Withdraw those that are not used any more."}
	}
	return err
}

func (s *Store) addDevice(ctx context.Context, of code) (token string, d Device, err error) {
	secret, kept, err := newToken()
	if err != nil {
		return "", d, err
	}
	for { // until the code is one that nobody has
		end, err := randomLetters(4)
		if err != nil {
			return "", d, err
		}
		d = Device{Code: records.DeviceCode(slug(of.Name) + "-" + strings.ToLower(end)), Name: of.Name, Made: s.now(), By: of.By, Seen: s.now()}
		free := false
		err = change(ctx, s.in, inDevices, string(d.Code), func(v *device, there bool) (bool, error) {
			free = !there
			*v = device{d, kept}
			return free, nil
		})
		if err != nil || free {
			return string(d.Code) + "." + secret, d, err
		}
	}
}

// slug is a name as part of a code.
func slug(name string) string {
	words := strings.FieldsFunc(strings.ToLower(name), func(c rune) bool { return (c < 'a' || c > 'z') && (c < '0' || c > '9') })
	text := strings.Join(words, "-")
	if text = strings.Trim(text[:min(len(text), 24)], "-"); text == "" {
		return "device"
	}
	return text
}

// Device is the device whose secret a browser shows; its code is empty when it is none, or was withdrawn.
func (s *Store) Device(ctx context.Context, token string) (d Device, err error) {
	name, secret, _ := strings.Cut(token, ".")
	kept, ok := keptOf(secret)
	if !ok || records.CheckCode(name) != nil {
		return d, nil
	}
	v, there, err := recent[device](ctx, s.in, inDevices, name)
	if err != nil || !there || v.Withdrawn != 0 || subtle.ConstantTimeCompare([]byte(v.Hash), []byte(kept)) != 1 {
		return d, err
	}
	if now := s.now(); now >= v.Seen.Add(touchAfter) || ahead(v.Seen, now) {
		err = s.changeDevice(ctx, v.Code, func(v *device) { v.Seen = now })
		if unprolonged(err) {
			err = nil
		}
	}
	return v.Device, err
}

// Devices are all that are or were enrolled: first those that are, by name.
func (s *Store) Devices(ctx context.Context) (ds []Device, err error) {
	err = all(ctx, s.in, inDevices, func(_ string, d device) error {
		ds = append(ds, d.Device)
		return nil
	})
	slices.SortStableFunc(ds, func(a, b Device) int {
		return cmp.Or(cmp.Compare(a.Withdrawn, b.Withdrawn), strings.Compare(strings.ToLower(a.Name), strings.ToLower(b.Name)), cmp.Compare(a.Made, b.Made))
	})
	return ds, err
}

// RenameDevice gives a device another name; its code, which the records have, stays.
func (s *Store) RenameDevice(ctx context.Context, c records.DeviceCode, name string) error {
	if err := checkName(name); err != nil {
		return err
	}
	return s.changeDevice(ctx, c, func(d *device) { d.Name = name })
}

// WithdrawDevice ends a device and every sign-in made on it.
func (s *Store) WithdrawDevice(ctx context.Context, c records.DeviceCode, by records.PersonCode) error {
	return s.changeDevice(ctx, c, func(d *device) {
		if d.Withdrawn == 0 {
			d.Withdrawn, d.WithdrawnBy, d.Hash = s.now(), by, ""
		}
	})
}

func (s *Store) changeDevice(ctx context.Context, c records.DeviceCode, do func(*device)) error {
	return change(ctx, s.in, inDevices, plainCode(string(c)), func(d *device, there bool) (bool, error) {
		if !there {
			return false, &records.Error{Kind: records.NotFound, What: "there is no such device"}
		}
		do(d)
		return true, nil
	})
}
