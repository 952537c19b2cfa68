package server

import (
	"context"
	"io"
	"net"
	"strings"
	"testing"
	"time"
)

// Told to stop while somebody asks and does not read: they are waited for until the time for it is over, and then it has stopped, which
// is no error. What they were sent in between is theirs.
func TestStopsBesideWhoHangs(t *testing.T) {
	w := plant(t)
	f := &Front{Grace: 200 * time.Millisecond}
	f.Put(w.Server)
	ctx, stop := context.WithCancel(t.Context())
	ready, ended := make(chan string, 1), make(chan error, 1)
	go func() { ended <- f.Run(ctx, "127.0.0.1:0", func(u string) { ready <- u }) }()
	base := <-ready
	conn, err := net.Dial("tcp", strings.TrimPrefix(base, "http://"))
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	if _, err := io.WriteString(conn, strings.Repeat("GET /static/style.css HTTP/1.1\r\nHost: localhost\r\n\r\n", 1400)); err != nil {
		t.Fatal(err)
	}
	if _, err := conn.Read(make([]byte, 1)); err != nil { // it is under way
		t.Fatal(err)
	}
	stop()
	if err := <-ended; err != nil {
		t.Error(err)
	}
	if c, err := net.Dial("tcp", strings.TrimPrefix(base, "http://")); err == nil {
		c.Close()
		t.Error("it still takes connections")
	}
}
