package server

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"net"
	"net/http"
	"net/http/httptest"
	"net/http/httputil"
	"net/url"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"grainward/records"
)

// What the tests of the crew's page stand on: a plant whose clock is the real one's day, a network that can fail, and a browser
// that keeps what it has when its process is killed.

// gate is the network between a browser and the server. It can be cut, lose answers, and counts what goes to the browser.
type gate struct {
	*testing.T
	url    string
	addr   string
	to     *httputil.ReverseProxy
	server *http.Server
	lose   atomic.Bool  // entries and photos go in, and their answers are lost on the way
	ahead  atomic.Int64 // milliseconds the clocks of the devices are ahead of the machine's
	guest  atomic.Bool  // every answer is a guest network's own page
	sent   atomic.Int64 // bytes to the browser, heads and all
	mu     sync.Mutex
	keys   map[string]string // of the devices, by their folder
	asked  map[string]int    // how often, by method and path
	worker sync.Mutex        // held while no service worker may be had
}

func newGate(t *testing.T, base string) *gate {
	t.Helper()
	to, err := url.Parse(base)
	if err != nil {
		t.Fatal(err)
	}
	g := &gate{T: t, to: httputil.NewSingleHostReverseProxy(to), addr: "127.0.0.1:0", asked: map[string]int{}, keys: map[string]string{}}
	g.to.Transport = &http.Transport{DisableKeepAlives: true}
	g.open()
	t.Cleanup(g.cut)
	return g
}

// open listens, at the same address as before.
func (g *gate) open() {
	g.Helper()
	ln, err := net.Listen("tcp", g.addr)
	if err != nil {
		g.Fatal(err)
	}
	g.addr = ln.Addr().String()
	g.url = "http://" + g.addr
	g.server = &http.Server{Handler: g}
	go g.server.Serve(countingListener{ln, &g.sent})
}

// cut ends it: nobody listens any more.
func (g *gate) cut() { g.server.Close() }

func (g *gate) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	g.mu.Lock()
	g.asked[r.Method+" "+r.URL.Path]++
	g.mu.Unlock()
	if g.guest.Load() {
		w.Header().Set("Content-Type", "text/html")
		w.Write([]byte("<h1>Welcome to the guest network</h1>"))
		return
	}
	if strings.HasSuffix(r.URL.Path, "/worker.mjs") { // the worker's clock is the device's too
		g.worker.Lock()
		defer g.worker.Unlock()
		r.Header.Del("Accept-Encoding")
		rec := httptest.NewRecorder()
		g.to.ServeHTTP(rec, r)
		for name, values := range rec.Header() {
			w.Header()[name] = values
		}
		w.Header().Del("Content-Length")
		w.Write([]byte(shiftClock(g.ahead.Load())))
		w.Write(rec.Body.Bytes())
		return
	}
	if g.lose.Load() && (r.URL.Path == "/api/entries" || strings.HasPrefix(r.URL.Path, "/api/photos/")) {
		g.to.ServeHTTP(lost{http.Header{}}, r)
		conn, _, err := http.NewResponseController(w).Hijack()
		if err == nil {
			conn.Close()
		}
		return
	}
	g.to.ServeHTTP(w, r)
}

func (g *gate) times(what string) int {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.asked[what]
}

// lost is an answer nobody gets.
type lost struct{ head http.Header }

func (l lost) Header() http.Header         { return l.head }
func (l lost) Write(b []byte) (int, error) { return len(b), nil }
func (l lost) WriteHeader(int)             {}

type countingListener struct {
	net.Listener
	n *atomic.Int64
}

func (l countingListener) Accept() (net.Conn, error) {
	c, err := l.Listener.Accept()
	if err != nil {
		return nil, err
	}
	return countingConn{c, l.n}, nil
}

type countingConn struct {
	net.Conn
	n *atomic.Int64
}

func (c countingConn) Write(b []byte) (int, error) {
	n, err := c.Conn.Write(b)
	c.n.Add(int64(n))
	return n, err
}

// press and see, on the crew's page.
func (b *browser) tap(sel string) {
	b.Helper()
	quoted, _ := json.Marshal(sel)
	b.comes("document.querySelector(" + string(quoted) + ")")
	for {
		err := chromedp.Do(b.ctx, chromedp.Click(chromedp.CSS(sel)))
		if err == nil {
			return
		}
		if !strings.Contains(err.Error(), "node") || b.ctx.Err() != nil { // else it was drawn anew between finding and touching it
			b.Fatal(sel, err)
		}
	}
}

// comes waits for an expression to be true of the crew's page, and else says what the device has not sent.
func (b *browser) comes(js string) {
	b.Helper()
	if !b.becomes(js) {
		text, _ := b.try("document.location.href + '\\n' + document.body.innerText")
		stuck, _ := chromedp.Run(b.ctx, chromedp.Evaluate[string](`import(document.querySelector('script[type=module]').src.replace('crew.mjs', 'queue.mjs')).then(q => q.unsent()).then(u => JSON.stringify(u))`, chromedp.EvalAwaitPromise))
		b.Fatalf("%s does not come true; there is %s\n%s", js, text, stuck)
	}
}

func (b *browser) sees(word string) {
	b.Helper()
	quoted, _ := json.Marshal(word)
	b.comes("document.body.innerText.includes(" + string(quoted) + ")")
}

