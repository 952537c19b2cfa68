package server

import (
	"net"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"grainward/server/auth"
)

// safety are the headers of every answer. There is no inline script or style anywhere, so none is allowed; nothing is
// fetched from elsewhere, and no page may be put into a frame.
var safety = map[string]string{
	"Content-Security-Policy": "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; worker-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
	"X-Content-Type-Options":  "nosniff",
	"X-Frame-Options":         "DENY",
	// not no-referrer: browsers then send "Origin: null" with our own forms, which is what a stranger's would say
	"Referrer-Policy":              "same-origin",
	"Cross-Origin-Opener-Policy":   "same-origin",
	"Cross-Origin-Resource-Policy": "same-origin",
	"Permissions-Policy":           "geolocation=(), microphone=(), camera=()",
}

// partSafety are those that say something to a browser about a file that is no document: a module, a style sheet, an icon. The others
// would be most of what a small file weighs.
var partSafety = []string{"X-Content-Type-Options", "Cross-Origin-Resource-Policy"}

// safetyLines are safety as it goes out; the names are spelled as HTTP spells them, so that nobody has to look at them for each answer.
var safetyLines = func() (all []safetyLine) {
	for name, value := range safety {
		all = append(all, safetyLine{[]byte(name), []byte(value), slices.Contains(partSafety, name)})
	}
	return all
}()

type safetyLine struct {
	name, value []byte
	ofParts     bool
}

func setSafety(c *fiber.Ctx, part bool) {
	for _, l := range safetyLines {
		if !part || l.ofParts {
			c.Response().Header.SetCanonical(l.name, l.value)
		}
	}
}

// fromHere refuses what another site's page sent. The rules are those of net/http's CrossOriginProtection (Sec-Fetch-Site,
// else Origin against Host); beside it only the names of this machine and those its certificate covers are answered, so that a name of somebody else's that
// was made to point here counts as another site.
//
// There is no Strict-Transport-Security. Browsers take none from an address (RFC 6797, 8.1.1), and for a name inside the plant it would
// also stop the unencrypted port that hands out the certificate, which is most needed on the day the browser does not believe
// the server. There is nothing it could protect: records are answered by TLS only, and cookies are Secure.
func (s *Server) fromHere(c *fiber.Ctx) error {
	host := string(c.Request().Host())
	name, _, err := net.SplitHostPort(host)
	if err != nil {
		name = strings.Trim(host, "[]")
	}
	ours := loopback(name) || s.Network != nil && s.Network.Covers(name)
	if s.Host != "" {
		ours = hostName(host) == s.Host
	}
	if !ours {
		return errCrossSite
	}
	asked := &http.Request{Method: c.Method(), Host: host, URL: &url.URL{Path: c.Path()}, Header: http.Header{}} // gone when this is: nothing is copied for it
	for _, h := range []string{"Origin", "Sec-Fetch-Site"} {
		if v := c.Get(h); v != "" {
			asked.Header.Set(h, v)
		}
	}
	if s.cross.Check(asked) != nil {
		return errCrossSite
	}
	return nil
}

// keyLasts is as long as browsers keep a cookie.
const keyLasts = 400 * 24 * time.Hour

// keyCookie carries the secret of an enrolled device, or takes it away when it is empty. It is given anew at each sign-in.
func (s *Server) keyCookie(key string) string {
	c := http.Cookie{Name: deviceCookie, Value: key, Path: "/", HttpOnly: true, Secure: s.TLS, SameSite: http.SameSiteStrictMode, MaxAge: int(keyLasts / time.Second)}
	if key == "" {
		c.MaxAge = -1
	}
	return c.String()
}

// cookie carries a token, or takes it away when it is empty.
func (s *Server) cookie(token string) string {
	c := http.Cookie{Name: cookieName, Value: token, Path: "/", HttpOnly: true, Secure: s.TLS, SameSite: http.SameSiteStrictMode, MaxAge: int(auth.Absolute / time.Second)}
	if token == "" {
		c.MaxAge = -1
	}
	return c.String()
}

// linkCookie carries an auditor's link for as long as the browser is open, or takes it away when it is empty. It opens nothing but
// reading, and it must come along when the address is followed from a letter, which Strict would not allow.
func (s *Server) linkCookie(pass string) string {
	c := http.Cookie{Name: linkCookie, Value: pass, Path: "/", HttpOnly: true, Secure: s.TLS, SameSite: http.SameSiteLaxMode}
	if pass == "" {
		c.MaxAge = -1
	}
	return c.String()
}
