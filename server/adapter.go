package server

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"mime"
	"mime/multipart"
	"net/http"
	"net/netip"
	"net/url"
	"os"
	"runtime/debug"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
	jsonv1 "github.com/go-json-experiment/json/v1"
	"github.com/gofiber/fiber/v2"

	"grainward/records"
	"grainward/server/pages"
)

const (
	cookieName   = "grainward"         // of a sign-in
	deviceCookie = "grainward-device"  // of an enrolled device
	linkCookie   = "grainward-link"    // of an auditor's link
	quietHeader  = "Grainward-Refresh" // sent by static/events.mjs when a page refreshes itself
)

// asJSON writes what encoding/json writes, but a list that is empty is a list and never null, and what a journal keeps goes out byte
// for byte, so that whoever gets it can hash it.
var asJSON = json.JoinOptions(jsonv1.DefaultOptionsV1(), json.FormatNilSliceAsNull(false), json.FormatNilMapAsNull(false), jsontext.EscapeForHTML(false), jsontext.EscapeForJS(false))

// adapt joins a row of the table to the framework. It is the only place where a framework's context is read.
func (s *Server) adapt(rt *route) fiber.Handler {
	return func(c *fiber.Ctx) error {
		start := time.Now()
		r, err := s.read(c, rt)
		ctx, cancel := context.WithTimeout(context.Background(), askedTime)
		defer cancel()
		r.ctx = ctx
		var out reply
		if err == nil {
			out, err = s.handle(rt, r)
		} else {
			s.inTheirWords(r, err)
		}
		if err != nil {
			out = s.problem(rt, r, err)
		}
		status, err := s.write(c, rt, r, out)
		if err != nil { // the page itself could not be drawn
			s.Log.Error("page", "request", r.id, "route", rt.Path, "err", plain(err))
			if status, err = s.write(c, rt, r, s.problem(rt, r, err)); err != nil {
				return err
			}
		}
		s.answered(c, rt, r, status, time.Since(start))
		return nil
	}
}

// answered counts a request, and logs its one line.
func (s *Server) answered(c *fiber.Ctx, rt *route, r *request, status int, took time.Duration) {
	s.Watch.Asked(methodOf(rt), rt.Path, status, took)
	if !s.Log.Enabled(r.ctx, slog.LevelInfo) {
		return
	}
	s.Log.Info("asked", "request", r.id, "method", methodOf(rt), "route", rt.Path, "status", status, "seconds", float64(took.Microseconds())/1e6, "bytes", sentBytes(c))
}

// read copies a request out of the framework's memory. Nothing of what it returns may share bytes with c.
func (s *Server) read(c *fiber.Ctx, rt *route) (*request, error) {
	r := &request{id: newRequestID(), method: strings.Clone(c.Method()), path: strings.Clone(c.Path()), params: map[string]string{}, query: url.Values{}, form: url.Values{},
		files: map[string][]byte{}, names: map[string]string{}, token: strings.Clone(c.Cookies(cookieName)), key: strings.Clone(c.Cookies(deviceCookie)), pass: strings.Clone(c.Cookies(linkCookie)),
		address: remote(c), host: strings.Clone(string(c.Request().Host())), language: strings.Clone(c.Get("Accept-Language")), now: s.Now(), lang: "en",
		quiet: rt.Quiet || c.Get(quietHeader) != ""}
	if r.method == "HEAD" {
		r.method = "GET"
	}
	if rt.Door {
		r.token, r.key, r.pass = "", "", "" // nobody, no device and no link is known where the network is not encrypted
	}
	for name, value := range c.AllParams() {
		if plain, err := url.PathUnescape(value); err == nil {
			value = plain
		}
		r.params[strings.Clone(name)] = strings.Clone(value)
	}
	c.Context().QueryArgs().VisitAll(func(k, v []byte) { r.query.Add(string(k), string(v)) })
	r.lang = r.choose() // until it is known who asks
	if err := s.meter(r); err != nil {
		return r, err
	}
	if err := s.fromHere(c); err != nil {
		return r, err
	}
	if rt.Method == "" || rt.Method == "GET" { // an address that is none takes nothing in
		return r, nil
	}
	return r, readBody(c, rt, r)
}

