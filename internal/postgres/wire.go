package postgres

import (
	"context"
	"errors"
	"io"
	"syscall"

	"github.com/jackc/puddle/v2"
)

// errClosedPool is what a pool gives after Close.
var errClosedPool = puddle.ErrClosedPool

// broken tells whether the connection broke during a reply.
func broken(err error) bool {
	for _, sign := range []error{io.EOF, io.ErrUnexpectedEOF, syscall.EPIPE, syscall.ECONNRESET, syscall.ECONNREFUSED,
		syscall.ENOENT, context.DeadlineExceeded} {
		if errors.Is(err, sign) {
			return true
		}
	}
	return false
}
