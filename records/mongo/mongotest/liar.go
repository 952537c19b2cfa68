package mongotest

import (
	"encoding/binary"
	"net"
	"sync"
	"testing"

	"go.mongodb.org/mongo-driver/bson"
)

// Liar stands before a server and answers some commands itself: to have the errors of a server that is not at hand.
type Liar struct {
	listener net.Listener
	target   string
	say      func(command string, body bson.Raw) (answer bson.D, pass bool)
}

// NewLiar starts one. say is asked about every command: an answer that is not nil is given to the client; with pass, the
// server gets to see the command too. Without an answer the server's own is passed on. say may be called from several
// goroutines.
func NewLiar(t testing.TB, target string, say func(command string, body bson.Raw) (answer bson.D, pass bool)) *Liar {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	l := &Liar{ln, target, say}
	var wg sync.WaitGroup
	var mu sync.Mutex
	var conns []net.Conn
	keep := func(c net.Conn) {
		mu.Lock()
		defer mu.Unlock()
		conns = append(conns, c)
	}
	wg.Go(func() {
		for {
			client, err := ln.Accept()
			if err != nil {
				return
			}
			server, err := net.Dial("tcp", target)
			if err != nil {
				_ = client.Close()
				continue
			}
			keep(client)
			keep(server)
			wg.Go(func() { l.serve(client, server) })
		}
	})
	t.Cleanup(func() {
		_ = ln.Close()
		mu.Lock()
		for _, c := range conns {
			_ = c.Close()
		}
		mu.Unlock()
		wg.Wait()
	})
	return l
}

// Address is where clients connect to.
func (l *Liar) Address() string { return l.listener.Addr().String() }

// Wire message kinds; see records/mongo/wire.go.
const (
	opReply = 1
	opQuery = 2004
	opMsg   = 2013
)

func (l *Liar) serve(client, server net.Conn) {
	defer client.Close()
	defer server.Close()
	for {
		m, err := readMessage(client)
		if err != nil {
			return
		}
		body := command(m)
		var answer bson.D
		pass := true
		if first, err := body.IndexErr(0); err == nil {
			answer, pass = l.say(first.Key(), body)
		}
		if answer == nil || pass {
			if _, err := server.Write(m); err != nil {
				return
			}
			own, err := readMessage(server)
			if err != nil {
				return
			}
			if answer == nil {
				if _, err := client.Write(own); err != nil {
					return
				}
				continue
			}
		}
		if _, err := client.Write(reply(m, answer)); err != nil {
			return
		}
	}
}

// command is the document of a request: that of an OP_QUERY, or the first section of an OP_MSG.
func command(m []byte) bson.Raw {
	at := 16 + 4
	switch binary.LittleEndian.Uint32(m[12:]) {
	case opMsg:
		at++ // the kind of the section
	case opQuery:
		for at < len(m) && m[at] != 0 {
			at++
		}
		at += 1 + 8
	}
	if at+4 > len(m) {
		return nil
	}
	n := int(binary.LittleEndian.Uint32(m[at:]))
	if at+n > len(m) {
		return nil
	}
	return bson.Raw(m[at : at+n])
}

func reply(to []byte, answer bson.D) []byte {
	body, err := bson.Marshal(answer)
	if err != nil {
		panic(err) // a test's own document
	}
	m := make([]byte, 16, 64+len(body))
	if binary.LittleEndian.Uint32(to[12:]) == opQuery {
		binary.LittleEndian.PutUint32(m[12:], opReply)
		m = append(m, make([]byte, 16)...)
		m = append(m, 1, 0, 0, 0) // one document
	} else {
		binary.LittleEndian.PutUint32(m[12:], opMsg)
		m = append(m, 0, 0, 0, 0, 0)
	}
	m = append(m, body...)
	binary.LittleEndian.PutUint32(m, uint32(len(m)))
	copy(m[8:12], to[4:8])
	return m
}