// remote is the address a request comes from; of IPv6 the half that is one network's, as its user chooses the other.
func remote(c *fiber.Ctx) string {
	addr, ok := netip.AddrFromSlice(c.Context().RemoteIP())
	if !ok {
		return ""
	}
	if addr = addr.Unmap(); addr.Is6() {
		if p, err := addr.Prefix(64); err == nil {
			return p.String()
		}
	}
	return addr.String()
}

// readBody takes in what came with a request. Compressed bodies are not taken: a few bytes of them can be gigabytes. So the body
// is read as it came, and never by the framework's own ways, which would open it.
func readBody(c *fiber.Ctx, rt *route, r *request) error {
	if e := c.Get("Content-Encoding"); e != "" && !strings.EqualFold(e, "identity") {
		return wrongMedia{"identity"}
	}
	raw := c.Request().Body()
	if len(raw) > rt.most() {
		return errTooLarge
	}
	if rt.Takes != aForm {
		media, _, err := mime.ParseMediaType(c.Get("Content-Type"))
		if err != nil || !slices.Contains(rt.Takes.media(), media) {
			return wrongMedia{strings.Join(rt.Takes.media(), ", ")}
		}
		r.body = bytes.Clone(raw)
		return nil
	}
	return readForm(c, rt, r)
}

func readForm(c *fiber.Ctx, rt *route, r *request) error {
	if !strings.HasPrefix(strings.ToLower(c.Get("Content-Type")), "multipart/form-data") {
		if len(c.Request().Body()) > formMost {
			return errTooLarge
		}
		if c.Context().PostArgs().Len() > fieldsMost {
			return errTooLarge
		}
		c.Context().PostArgs().VisitAll(func(k, v []byte) { r.form.Add(string(k), string(v)) })
		return nil
	}
	if !rt.Uploads {
		return &records.Error{Kind: records.Invalid, What: "this form takes no files"}
	}
	form, err := c.MultipartForm()
	if err != nil {
		return &records.Error{Kind: records.Invalid, What: "the form that was sent can not be read", Do: "Load the page again and send it once more.", Err: err}
	}
	for name, values := range form.Value {
		for _, v := range values {
			r.form.Add(strings.Clone(name), strings.Clone(v))
		}
	}
	for name, files := range form.File {
		if len(files) == 0 || files[0].Size == 0 {
			continue // a file field left alone is sent empty
		}
		r.names[strings.Clone(name)] = strings.Clone(files[0].Filename)
		if r.files[strings.Clone(name)], err = readFile(files[0]); err != nil {
			return fmt.Errorf("reading a file that was sent: %w", err)
		}
	}
	return nil
}

func readFile(h *multipart.FileHeader) ([]byte, error) {
	f, err := h.Open()
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, records.MaxBlob+1))
}

// handle finds out who is asking, whether they may, and answers.
func (s *Server) handle(rt *route, r *request) (out reply, err error) {
	defer func() {
		if p := recover(); p != nil {
			s.Log.Error("panic", "request", r.id, "route", rt.Path, "at", string(debug.Stack()))
			err = errors.New("a fault of the program")
		}
	}()
	if err := s.identify(r); err != nil {
		return reply{}, err
	}
	if err := s.meterWriting(r); err != nil {
		return reply{}, err
	}
	if s.seen != nil {
		s.seen(r)
	}
	return s.allow(rt, r)
}

