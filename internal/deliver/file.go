package deliver

import (
	"compress/gzip"
	"context"
	"crypto/sha256"
	"hash"

	"meniscus/internal/fault"
	"meniscus/internal/postgres"
)

const (
	// pieceSize is how many bytes of a compressed file are stored in one row.
	pieceSize = 256 << 10
	// mostPieces bounds a file: 512 MiB compressed.
	mostPieces = 2048
)

// file compresses what is written to it and stores it in pieces.
type file struct {
	gzip   *gzip.Writer
	pieces *pieces
	digest hash.Hash // of the uncompressed bytes
	size   int64     // of the uncompressed bytes
}

func newFile(ctx context.Context, r *Reporter, l postgres.RunLease) *file {
	p := &pieces{ctx: ctx, reporter: r, lease: l}
	return &file{gzip: gzip.NewWriter(p), pieces: p, digest: sha256.New()}
}

// Write compresses b.
func (f *file) Write(b []byte) (int, error) {
	f.digest.Write(b) // never fails
	f.size += int64(len(b))
	return f.gzip.Write(b)
}

func (f *file) close() error {
	if err := f.gzip.Close(); err != nil {
		return err
	}
	return f.pieces.keep()
}

// pieces buffers what is written to it and stores each full piece.
type pieces struct {
	ctx      context.Context // kept here because io.Writer takes no context
	reporter *Reporter
	lease    postgres.RunLease
	buffer   []byte
	position int
}

// Write buffers b and stores the pieces that are full.
func (p *pieces) Write(b []byte) (int, error) {
	written := len(b)
	for len(b) > 0 {
		n := min(len(b), pieceSize-len(p.buffer))
		p.buffer, b = append(p.buffer, b[:n]...), b[n:]
		if len(p.buffer) < pieceSize {
			break
		}
		if err := p.keep(); err != nil {
			return 0, err
		}
	}
	return written, nil
}

func (p *pieces) keep() error {
	if len(p.buffer) == 0 {
		return nil
	}
	if p.position == mostPieces {
		return fault.New("report-too-large", "",
			"The report is larger than %d MiB compressed; ask for a shorter period or one collection.", mostPieces*pieceSize>>20)
	}
	held, err := p.reporter.store.KeepPiece(p.ctx, p.lease, p.position, p.buffer, p.reporter.now().Add(makeFor))
	if err == nil && !held {
		err = errLost
	}
	p.buffer, p.position = p.buffer[:0], p.position+1
	return err
}
