package main

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"grainward/cmd/crowd"
	"grainward/records"
	"grainward/records/plan"
	"grainward/server"
)

const (
	loadVariable = "GRAINWARD_TEST_LOAD" // how long the load lasts, such as 5m

	floorDevices = 64
	slowClients  = 20
	loadPace     = 250 * time.Millisecond // between two requests of one device: far above what hands do, below what the server refuses
	entryMost    = 2000                   // bytes of heap that an entry may cost: design.md's 600, and what is judged of it
)

// loadPlan is the starter plan with a hand for each device and a round that may be walked at any time.
func loadPlan() string {
	var people strings.Builder
	for i := range floorDevices {
		fmt.Fprintf(&people, "  - {code: %s, name: Hand %d, initials: H%d, role: crew, languages: [en]}\n", hand(i), i, i)
	}
	text := strings.Replace(string(plan.Starter()), "\npeople:\n", "\npeople:\n"+people.String(), 1)
	return strings.Replace(text, "\ntasks:\n", "\ntasks:\n  - {code: round, title: Round, family: walk-round, stations: [bench]}\n", 1)
}

func hand(i int) records.PersonCode { return records.PersonCode(fmt.Sprintf("hand-%d", i)) }

// signed is what was acknowledged, and how often.
type signed struct {
	mu  sync.Mutex
	all map[records.EntryID]int
}

// TestLoad has 64 devices sign at once through HTTP, with pages, traces and stretches of the journal read in between, pages that listen
// for news, clients that send a byte a second, and clients that ask and never read. Every acknowledged entry is in the journal once; no
// answer is a fault of the server's; who sends too slowly is let go; memory does not grow by more than the entries; and when it is over,
// nothing of it still runs. Latencies are logged and not judged: the machine may be busy with other things.
func TestLoad(t *testing.T) {
	lasts := 25 * time.Second // longer than a whole request may take to arrive, so that the slow are seen to be let go
	if long := os.Getenv(loadVariable); long != "" {
		var err error
		if lasts, err = time.ParseDuration(long); err != nil {
			t.Fatal(err)
		}
	} else if testing.Short() {
		t.Skip("not in a short run")
	}
	runtime.GC()
	before := running()
	l := startLoad(t)
	c, err := crowd.Enrol(t.Context(), l.base, nil)
	if err != nil {
		t.Fatal(err)
	}
	for c.Len() < floorDevices { // a server lets only so many codes wait to be used
		var people []records.PersonCode
		for i := range 16 {
			people = append(people, hand(c.Len()+i))
		}
		if err := c.Add(t.Context(), passes(t, l.dir, len(people), people...)); err != nil {
			t.Fatal(err)
		}
	}
	pages := make([][]*http.Cookie, 8)
	for i := range pages {
		if pages[i], err = l.signIn(t.Context(), i); err != nil {
			t.Fatal(err)
		}
	}
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	var others sync.WaitGroup
	for i := range slowClients {
		others.Go(func() { l.slow(ctx, i) })
		others.Go(func() { l.hangs(ctx, i) })
	}
	for i := range pages {
		others.Go(func() { l.listens(ctx, pages[i]) })
	}
	// In two stretches: after each the devices pause, so that what is held then is held for good.
	stretch := func(lasts time.Duration) (*crowd.Tally, uint64, records.Position) {
		ctx, stop := context.WithTimeout(ctx, lasts)
		defer stop()
		tally := c.Go(ctx, l.turn(c))
		judge(t, tally)
		return tally, heapNow(), l.served.book.View().Head.Size
	}
	first, heapThen, sizeThen := stretch(lasts / 3)
	tally, heap, size := stretch(lasts - lasts/3)
	stop()
	others.Wait()
	c.Leave()
	l.stop(t)

	for _, kind := range []string{"sign-off", "page", "trace", "stretch"} {
		n := tally.Kinds[kind]
		if n == nil || n.Good == 0 {
			t.Errorf("no %s was answered", kind)
			continue
		}
		t.Logf("%-8s %6d answered, %d not; 50 %%: %s, 95 %%: %s, 99 %%: %s, slowest %s", kind, n.Good, n.Bad(), n.At(.5).Round(time.Microsecond), n.At(.95).Round(time.Microsecond), n.At(.99).Round(time.Microsecond), n.At(1).Round(time.Microsecond))
	}
	l.compare(t, first.Kinds["sign-off"].Good+tally.Kinds["sign-off"].Good, first.Kinds["sign-off"].Bad()+tally.Kinds["sign-off"].Bad())
	t.Logf("%d slow clients were let go %d times, after %s to %s; %d news were heard", slowClients, l.cut.Load(), time.Duration(l.soonest.Load()).Round(time.Millisecond), time.Duration(l.latest.Load()).Round(time.Millisecond), l.heard.Load())
	if l.cut.Load() < slowClients/2 {
		t.Errorf("%d slow clients were let go", l.cut.Load())
	}
	if l.heard.Load() == 0 {
		t.Error("no page heard of anything")
	}
	t.Logf("heap %s after a third of the time with %d entries, %s at the end with %d", inBytes(int64(heapThen)), sizeThen, inBytes(int64(heap)), size)
	if grown, allowed := int64(heap)-int64(heapThen), int64(size-sizeThen)*entryMost+8<<20; grown > allowed {
		t.Errorf("the heap grew by %s for %d entries; %s is allowed", inBytes(grown), size-sizeThen, inBytes(allowed))
	}
	if text := l.log.String(); text != "" {
		t.Errorf("the server was in trouble:\n%s", text)
	}
	left := running()
	for wait := 0; len(left) > len(before) && wait < 100; wait++ {
		time.Sleep(20 * time.Millisecond)
		left = running()
	}
	if len(left) > len(before) {
		t.Errorf("%d goroutines before, %d after:\n%s", len(before), len(left), strings.Join(left, "\n\n"))
	}
}

