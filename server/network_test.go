package server

import (
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"grainward/server/trust"
)

const lanName = "malthouse.local"

// onNetwork gives a world a plant authority and the name malthouse.local; dir is where the authority lies.
func (w *world) onNetwork() (dir string) {
	w.Helper()
	dir = w.T.TempDir()
	p, err := trust.Open(dir, trust.Options{Now: time.Now, Plant: "Quillmere Maltings", Find: func() (trust.Names, error) {
		return trust.Names{Hosts: []string{lanName, "localhost"}, Addresses: []netip.Addr{netip.MustParseAddr("192.168.7.20"), netip.MustParseAddr("127.0.0.1")}, Given: 1, Without: []string{"203.0.113.7"}}, nil
	}})
	if err != nil {
		w.Fatal(err)
	}
	w.Network, w.TLS = p, true
	return dir
}

func get(host, path string) *http.Request {
	return httptest.NewRequest("GET", "http://"+host+path, nil)
}

// Only the names of the certificate are answered, and forms from there are taken.
func TestNetworkNames(t *testing.T) {
	w := plant(t)
	w.wants(w.send(get(lanName, "/")), 403)
	w.onNetwork()
	for host, status := range map[string]int{lanName: 200, "MALTHOUSE.local:8443": 200, "192.168.7.20:8443": 200, "localhost": 200, "127.0.0.1:8443": 200,
		"elsewhere.example": 403, "203.0.113.7": 403, "192.168.7.21": 403, "malthouse.local.elsewhere.example": 403} {
		got := w.send(get(host, "/"))
		if got.StatusCode != status {
			t.Errorf("%s: %d, not %d", host, got.StatusCode, status)
		}
		if got.Header.Get("Strict-Transport-Security") != "" {
			t.Error("HSTS would lock phones out of the certificate's own page")
		}
		w.safe(got)
	}
	req := request1(lanName+":8443", hygiene, signing("hank"), w.token[crew])
	req.Header.Set("Origin", "https://"+lanName+":8443")
	w.wants(w.send(req), 303)
	req = request1(lanName+":8443", hygiene, signing("hank"), w.token[crew])
	req.Header.Set("Origin", "http://"+lanName+":8480") // the unencrypted door is another site
	w.wants(w.send(req), 403)
	if c := w.cookie("x"); !strings.Contains(c, "Secure") {
		t.Error(c)
	}
	w.wants(w.ask(nobody, "/", nil), 200, `href="/install"`)
}

// The unencrypted door hands out the certificate and leads to the encrypted address; nobody is signed in there.
func TestDoor(t *testing.T) {
	w := plant(t)
	dir := w.onNetwork()
	w.at = reached{port: "8443", install: "8480"}
	ask := func(req *http.Request) answered {
		t.Helper()
		req.AddCookie(&http.Cookie{Name: cookieName, Value: w.token[lead]})
		app := w.app
		w.app = w.door
		defer func() { w.app = app }()
		return w.send(req)
	}
	got := ask(get(lanName, "/?lang=es"))
	w.wants(got, 200, "Esta red", "http://malthouse.local:8480/", "https://malthouse.local:8443/")
	if strings.Contains(got.body, "Nora") {
		t.Error("somebody is signed in without encryption")
	}
	w.safe(got)
	text, err := os.ReadFile(filepath.Join(dir, "authority.crt"))
	if err != nil {
		t.Fatal(err)
	}
	block, _ := pem.Decode(text)
	der := ask(get(lanName, "/authority.crt"))
	if der.body != string(block.Bytes) || der.Header.Get("Content-Type") != "application/x-x509-ca-cert" || der.Header.Get("Content-Disposition") != "" {
		t.Error(der.Header)
	}
	if got := ask(get(lanName, "/authority.pem")); got.body != string(text) || got.Header.Get("Content-Type") != "application/x-pem-file" {
		t.Error(got.Header, got.body)
	}
	sum := sha256.Sum256(block.Bytes)
	for i := 0; i < 32; i += 8 {
		if row := fmt.Sprintf("% X", sum[i:i+8]); !strings.Contains(got.body, row) {
			t.Errorf("the row %s is not on the page", row)
		}
	}
	for from, to := range map[string]string{"/station/floor-1?a=b": "https://malthouse.local:8443/station/floor-1?a=b", "//elsewhere.example/x": "https://malthouse.local:8443//elsewhere.example/x", "/findings": "https://malthouse.local:8443/findings"} {
		if got := ask(get(lanName, from)); got.StatusCode != 303 || got.to() != to {
			t.Errorf("%s: %d to %s", from, got.StatusCode, got.to())
		}
	}
	before := w.size()
	if got := ask(request1(lanName, hygiene, signing("hank"), w.token[crew])); got.StatusCode < 400 || w.size() != before {
		t.Error("the door took a form:", got.StatusCode)
	}
	w.wants(ask(get("elsewhere.example", "/")), 403)
}

func TestNetworkPage(t *testing.T) {
	w := plant(t)
	w.onNetwork()
	w.at = reached{port: "8443", install: "8480"}
	got := w.ask(lead, "/network", nil)
	w.wants(got, 200, "https://192.168.7.20:8443/", "203.0.113.7", "Quillmere Maltings plant network", `aria-label="QR code: http://malthouse.local:8480/"`)
	w.at.install = ""
	w.wants(w.ask(nobody, "/install", nil), 200, "https://malthouse.local:8443/install")
	// a certificate of the site's own
	w.at = reached{host: "10.1.2.3", port: "443"}
	if got := w.addresses(); got[0] != "https://malthouse.local:443/" {
		t.Error(got)
	}
}

