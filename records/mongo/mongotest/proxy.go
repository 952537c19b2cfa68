package mongotest

import (
	"encoding/binary"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

// Fault is one thing a proxy does to what passes.
type Fault int

const (
	CutBefore   Fault = iota // a request is thrown away and the connection cut
	CutWithin                // half a request is passed on and the connection cut
	CutAfter                 // a request is passed on, and the connection cut before its answer
	CutAnswer                // half an answer is passed on and the connection cut
	Delay                    // a request or part of an answer waits
	Repeat                   // a request is passed on twice on one connection, and answered twice
	RepeatBytes              // a segment of an answer arrives twice
	Replay                   // a request arrives again later, on a connection of its own
	faults
)

var faultNames = [faults]string{"cut before a request", "cut within a request", "cut before an answer", "cut within an answer",
	"delays", "requests repeated", "segments of answers repeated", "requests replayed later"}

// Proxy stands between clients and a server and does its worst at seeded random moments. It must not know what a
// message says: it sees only where each ends.
type Proxy struct {
	listener net.Listener
	target   string
	odds     [faults]int // of 10,000 messages or segments
	quiet    atomic.Bool
	counts   [faults]atomic.Int64

	mu    sync.Mutex
	rand  *rand.Rand
	conns map[net.Conn]bool
	wg    sync.WaitGroup
}

// NewProxy starts a proxy that does each fault to so many of 10,000 messages (or segments of answers).
func NewProxy(t testing.TB, target string, seed uint64, odds map[Fault]int) *Proxy {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	p := &Proxy{listener: ln, target: target, rand: rand.New(rand.NewPCG(seed, 1)), conns: map[net.Conn]bool{}}
	for f, n := range odds {
		p.odds[f] = n
	}
	p.wg.Go(p.accept)
	t.Cleanup(func() {
		_ = ln.Close()
		p.mu.Lock()
		for c := range p.conns {
			_ = c.Close()
		}
		p.mu.Unlock()
		p.wg.Wait()
	})
	return p
}

// Address is where clients connect to.
func (p *Proxy) Address() string { return p.listener.Addr().String() }

// Quiet makes it pass on everything as it is from now on.
func (p *Proxy) Quiet() { p.quiet.Store(true) }

// Count is how often a fault was done.
func (p *Proxy) Count(f Fault) int64 { return p.counts[f].Load() }

// String is every count.
func (p *Proxy) String() string {
	var s string
	for f := range faults {
		s += fmt.Sprintf("%s %d; ", faultNames[f], p.counts[f].Load())
	}
	return s[:len(s)-2]
}

// Total is how many faults were done.
func (p *Proxy) Total() (n int64) {
	for f := range faults {
		n += p.counts[f].Load()
	}
	return n
}

func (p *Proxy) chance(f Fault) bool {
	if p.quiet.Load() || p.odds[f] == 0 {
		return false
	}
	p.mu.Lock()
	hit := p.rand.IntN(10_000) < p.odds[f]
	p.mu.Unlock()
	if hit {
		p.counts[f].Add(1)
	}
	return hit
}

func (p *Proxy) wait(most time.Duration) {
	p.mu.Lock()
	d := time.Duration(p.rand.Int64N(int64(most)))
	p.mu.Unlock()
	time.Sleep(d)
}

func (p *Proxy) keep(c net.Conn) {
	p.mu.Lock()
	p.conns[c] = true
	p.mu.Unlock()
}

func (p *Proxy) drop(c net.Conn) {
	_ = c.Close()
	p.mu.Lock()
	delete(p.conns, c)
	p.mu.Unlock()
}

func (p *Proxy) accept() {
	for {
		client, err := p.listener.Accept()
		if err != nil {
			return
		}
		server, err := net.Dial("tcp", p.target)
		if err != nil {
			_ = client.Close()
			continue
		}
		p.keep(client)
		p.keep(server)
		end := sync.OnceFunc(func() { p.drop(client); p.drop(server) })
		p.wg.Go(func() { defer end(); p.requests(client, server) })
		p.wg.Go(func() { defer end(); p.answers(client, server) })
	}
}

// readMessage reads one whole wire message: its length comes first.
func readMessage(r io.Reader) ([]byte, error) {
	var length [4]byte
	if _, err := io.ReadFull(r, length[:]); err != nil {
		return nil, err
	}
	n := binary.LittleEndian.Uint32(length[:])
	if n < 16 || n > 64<<20 {
		return nil, fmt.Errorf("a message of %d bytes", n)
	}
	m := make([]byte, n)
	copy(m, length[:])
	_, err := io.ReadFull(r, m[4:])
	return m, err
}

// requests passes messages to the server until the connection is cut.
func (p *Proxy) requests(client, server net.Conn) {
	for {
		m, err := readMessage(client)
		if err != nil {
			return
		}
		if p.chance(CutBefore) {
			return
		}
		if p.chance(Delay) {
			p.wait(30 * time.Millisecond)
		}
		if p.chance(CutWithin) {
			_, _ = server.Write(m[:len(m)/2])
			return
		}
		if p.chance(Replay) {
			p.wg.Go(func() { p.replay(m) })
		}
		if _, err := server.Write(m); err != nil {
			return
		}
		if p.chance(Repeat) {
			if _, err := server.Write(m); err != nil {
				return
			}
		}
		if p.chance(CutAfter) {
			p.drop(client) // the server gets to see the request, and answers nobody
			p.wait(5 * time.Millisecond)
			return
		}
	}
}

// replay sends a request again, some time later, and throws the answer away.
func (p *Proxy) replay(m []byte) {
	p.wait(300 * time.Millisecond)
	c, err := net.Dial("tcp", p.target)
	if err != nil {
		return
	}
	p.keep(c)
	defer p.drop(c)
	if _, err := c.Write(m); err == nil {
		_ = c.SetReadDeadline(time.Now().Add(5 * time.Second))
		_, _ = readMessage(c)
	}
}

// answers passes segments to the client until the connection is cut.
func (p *Proxy) answers(client, server net.Conn) {
	segment := make([]byte, 16<<10)
	for {
		n, err := server.Read(segment)
		if err != nil {
			return
		}
		if p.chance(Delay) {
			p.wait(30 * time.Millisecond)
		}
		if p.chance(CutAnswer) {
			_, _ = client.Write(segment[:n/2])
			return
		}
		if _, err := client.Write(segment[:n]); err != nil {
			return
		}
		if p.chance(RepeatBytes) {
			if _, err := client.Write(segment[:n]); err != nil {
				return
			}
		}
	}
}
