package server

import (
	"errors"
	"net/http"
	"slices"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"
	"github.com/valyala/fasthttp"
)

const (
	fieldsMost = 1000             // of one form
	readTime   = 20 * time.Second // for a whole request to arrive
	uploadTime = 3 * time.Minute  // for one with pictures, over a poor network
	connsMost  = 1024             // at once
)

// limit bounds what is read of a request as soon as its headers are there, and before any of its body is kept: by its route, and
// pictures only from a browser that carries a sign-in.
func (s *Server) limit(h *fasthttp.RequestHeader) fasthttp.RequestConfig {
	path, _, _ := strings.Cut(string(h.RequestURI()), "?")
	if _, rest, absolute := strings.Cut(path, "://"); absolute { // RFC 9112 section 3.2.2
		_, path, _ = strings.Cut(rest, "/")
		path = "/" + path
	}
	c := fasthttp.RequestConfig{ReadTimeout: s.app.Server().ReadTimeout, MaxRequestBodySize: formMost}
	rt := findIn(s.table, string(h.Method()), path)
	if rt == nil {
		return c
	}
	big := rt.Uploads || rt.Takes == aPhoto || rt.Takes == aFile
	if big && len(h.Cookie(cookieName)) == 0 {
		return c
	}
	c.MaxRequestBodySize = max(rt.most(), formMost)
	if big {
		c.ReadTimeout = uploadTime
	}
	return c
}

// knownMethods lets a method that HTTP does not know be answered as one that nothing here takes (TRACE), with a page that says so: the
// framework's own answer is three words.
func knownMethods(next fasthttp.RequestHandler) fasthttp.RequestHandler {
	return func(c *fasthttp.RequestCtx) {
		if !slices.Contains(fiber.DefaultMethods, string(c.Method())) {
			c.Request.Header.SetMethod(http.MethodTrace)
		}
		next(c)
	}
}

// findIn is the row of a table that answers a path, or nil.
func findIn(table []route, method, path string) *route {
	for i := range table {
		if rt := &table[i]; rt.Method == method && rt.answers(path) {
			return rt
		}
	}
	return nil
}

// answers says whether a path is one of the route's. It is asked of every request before anything else, and makes nothing.
func (rt *route) answers(path string) bool {
	if strings.IndexByte(rt.Path, ':') < 0 {
		return path == rt.Path
	}
	for want, have := rt.Path, path; ; {
		w, wantMore, wantEnd := strings.Cut(want, "/")
		h, haveMore, haveEnd := strings.Cut(have, "/")
		if w != h && (!strings.HasPrefix(w, ":") || h == "") {
			return false
		}
		if wantEnd != haveEnd || !wantEnd {
			return wantEnd == haveEnd
		}
		want, have = wantMore, haveMore
	}
}

// badRequest says that something is no request as HTTP has it, or arrived too slowly.
type badRequest struct {
	status int
	key    string // of a text
}

func (e badRequest) Error() string { return "not a request: " + e.key }

// whatRefused words what the framework would not hand to a route.
func whatRefused(err error) error {
	var own *fiber.Error
	if !errors.As(err, &own) {
		return err
	}
	switch own.Code {
	case http.StatusRequestEntityTooLarge:
		return errTooLarge
	case http.StatusRequestHeaderFieldsTooLarge:
		return badRequest{own.Code, "headers-too-large"}
	case http.StatusRequestTimeout:
		return badRequest{own.Code, "too-slow"}
	}
	if own.Code >= 400 && own.Code < 500 {
		return badRequest{own.Code, "not-http"}
	}
	return err
}
