package pgtest

import (
	"bytes"
	"context"
	"io"
	"net"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/jackc/pgx/v5/pgproto3"
	"github.com/jackc/pgx/v5/pgxpool"
)

// errCut is the error that a client gets on a wire that was cut: that of a write to a
// closed connection.
var errCut = &net.OpError{Op: "write", Net: "wire", Err: syscall.ECONNRESET}

// Sent is how much of the fatal write still reaches the server.
type Sent int

const (
	SentNothing Sent = iota // the request is lost
	SentHalf                // the request is torn
	SentAll                 // the request arrives and is answered, the reply is lost
)

// Wire carries connections to a server and can be cut or held at a chosen write. Give
// its Use to Pool.
type Wire struct {
	mu     sync.Mutex
	writes int
	cutAt  int // 0: not armed
	sent   Sent
	hold   *hold          // nil: none
	ends   sync.WaitGroup // severed connections whose server side still works
}

// Use makes a pool's connections run over this wire.
func (w *Wire) Use(cfg *pgxpool.Config) {
	cfg.ConnConfig.DialFunc = w.Dial
	// A ping before a request would be counted as the request's first write.
	cfg.ShouldPing = func(context.Context, pgxpool.ShouldPingParams) bool { return false }
}

// Dial connects as pgx does.
func (w *Wire) Dial(ctx context.Context, network, addr string) (net.Conn, error) {
	conn, err := (&net.Dialer{}).DialContext(ctx, network, addr)
	if err != nil {
		return nil, err
	}
	return &wireConn{Conn: conn, wire: w}, nil
}

// Cut cuts the wire at the n-th write from now (the first is 1), once.
func (w *Wire) Cut(n int, sent Sent) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.writes, w.cutAt, w.sent = 0, n, sent
}

// hold is a write that waits.
type hold struct {
	at        int
	held, let chan struct{}
}

// Hold makes the n-th write from now (the first is 1) wait until letGo is called; held
// is closed when it waits.
func (w *Wire) Hold(n int) (held <-chan struct{}, letGo func()) {
	w.mu.Lock()
	defer w.mu.Unlock()
	h := &hold{at: n, held: make(chan struct{}), let: make(chan struct{})}
	w.writes, w.hold = 0, h
	return h.held, sync.OnceFunc(func() { close(h.let) })
}

// waitAt makes the write of this number wait if Hold was called for it.
func (w *Wire) waitAt(n int) {
	w.mu.Lock()
	h := w.hold
	if h == nil || h.at != n {
		w.mu.Unlock()
		return
	}
	w.hold = nil
	w.mu.Unlock()
	close(h.held)
	<-h.let
}

// Mend disarms a cut that has not happened yet, and gives how many writes there were
// since Cut.
func (w *Wire) Mend() (writes int) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.cutAt = 0
	return w.writes
}

// Settle waits until the server has ended its side of every severed
// connection: whatever it was going to commit is committed by then.
func (w *Wire) Settle() { w.ends.Wait() }

// next counts a write and tells whether it is the fatal one.
func (w *Wire) next() (n int, fatal bool, sent Sent) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.writes++
	fatal = w.cutAt > 0 && w.writes == w.cutAt
	if fatal {
		w.cutAt = 0
	}
	return w.writes, fatal, w.sent
}

type wireConn struct {
	net.Conn
	wire *Wire
	mu   sync.Mutex
	cut  bool

	reading sync.Mutex   // held while the connection is read
	cutting atomic.Bool  // what is read is heard by the cut and not by the client
	heard   bytes.Buffer // what a read took that was at work when the cut began
}

func (c *wireConn) severed() bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.cut
}

func (c *wireConn) Write(p []byte) (int, error) {
	if c.severed() {
		return 0, errCut
	}
	at, fatal, sent := c.wire.next()
	c.wire.waitAt(at)
	if !fatal {
		return c.Conn.Write(p)
	}
	return c.cutAt(p, sent)
}

// cutAt writes the part of the fatal write that is to arrive, and severs the
// connection. Readers wait meanwhile: a client that saw the end of its connection
// before the server was done would make the server cancel the work.
func (c *wireConn) cutAt(p []byte, sent Sent) (n int, err error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	defer c.sever()
	switch sent {
	case SentHalf:
		n, _ = c.Conn.Write(p[:len(p)/2])
	case SentAll:
		c.cutting.Store(true)
		n, err = c.Conn.Write(p)
		c.swallow(syncs(p))
		return n, err
	}
	return n, errCut
}

// syncs counts the messages in a write after which the server says that it is
// ready for the next query: by then it has committed.
func syncs(p []byte) (n int) {
	messages := pgproto3.NewBackend(bytes.NewReader(p), io.Discard)
	for {
		message, err := messages.Receive()
		if err != nil {
			return n
		}
		switch message.(type) {
		case *pgproto3.Sync, *pgproto3.Query:
			n++
		}
	}
}

// swallow reads the server's replies until it was ready n times, or the connection
// ends. A client whose write takes long reads beside it: that read is ended first, and
// what it took is a part of the replies.
func (c *wireConn) swallow(n int) {
	_ = c.Conn.SetReadDeadline(time.Unix(1, 0))
	c.reading.Lock()
	defer c.reading.Unlock()
	_ = c.Conn.SetReadDeadline(time.Time{})
	replies := pgproto3.NewFrontend(io.MultiReader(&c.heard, c.Conn), io.Discard)
	for n > 0 {
		message, err := replies.Receive()
		if err != nil {
			return
		}
		if _, ready := message.(*pgproto3.ReadyForQuery); ready {
			n--
		}
	}
}

func (c *wireConn) Read(p []byte) (int, error) {
	if c.severed() {
		return 0, io.EOF
	}
	n, err := c.read(p)
	if c.severed() {
		return 0, io.EOF
	}
	return n, err
}

func (c *wireConn) read(p []byte) (int, error) {
	c.reading.Lock()
	defer c.reading.Unlock()
	n, err := c.Conn.Read(p)
	if c.cutting.Load() {
		c.heard.Write(p[:n])
	}
	return n, err
}

// sever closes the client's half; the server reads what was sent, finds the end and
// closes its side. The caller holds the lock.
func (c *wireConn) sever() {
	c.cut = true
	half, ok := c.Conn.(interface{ CloseWrite() error })
	if !ok || half.CloseWrite() != nil {
		_ = c.Conn.Close()
		return
	}
	c.wire.ends.Go(func() {
		_, _ = io.Copy(io.Discard, c.Conn)
		_ = c.Conn.Close()
	})
}

// Close does nothing on a severed connection, which sever closes.
func (c *wireConn) Close() error {
	if c.severed() {
		return nil
	}
	return c.Conn.Close()
}