// write sends a reply. The status is what was sent.
func (s *Server) write(c *fiber.Ctx, rt *route, r *request, out reply) (int, error) {
	status := out.status
	if status == 0 {
		status = http.StatusOK
	}
	c.Set("X-Request-Id", r.id)
	setSafety(c, out.part)
	if out.token != nil {
		c.Response().Header.Add("Set-Cookie", s.cookie(*out.token))
	}
	if out.pass != nil {
		c.Response().Header.Add("Set-Cookie", s.linkCookie(*out.pass))
	}
	if out.key != nil {
		c.Response().Header.Add("Set-Cookie", s.keyCookie(*out.key))
	}
	if out.scope != "" {
		c.Set("Service-Worker-Allowed", out.scope)
	}
	if out.after > 0 {
		c.Set("Retry-After", strconv.Itoa(out.after))
	}
	if out.keep {
		c.Set("Cache-Control", "private, max-age=31536000, immutable")
	} else {
		c.Set("Cache-Control", "no-store")
	}
	switch {
	case status == http.StatusNoContent:
		return status, c.SendStatus(status)
	case out.stream != nil:
		c.Set("Content-Type", out.media)
		c.Status(status).Context().SetBodyStreamWriter(out.stream)
		return status, nil
	case out.redirect != "":
		c.Set("Location", out.redirect)
		return http.StatusSeeOther, c.SendStatus(http.StatusSeeOther)
	case out.json != nil:
		b, err := json.Marshal(out.json, asJSON)
		if err != nil {
			return 0, fmt.Errorf("writing JSON: %w", err)
		}
		media := "application/json"
		if status >= 400 {
			media = "application/problem+json"
		}
		return status, send(c, status, media, "", b)
	case out.file != "":
		f, err := os.Open(out.file)
		if err != nil {
			return 0, fmt.Errorf("opening what is to be sent: %w", err)
		}
		info, err := f.Stat()
		if err != nil {
			return 0, errors.Join(err, f.Close())
		}
		c.Set("Content-Type", out.media)
		c.Set("Content-Disposition", `attachment; filename="`+out.name+`"`)
		return status, c.Status(status).SendStream(f, int(info.Size())) // the framework closes it
	case out.data != nil:
		return status, send(c, status, out.media, out.name, out.data)
	}
	var b strings.Builder
	if err := pages.Render(&b, out.page); err != nil {
		return 0, err
	}
	return status, send(c, status, "text/html; charset=utf-8", "", []byte(b.String()))
}

func send(c *fiber.Ctx, status int, media, name string, body []byte) error {
	c.Set("Content-Type", media)
	body = packed(c, media, body)
	if name != "" {
		c.Set("Content-Disposition", `attachment; filename="`+name+`"`)
	}
	return c.Status(status).Send(body)
}

// inTheirWords finds out who asks although what they sent is not taken, so that they are told in their language. Whoever asks too often
// is not looked up: that would be work too.
func (s *Server) inTheirWords(r *request, why error) {
	var many tooMany
	if errors.As(why, &many) || errors.Is(why, errCrossSite) {
		return
	}
	if err := s.identify(r); err != nil {
		s.Log.Error("who asks is not known", "request", r.id, "err", plain(err))
	}
}

// refused answers what the framework would not hand to a route at all: too large, or not HTTP as it should be.
func (s *Server) refused(c *fiber.Ctx, err error) error {
	start := time.Now()
	r := &request{id: newRequestID(), method: "POST", now: s.Now(), language: strings.Clone(c.Get("Accept-Language"))}
	if s.Book != nil {
		r.view = s.Book.View()
	}
	r.lang = r.choose()
	r.token = strings.Clone(c.Cookies(cookieName))
	ctx, cancel := context.WithTimeout(context.Background(), askedTime)
	defer cancel()
	r.ctx = ctx
	err = whatRefused(err)
	s.inTheirWords(r, err)
	rt := &route{Path: "*", JSON: strings.HasPrefix(c.Path(), "/api/")}
	status, err := s.write(c, rt, r, s.problem(rt, r, err))
	s.answered(c, rt, r, status, time.Since(start))
	return err
}

func newRequestID() string {
	var b [8]byte
	_, _ = rand.Read(b[:]) // never fails, by its documentation
	return hex.EncodeToString(b[:])
}

func shortHex(b []byte) string { return hex.EncodeToString(b)[:12] }