// running are the stacks of what runs, but for what the crowd's own client leaves behind for an hour, and two sleepers of the HTTP library:
// the clock of its Date header, and the sweeper of idle workers, which looks every ten seconds whether it is still needed.
func running() (all []string) {
	buf := make([]byte, 4<<20)
	for stack := range strings.SplitSeq(string(buf[:runtime.Stack(buf, true)]), "\n\n") {
		ours := true
		for _, other := range []string{"fasthttp.(*HostClient)", "fasthttp.updateServerDate", "fasthttp.(*workerPool).Start.func2"} {
			ours = ours && !strings.Contains(stack, other)
		}
		if ours {
			all = append(all, stack)
		}
	}
	return all
}

func heapNow() uint64 {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return m.HeapAlloc
}

// load is a plant under load.
type load struct {
	base, lot string
	dir       plantDir
	served    *served
	end       context.CancelFunc
	ended     chan error
	signed    signed
	log       lockedText

	cut, heard, soonest, latest atomic.Int64
}

// judge wants no answer that is a fault of the server's. That something got no answer in half a minute, or was told to come again (503), is
// how an overloaded machine is, and is logged.
func judge(t *testing.T, tally *crowd.Tally) {
	t.Helper()
	for kind, n := range tally.Kinds {
		for status, k := range n.Refused {
			if status != http.StatusServiceUnavailable {
				t.Errorf("%d %ss were answered with %d: %s", k, kind, status, n.Trouble)
			}
		}
	}
	if err := tally.Wrong(); err != nil {
		t.Logf("this machine is busy: %v", err)
	}
}

// lockedText is a log that may be read while it is written.
type lockedText struct {
	mu   sync.Mutex
	text strings.Builder
}

func (l *lockedText) Write(b []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.Write(b)
}

func (l *lockedText) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.String()
}

