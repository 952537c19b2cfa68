package mongo

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"net"
	"sync"
	"time"
)

// strictDialer gives connections that break off when an answer is not one to the last request.
type strictDialer struct{}

// DialContext dials as the driver itself would.
func (strictDialer) DialContext(ctx context.Context, network, address string) (net.Conn, error) {
	d := net.Dialer{KeepAlive: 30 * time.Second}
	c, err := d.DialContext(ctx, network, address)
	if err != nil {
		return nil, err
	}
	return &strictConn{Conn: c}, nil
}

// Every message starts with four little-endian numbers: its length, its id, the id of the one it answers, and what it is
// (https://www.mongodb.com/docs/manual/reference/mongodb-wire-protocol/#standard-message-header). OP_MSG then has
// flags; with moreToCome, the next message answers this one.
const (
	headerLength = 16
	opMsg        = 2013
	moreToCome   = 1 << 1
	longestWire  = 64 << 20
)

var errOutOfTurn = errors.New("the connection brought an answer to another request, and was broken off")

// strictConn follows the messages that pass through it. The driver has one request at a time on a connection.
type strictConn struct {
	net.Conn

	mu   sync.Mutex // Write and Read may be in different goroutines
	out  message    // being written
	in   message    // being read
	want uint32     // the id that the next answer must be to
	fail error
}

// message is how far one message has passed.
type message struct {
	head [headerLength + 4]byte // the header, and the flags when there are some
	have int                    // of head
	left int                    // of the rest
}

// pass takes the bytes that go by, and calls each with every head that has become whole.
func (m *message) pass(p []byte, each func(head []byte) error) error {
	for len(p) > 0 {
		if m.have < len(m.head) {
			n := copy(m.head[m.have:], p)
			m.have, p = m.have+n, p[n:]
			if m.have < len(m.head) {
				return nil
			}
			length := binary.LittleEndian.Uint32(m.head[:])
			if length < uint32(len(m.head)) || length > longestWire {
				return fmt.Errorf("%w: a message of %d bytes", errOutOfTurn, length)
			}
			m.left = int(length) - len(m.head)
			if err := each(m.head[:]); err != nil {
				return err
			}
		}
		n := min(m.left, len(p))
		m.left, p = m.left-n, p[n:]
		if m.left == 0 {
			m.have = 0
		}
	}
	return nil
}

func (c *strictConn) Write(p []byte) (int, error) {
	c.mu.Lock()
	err := c.out.pass(p, func(head []byte) error {
		c.want = binary.LittleEndian.Uint32(head[4:])
		return nil
	})
	c.mu.Unlock()
	if err != nil {
		return 0, errors.Join(err, c.Close())
	}
	return c.Conn.Write(p)
}

func (c *strictConn) Read(p []byte) (int, error) {
	c.mu.Lock()
	fail := c.fail
	c.mu.Unlock()
	if fail != nil {
		return 0, fail
	}
	n, err := c.Conn.Read(p)
	c.mu.Lock()
	defer c.mu.Unlock()
	wrong := c.in.pass(p[:n], func(head []byte) error {
		if to := binary.LittleEndian.Uint32(head[8:]); to != c.want {
			return errOutOfTurn
		}
		if binary.LittleEndian.Uint32(head[12:]) == opMsg && binary.LittleEndian.Uint32(head[16:])&moreToCome != 0 {
			c.want = binary.LittleEndian.Uint32(head[4:])
		}
		return nil
	})
	if wrong != nil {
		c.fail = wrong
		return 0, errors.Join(wrong, c.Close())
	}
	return n, err
}
