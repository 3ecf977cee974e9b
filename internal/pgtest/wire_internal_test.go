package pgtest

import (
	"io"
	"net"
	"runtime"
	"testing"

	"github.com/jackc/pgx/v5/pgproto3"
)

// A client that reads beside its write, as pgx does when a write takes long, may take the
// replies that the cut waits for.
func TestWireIsCutWhileItsClientReads(t *testing.T) {
	t.Parallel()
	ours, server := net.Pipe()
	defer server.Close()
	wire := &Wire{}
	wire.Cut(1, SentAll)
	c := &wireConn{Conn: ours, wire: wire}

	read := make(chan error)
	go func() {
		_, err := c.Read(make([]byte, 8192))
		read <- err
	}()
	for c.reading.TryLock() {
		c.reading.Unlock()
		runtime.Gosched()
	}
	query, err := (&pgproto3.Query{String: "select 1"}).Encode(nil)
	if err != nil {
		t.Fatal(err)
	}
	go answerReady(t, server, len(query))
	if n, err := c.Write(query); n != len(query) || err != nil {
		t.Errorf("got %d, %v; want the whole write", n, err)
	}
	if err := <-read; err != io.EOF {
		t.Errorf("the read ended with %v, want EOF", err)
	}
	wire.Settle()
}

// answerReady answers that the server is ready for the next query once all but the last
// byte of one has come, so that the answer is taken before the write ends, and waits for
// the client's end.
func answerReady(t *testing.T, server net.Conn, query int) {
	if _, err := io.ReadFull(server, make([]byte, query-1)); err != nil {
		t.Error(err)
	}
	side := pgproto3.NewBackend(server, server)
	side.Send(&pgproto3.ReadyForQuery{TxStatus: 'I'})
	if err := side.Flush(); err != nil {
		t.Error(err)
	}
	_, _ = io.Copy(io.Discard, server)
}
