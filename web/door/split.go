package door

import (
	"bufio"
	"errors"
	"net"
	"sync"
	"time"
)

// firstByte is how long a connection may wait before it says anything.
const firstByte = 10 * time.Second

// handshakeRecord is the first byte of every TLS connection (RFC 8446 section
// 5.1); no method of HTTP begins so.
const handshakeRecord = 0x16

// split shares one port between HTTPS and plain HTTP by the first byte that a
// connection sends. Closing both, or the port, ends it.
func split(port net.Listener) (secure, plain net.Listener) {
	s := &half{Listener: port, conns: make(chan net.Conn), done: make(chan struct{})}
	p := &half{Listener: port, conns: make(chan net.Conn), done: make(chan struct{})}
	go func() {
		defer s.end()
		defer p.end()
		for {
			c, err := port.Accept()
			if err != nil {
				if errors.Is(err, net.ErrClosed) {
					return
				}
				time.Sleep(5 * time.Millisecond) // too many files open, an aborted connection
				continue
			}
			go sort(c, s, p)
		}
	}()
	return s, p
}

func sort(c net.Conn, secure, plain *half) {
	r := bufio.NewReaderSize(c, 4096)
	c.SetReadDeadline(time.Now().Add(firstByte)) //nolint:errcheck // then the read fails
	first, err := r.Peek(1)
	if err != nil {
		c.Close() //nolint:errcheck // it said nothing
		return
	}
	c.SetReadDeadline(time.Time{}) //nolint:errcheck // the server sets its own
	to := plain
	if first[0] == handshakeRecord {
		to = secure
	}
	select {
	case to.conns <- &peeked{c, r}:
	case <-to.done:
		c.Close() //nolint:errcheck // nobody serves it
	}
}

// half is a listener for one kind of connection.
type half struct {
	net.Listener
	conns chan net.Conn
	once  sync.Once
	done  chan struct{}
}

func (h *half) end() { h.once.Do(func() { close(h.done) }) }

// Accept is the next connection of this kind.
func (h *half) Accept() (net.Conn, error) {
	select {
	case c := <-h.conns:
		return c, nil
	case <-h.done:
		return nil, net.ErrClosed
	}
}

// Close ends this half and the port.
func (h *half) Close() error {
	h.end()
	if err := h.Listener.Close(); !errors.Is(err, net.ErrClosed) {
		return err
	}
	return nil
}

// peeked is a connection of which the first byte has been looked at.
type peeked struct {
	net.Conn
	r *bufio.Reader
}

func (p *peeked) Read(b []byte) (int, error) { return p.r.Read(b) }
