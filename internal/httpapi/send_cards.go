package httpapi

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"io"
	"runtime/debug"
	"time"

	"meniscus/api"
	"meniscus/internal/cardimport"
	"meniscus/internal/fault"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
)

const (
	// chunkOfCards is how many cards are recorded together.
	chunkOfCards = 500
	// cardLease is how long an import that says nothing counts as running, and
	// how long the sender may take for a chunk.
	cardLease = 2 * time.Minute
)

// sendCards reads the file as it comes, records it chunk by chunk, and answers
// when the last line is done. What is done is kept, so that a file that breaks
// off can be sent again.
func sendCards(s *Server, c *call) (*answer, error) {
	i, err := c.tenant().LeaseImport(c.ctx(), c.id("importId"), cardLease)
	if err != nil {
		return nil, err
	}
	im, err := s.beginCards(c, i)
	if err == nil {
		err = im.run()
	}
	if err != nil {
		im.stop(context.WithoutCancel(c.ctx()))
		return nil, err
	}
	return ok(importOf(im.imported))
}

// importing is the work of sendCards.
type importing struct {
	server   *Server
	call     *call
	imported postgres.Import
	base     *material.Base
	meanings map[string]wordMeaning
	cards    *cardimport.Reader
	digest   hash.Hash // of the lines so far, which are read before they are recorded
	done     int64     // the position where a file that broke off goes on
}

// beginCards reads the mapping and the file's heading. What it gives can be
// stopped even when it failed.
func (s *Server) beginCards(c *call, i postgres.Import) (*importing, error) {
	im := &importing{server: s, call: c, imported: i, digest: sha256.New(), done: i.Position, meanings: map[string]wordMeaning{}}
	if want := map[string]string{"csv": "text/csv", "ndjson": "application/x-ndjson"}[i.Format]; baseType(c.echo.Request().Header.Get("Content-Type")) != want {
		return im, fault.Of(fault.Unsupported, "media-type-not-taken", "The mapping of this import is for %s; send Content-Type: %s.", i.Format, want)
	}
	var mapping api.CardMapping
	if err := json.Unmarshal([]byte(i.Mapping), &mapping); err != nil {
		return im, err
	}
	var err error
	if im.base, err = s.knowledge(c); err != nil {
		return im, err
	}
	im.call.patience()
	im.cards, err = cardimport.NewReader(c.echo.Request().Body, mappingOf(mapping), im.vocabulary)
	if err != nil && fault.From(err) == nil {
		err = readFault(err, 0)
	}
	return im, err
}

// wordMeaning is what words may mean.
type wordMeaning struct{ materials, solvents []string }

// wordsKept is how many words' meanings are kept: cards repeat themselves.
const wordsKept = 10_000

// vocabulary tells what words on a card may mean.
func (im *importing) vocabulary(words string) (materials, solvents []string) {
	known, ok := im.meanings[words]
	if !ok {
		known.materials, known.solvents = im.lookUp(words)
		if len(im.meanings) < wordsKept {
			im.meanings[words] = known
		}
	}
	return known.materials, known.solvents
}

func (im *importing) lookUp(words string) (materials, solvents []string) {
	for _, candidate := range im.base.Resolve(words).Candidates {
		m, _ := im.base.Material(candidate.Material)
		if m.Kind == material.Solvent || m.Kind == material.SolventMixture {
			solvents = append(solvents, candidate.Material)
		} else {
			materials = append(materials, candidate.Material)
		}
	}
	return materials, solvents
}

// A chunk is what is recorded together: cards, and the digest of the file up to
// their end.
type chunk struct {
	cards  []*readCard
	digest []byte
}

// run does the file chunk by chunk: while one is recorded, the next is read.
func (im *importing) run() error {
	recorded := func() error { return nil }
	for {
		next, err := im.read()
		if err := recorded(); err != nil {
			return err
		}
		if errors.Is(err, io.EOF) {
			return im.take(next, "done")
		}
		if err != nil && len(next.cards) == 0 {
			return err
		}
		if err == nil && im.server.draining() {
			err = fault.Of(fault.Unavailable, "service-ending", "The service is ending; send the same cards again in a moment, and they are gone on with.")
		}
		if err != nil {
			return errors.Join(im.take(next, "running"), err)
		}
		recorded = meanwhile(func() error { return im.take(next, "running") })
	}
}

// read reads the next cards; io.EOF says that the file ended with them.
func (im *importing) read() (chunk, error) {
	im.call.patience()
	var next chunk
	for len(next.cards) < chunkOfCards {
		card, err := im.next()
		if err != nil {
			next.digest = im.digest.Sum(nil)
			return next, err
		}
		next.cards = append(next.cards, im.understand(card))
	}
	next.digest = im.digest.Sum(nil)
	return next, nil
}

// next gives the next card that was not done before the file broke off. A file
// that ends before the position where the last one broke off is another file.
func (im *importing) next() (cardimport.Card, error) {
	for {
		card, err := im.cards.Next()
		before := im.digest.Sum(nil)
		switch {
		case errors.Is(err, io.EOF):
			if err := im.sameFile(before); err != nil {
				return card, err
			}
			return card, io.EOF
		case err != nil:
			return card, readFault(err, 0)
		}
		io.WriteString(im.digest, card.Raw+"\n") // a digest takes everything
		if int64(card.Line) > im.done {
			return card, im.sameFile(before)
		}
	}
}

// meanwhile starts work and gives what waits for its end. What panics in it
// panics there, in the request whose work it is.
func meanwhile(work func() error) (wait func() error) {
	var err error
	var panicked any
	done := make(chan struct{})
	go func() {
		defer close(done)
		defer func() {
			if p := recover(); p != nil {
				panicked = fmt.Sprintf("%v\n%s", p, debug.Stack())
			}
		}()
		err = work()
	}()
	return func() error {
		<-done
		if panicked != nil {
			panic(panicked)
		}
		return err
	}
}

// sameFile compares, once, the lines that are passed over with those that were
// done.
func (im *importing) sameFile(passed []byte) error {
	if im.done == 0 {
		return nil
	}
	im.done = 0
	if !bytes.Equal(passed, im.imported.Digest) {
		return fault.Of(fault.Conflict, "another-file", "This file begins differently from the one of which part was imported; send that one, or begin a new import.")
	}
	return nil
}

// stop gives the import back, to be gone on with.
func (im *importing) stop(ctx context.Context) {
	step := postgres.ImportStep{Import: im.imported.ID, Progress: im.imported.ImportProgress, Digest: im.imported.Digest, State: "stopped"}
	if im.imported.Position == 0 {
		step.State = "waiting"
	}
	ctx, cancel := context.WithTimeout(ctx, 5*time.Second)
	defer cancel()
	write := im.call.author().Write(nil)
	write.Entries = nil
	_ = im.call.tenant().RecordCards(ctx, write, step) // without it the lease runs out by itself
}