func startLoad(t *testing.T) *load {
	t.Helper()
	l := &load{dir: plantDir(filepath.Join(t.TempDir(), "plant")), ended: make(chan error, 1), lot: "R-1"}
	if err := startPlant(t.Context(), l.dir, "Quillmere", []byte(loadPlan())); err != nil {
		t.Fatal(err)
	}
	ask(t, "plan", "adopt", "--dir", string(l.dir), "--by", "nora")
	w := quietWorld(io.Discard, &l.log)
	f := &listenFlags{watchFlags: watchFlags{Log: "text", LogLevel: "error"}}
	var err error
	if l.served, err = openServed(t.Context(), w, &plantFlag{Dir: l.dir}, f, "plant", server.Config{}); err != nil {
		t.Fatal(err)
	}
	at := w.instant()
	if _, err := l.served.book.Admit(t.Context(), records.Entry{ID: records.NewEntryID(), Happened: at, By: hand(0), Meaning: records.Received, Kind: records.KindReceipt,
		Fact: &records.Receipt{Lot: records.LotCode(l.lot), Item: "barley", Status: records.Organic, Weight: records.Weight{Mass: records.Mass{Value: records.NewDecimal(12000, 0), Unit: "lb"}},
			To: "silo-1", Via: []records.StationCode{"pit", "conveyor"}, Source: "odell-brook", TheirLot: "N7"}}); err != nil {
		t.Fatal(err)
	}
	l.signed.all = map[records.EntryID]int{}
	ctx, end := context.WithCancel(t.Context())
	l.end = end
	ready := make(chan string, 1)
	front := &server.Front{Grace: 500 * time.Millisecond} // those that hang are not waited for long
	front.Put(l.served.server)
	go func() { l.ended <- front.Run(ctx, "127.0.0.1:0", func(u string) { ready <- u }) }()
	select {
	case l.base = <-ready:
	case err := <-l.ended:
		t.Fatal(err)
	}
	return l
}

func (l *load) stop(t *testing.T) {
	t.Helper()
	l.end()
	if err := <-l.ended; err != nil {
		t.Error(err)
	}
	if err := l.served.close(); err != nil {
		t.Error(err)
	}
}

// turn is what a device asks next: mostly sign-offs, some of them sent twice.
func (l *load) turn(c *crowd.Crowd) func(device, turn int) (crowd.Ask, bool) {
	return func(device, turn int) (crowd.Ask, bool) {
		time.Sleep(time.Duration(float64(loadPace) * (0.5 + rand.Float64())))
		switch turn % 20 {
		case 3:
			return crowd.Ask{Kind: "page", Method: http.MethodGet, Path: "/today"}, true
		case 6:
			return crowd.Ask{Kind: "trace", Method: http.MethodGet, Path: "/api/lots/" + l.lot + "/trace"}, true
		case 9:
			return crowd.Ask{Kind: "stretch", Method: http.MethodGet, Path: fmt.Sprintf("/api/entries?from=%d&count=50", rand.IntN(50))}, true
		}
		e := records.Entry{ID: records.NewEntryID(), Happened: records.InstantOf(time.Now()), By: c.Person(device), Meaning: records.Performed, Kind: records.KindSignoff,
			Fact: &records.Signoff{Task: "round", Station: "bench", Outcome: records.Passed}}
		row, err := records.Format(e)
		if err != nil {
			panic(err)
		}
		return crowd.Ask{Kind: "sign-off", Method: http.MethodPost, Path: "/api/entries", Body: row.Bytes, Heard: func(status int, body []byte) {
			if status != http.StatusCreated {
				return
			}
			l.signed.mu.Lock()
			l.signed.all[e.ID]++
			l.signed.mu.Unlock()
		}}, true
	}
}

// compare holds the journal to what was acknowledged. What got no answer may be there or not.
func (l *load) compare(t *testing.T, good, open int) {
	t.Helper()
	there := signoffs(t, l.dir)
	wrong := 0
	for id, n := range l.signed.all {
		if n != 1 || there[id] != 1 {
			wrong++
		}
	}
	if wrong > 0 || len(l.signed.all) != good || len(there) < good || len(there) > good+open {
		t.Errorf("%d of %d acknowledged entries are not there once; %d are there", wrong, good, len(there))
	}
	ask(t, "verify", "--dir", string(l.dir))
	t.Logf("%d sign-offs, each there once; the journal verifies", good)
}