// crewAt opens the crew's page at a station and waits until it runs.
func (b *browser) crewAt(station string) {
	b.Helper()
	b.open("/crew?station=" + station)
	b.comes("document.body.dataset.ready")
}

// am chooses somebody and gives their PIN.
func (b *browser) am(who, pin string) {
	b.Helper()
	b.tap(`[data-person="` + who + `"]`)
	b.pin(pin)
	b.comes("!document.querySelector('#pin')")
}

func (b *browser) pin(pin string) {
	b.Helper()
	b.comes("document.querySelector('#pin')")
	for _, d := range pin {
		b.do(chromedp.Evaluate[chromedp.Void](`[...document.querySelectorAll('.pad .key')].find(k => k.textContent === '` + string(d) + `').click()`))
	}
	b.tap("#sign-in")
}

// cached waits until the service worker has everything.
func (b *browser) cached() {
	b.Helper()
	b.comes("navigator.serviceWorker.controller && navigator.serviceWorker.controller.state === 'activated'")
}

// offline tells the browser that the network is gone, or back: its pages and its service workers, and what it says of itself.
func (b *browser) offline(gone bool) {
	b.Helper()
	worker := gone
	if _, err := chromedp.Call(b.ctx, network.EmulateNetworkConditionsByRule, network.EmulateNetworkConditionsByRuleParams{EmulateOfflineServiceWorker: &worker,
		MatchedNetworkConditions: []*network.Conditions{{DownloadThroughput: -1, UploadThroughput: -1, Offline: gone}}}); err != nil {
		b.Fatal(err)
	}
	if _, err := chromedp.Call(b.ctx, network.OverrideNetworkState, network.OverrideNetworkStateParams{Offline: gone, DownloadThroughput: -1, UploadThroughput: -1}); err != nil {
		b.Fatal(err)
	}
}

// device is a browser whose clock shows the plant's time, ahead by a while, and which keeps what it has in a folder.
func device(t *testing.T, g *gate, s size, dir string, w *world, ahead time.Duration) *browser {
	t.Helper()
	b := newBrowser(t, g.url, s, chromedp.UserDataDir(dir))
	shift := time.Until(w.clock.now().Time().Add(ahead)).Milliseconds()
	g.ahead.Store(shift)
	if g.keys[dir] == "" {
		g.keys[dir], _ = w.enrolled("Phone " + strconv.Itoa(len(g.keys)+1))
	}
	b.cookie(deviceCookie, g.keys[dir])
	script := shiftClock(shift) + `globalThis.violations = []; addEventListener('securitypolicyviolation', e => violations.push(e.violatedDirective + ' ' + e.blockedURI));`
	if _, err := chromedp.Call(b.ctx, cdppage.AddScriptToEvaluateOnNewDocument, cdppage.AddScriptToEvaluateOnNewDocumentParams{Source: script}); err != nil {
		t.Fatal(err)
	}
	return b
}

// cookie gives the browser a cookie as the server would.
func (b *browser) cookie(name, value string) {
	yes := true
	b.Helper()
	if _, err := chromedp.Call(b.ctx, network.SetCookie, network.SetCookieParams{Name: name, Value: value, URL: b.base, HTTPOnly: &yes, SameSite: "Strict"}); err != nil {
		b.Fatal(err)
	}
}

// shiftClock is a script that moves a clock.
func shiftClock(ms int64) string {
	return fmt.Sprintf(`{ const Real = Date; globalThis.Date = class extends Real {
		constructor(...a) { if (a.length) super(...a); else super(Real.now() + %d); }
		static now() { return Real.now() + %d; } }; }
`, ms, ms)
}

// kill ends a browser as a battery that falls out does.
func (b *browser) kill() {
	b.Helper()
	if err := chromedp.FromContext(b.ctx).Browser.Process().Kill(); err != nil {
		b.Fatal(err)
	}
	<-b.ctx.Done()
}

// crewPlant is a plant whose clock runs, behind a gate.
func crewPlant(t *testing.T) (*world, *gate) {
	t.Helper()
	w := plant(t)
	w.clock.run()
	return w, newGate(t, w.serve())
}

// entries are the sign-offs and what else came in since a position, in order.
func (w *world) since(from records.Position) (all []records.Entry) {
	st := w.Book.View().State
	for p := from; p < st.Size(); p++ {
		all = append(all, st.First(p).Entry)
	}
	return all
}

func (w *world) adoptText(text string) {
	w.Helper()
	sum := sha256.Sum256([]byte(text))
	w.write(records.Entry{By: "nora", Fact: &records.Adoption{Text: text, SHA256: hex.EncodeToString(sum[:])}})
}

// wide is a picture twice as wide as high; big ones are larger than a phone's camera makes them.
func wide(big bool) []byte {
	w := 400
	if big {
		w = 4200
	}
	img := image.NewGray(image.Rect(0, 0, w, w/2))
	for i := range img.Pix {
		img.Pix[i] = byte(i / 7)
	}
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		panic(err)
	}
	return b.Bytes()
}

func jpegSize(t *testing.T, data []byte) (width, height int) {
	t.Helper()
	c, err := jpeg.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	return c.Width, c.Height
}