// Run answers TLS at one port and hands out the certificate at another, and ends both.
func TestRunOnNetwork(t *testing.T) {
	w := plant(t)
	dir := w.onNetwork()
	w.InstallAt = "127.0.0.1:0"
	base := w.serve()
	text, err := os.ReadFile(filepath.Join(dir, "authority.crt"))
	if err != nil {
		t.Fatal(err)
	}
	pool := x509.NewCertPool()
	pool.AppendCertsFromPEM(text)
	client := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: pool}}, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	defer client.CloseIdleConnections()
	for _, url := range []string{base + "/", w.InstallAddress()} {
		res, err := client.Get(url)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close()
		if res.StatusCode != 200 {
			t.Error(url, res.Status)
		}
	}
	if !strings.HasPrefix(base, "https://127.0.0.1:") || !strings.HasPrefix(w.InstallAddress(), "http://127.0.0.1:") {
		t.Error(base, w.InstallAddress())
	}
	if _, err := http.Get(base); err == nil {
		t.Error("a client that does not trust the authority reached it")
	}
	if conn, err := net.Dial("tcp", strings.TrimSuffix(strings.TrimPrefix(base, "https://"), "/")); err == nil {
		fmt.Fprint(conn, "GET / HTTP/1.1\r\nHost: localhost\r\n\r\n")
		b := make([]byte, 64)
		n, _ := conn.Read(b)
		conn.Close()
		if strings.Contains(string(b[:n]), "200 OK") {
			t.Error("plain HTTP is answered on the network")
		}
	}
}

// trusting is a browser that has the authority of a directory installed, as a phone would, and finds malthouse.local here.
func trusting(t *testing.T, dir, base string, s size) *browser {
	t.Helper()
	_, err := exec.LookPath("certutil")
	outside(t, "certutil", err != nil)
	home := t.TempDir()
	db := filepath.Join(home, ".pki", "nssdb")
	if err := os.MkdirAll(db, 0o700); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"-N", "--empty-password"}, {"-A", "-t", "C,,", "-n", "plant", "-i", filepath.Join(dir, "authority.crt")}} {
		if out, err := exec.Command("certutil", append([]string{"-d", "sql:" + db}, args...)...).CombinedOutput(); err != nil {
			t.Fatalf("certutil: %v %s", err, out)
		}
	}
	return newBrowser(t, base, s, chromedp.Env("HOME="+home, "XDG_DATA_HOME="+filepath.Join(home, ".local", "share"), "XDG_CONFIG_HOME="+filepath.Join(home, ".config")),
		chromedp.Flag("host-resolver-rules", "MAP "+lanName+" 127.0.0.1"))
}

// A real browser that has the authority installed, and nothing switched off, takes the name on the plant's network for a
// secure origin: a service worker registers, and signing in works. Without the authority it does not get in.
func TestBrowserTrustsTheAuthority(t *testing.T) {
	w := plant(t)
	dir := w.onNetwork()
	base := strings.Replace(w.serve(), "127.0.0.1", lanName, 1)
	// a page with a worker of its own, under the same certificate
	ln, err := tls.Listen("tcp", "127.0.0.1:0", w.Network.TLS())
	if err != nil {
		t.Fatal(err)
	}
	files := &http.Server{Handler: http.HandlerFunc(func(rw http.ResponseWriter, req *http.Request) {
		if req.URL.Path == "/worker.mjs" {
			rw.Header().Set("Content-Type", "text/javascript")
			fmt.Fprint(rw, "self.addEventListener('install', () => self.skipWaiting());")
			return
		}
		rw.Header().Set("Content-Type", "text/html")
		fmt.Fprint(rw, "<!doctype html><title>x</title><p>here<footer></footer>")
	})}
	go files.Serve(ln)
	t.Cleanup(func() { files.Close() })
	_, port, _ := net.SplitHostPort(ln.Addr().String())

	b := trusting(t, dir, base, sizes[0])
	b.do(chromedp.Navigate("https://" + lanName + ":" + port + "/"))
	b.reads("here")
	got, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`isSecureContext ? navigator.serviceWorker.register('/worker.mjs', {type: 'module'}).then(() => navigator.serviceWorker.ready).then(r => r.active.scriptURL, e => String(e)) : 'not secure'`, chromedp.EvalAwaitPromise))
	if err != nil || got != "https://"+lanName+":"+port+"/worker.mjs" {
		t.Fatalf("%q %v", got, err)
	}
	b.carry(deviceCookie, w.key)
	b.signIn("hank", "Hank Osgood")
	b.open("/today")
	b.reads("Today’s work")

	// and the crew's own page has its worker
	b.do(chromedp.Navigate(base + "/crew"))
	got, err = chromedp.Run(b.ctx, chromedp.Evaluate[string](`navigator.serviceWorker.ready.then(r => new URL(r.active.scriptURL).origin)`, chromedp.EvalAwaitPromise))
	if err != nil || got != base {
		t.Errorf("the crew's page: %q %v", got, err)
	}

	stranger := newBrowser(t, base, sizes[0], chromedp.Flag("host-resolver-rules", "MAP "+lanName+" 127.0.0.1"))
	if _, err := chromedp.Run(stranger.ctx, chromedp.Navigate(base)); err == nil || !strings.Contains(err.Error(), "ERR_CERT_AUTHORITY_INVALID") {
		t.Errorf("a browser that does not trust the authority: %v", err)
	}
}
