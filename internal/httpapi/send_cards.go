package httpapi

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"hash"
	"io"
	"time"

	"meniscus/api"
	"meniscus/internal/cardimport"
	"meniscus/internal/fault"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
)

const (
	// chunkOfCards is how many cards are recorded together.
	chunkOfCards = 250
	// cardLease is how long an import that says nothing counts as running, and
	// how long the sender may take for a chunk.
	cardLease = 2 * time.Minute
)

// sendCards reads the file as it comes, records it chunk by chunk, and answers
// when the last line is done. What is done is kept, so that a file that breaks
// off can be sent again.
func sendCards(s *Server, c *call) (*answer, error) {
	i, err := s.store.LeaseImport(c.ctx(), c.principal.Institution, c.id("importId"), cardLease)
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
	cards    *cardimport.Reader
	digest   hash.Hash // of the lines so far
	done     int64     // the position where a file that broke off goes on
}

// beginCards reads the mapping and the file's heading. What it gives can be
// stopped even when it failed.
func (s *Server) beginCards(c *call, i postgres.Import) (*importing, error) {
	im := &importing{server: s, call: c, imported: i, digest: sha256.New(), done: i.Position}
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

// vocabulary tells what words on a card may mean.
func (im *importing) vocabulary(words string) (materials, solvents []string) {
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

// run does the file chunk by chunk.
func (im *importing) run() error {
	var chunk []cardimport.Card
	for {
		card, err := im.cards.Next()
		if errors.Is(err, io.EOF) {
			return im.finish(chunk)
		}
		if err != nil {
			return errors.Join(im.take(chunk, "running"), readFault(err, 0))
		}
		before := im.digest.Sum(nil)
		im.digest.Write([]byte(card.Raw + "\n"))
		if int64(card.Line) <= im.done {
			continue // done before the file broke off
		}
		if err := im.sameFile(before); err != nil {
			return err
		}
		if chunk = append(chunk, card); len(chunk) == chunkOfCards {
			if err := im.take(chunk, "running"); err != nil {
				return err
			}
			chunk = chunk[:0]
		}
	}
}

// finish does the last chunk; a file that ended before the position where the
// last one broke off is another file.
func (im *importing) finish(chunk []cardimport.Card) error {
	if len(chunk) == 0 {
		if err := im.sameFile(im.digest.Sum(nil)); err != nil {
			return err
		}
	}
	return im.take(chunk, "done")
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
	write := im.call.write(nil, postgres.Entry{}, nil)
	write.Entries = nil
	_, _ = im.server.store.RecordCards(ctx, write, step) // without it the lease runs out by itself
}