// slow sends a request a byte a second, again and again, and notes after how long it is let go.
func (l *load) slow(ctx context.Context, i int) {
	text := "POST /api/entries HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\nContent-Length: 1000\r\n\r\n" + strings.Repeat("{", 1000)
	if i%2 == 1 {
		text = text[:7] + strings.Repeat("x", 1000) // and never comes to the end of its first line
	} else {
		text = text[:len(text)-20] // the head at once
	}
	for ctx.Err() == nil {
		conn, err := net.Dial("tcp", strings.TrimPrefix(l.base, "http://"))
		if err != nil {
			return
		}
		begun, sent := time.Now(), 0
		if i%2 == 0 {
			sent = strings.Index(text, "{")
			if _, err := io.WriteString(conn, text[:sent]); err != nil {
				conn.Close()
				continue
			}
		}
		gone := make(chan struct{})
		go func() {
			defer close(gone)
			_, _ = io.Copy(io.Discard, conn) // an answer, and then the end
		}()
		for open := true; open && ctx.Err() == nil; sent++ {
			select {
			case <-gone:
				open = false
				took := int64(time.Since(begun))
				if l.cut.Add(1) == 1 {
					l.soonest.Store(took)
				}
				l.soonest.Store(min(l.soonest.Load(), took))
				l.latest.Store(max(l.latest.Load(), took))
			case <-time.After(time.Second):
				_, err = conn.Write([]byte{text[sent%len(text)]})
				open = err == nil || open
			case <-ctx.Done():
			}
		}
		conn.Close()
		<-gone
	}
}

// hangs asks for a lot and reads nothing.
func (l *load) hangs(ctx context.Context, i int) {
	d := net.Dialer{LocalAddr: &net.TCPAddr{IP: net.IPv4(127, 2, 0, byte(i+1))}}
	conn, err := d.Dial("tcp4", strings.TrimPrefix(l.base, "http://"))
	if err != nil {
		return
	}
	defer conn.Close()
	asks := strings.Repeat("GET /static/style.css HTTP/1.1\r\nHost: localhost\r\n\r\n", 400)
	_ = conn.SetWriteDeadline(time.Now().Add(time.Second)) // the server may read no further, which is right
	_, _ = io.WriteString(conn, asks)
	<-ctx.Done()
}

// listens is a page that is open: it hears that the journal has grown.
func (l *load) listens(ctx context.Context, cookies []*http.Cookie) {
	for ctx.Err() == nil {
		req, err := http.NewRequestWithContext(ctx, http.MethodGet, l.base+"/api/events", nil)
		if err != nil {
			return
		}
		for _, c := range cookies {
			req.AddCookie(c)
		}
		tr := &http.Transport{DisableKeepAlives: true}
		res, err := (&http.Client{Transport: tr}).Do(req)
		if err != nil {
			return // it has stopped
		}
		for lines := bufio.NewScanner(res.Body); lines.Scan(); {
			if strings.HasPrefix(lines.Text(), "event: journal") {
				l.heard.Add(1)
			}
		}
		res.Body.Close()
	}
}

// signIn signs a hand in on a device of its own.
func (l *load) signIn(ctx context.Context, i int) (cookies []*http.Cookie, err error) {
	code, _, err := l.served.people.MakeCode(ctx, "", fmt.Sprint("Page ", i), 0)
	if err != nil {
		return nil, err
	}
	for _, step := range []struct {
		path string
		body any
	}{{"/api/enrol", map[string]string{"code": code}}, {"/api/sign-in", map[string]any{"person": hand(i), "secret": "4071"}}} {
		body, err := json.Marshal(step.body)
		if err != nil {
			return nil, err
		}
		req, err := http.NewRequestWithContext(ctx, http.MethodPost, l.base+step.path, strings.NewReader(string(body)))
		if err != nil {
			return nil, err
		}
		req.Header.Set("Content-Type", "application/json")
		for _, c := range cookies {
			req.AddCookie(c)
		}
		tr := &http.Transport{DisableKeepAlives: true}
		res, err := (&http.Client{Transport: tr}).Do(req)
		if err != nil {
			return nil, err
		}
		res.Body.Close()
		if res.StatusCode >= 300 {
			return nil, fmt.Errorf("%s: %s", step.path, res.Status)
		}
		cookies = append(cookies, res.Cookies()...)
	}
	return cookies, nil
}
