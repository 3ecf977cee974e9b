package exchange

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

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/cardimport"
	"meniscus/internal/edtf"
	"meniscus/internal/fault"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/recording"
)

const (
	// chunkOfCards is how many cards are recorded together.
	chunkOfCards = 500
	// cardLease is how long an import without progress counts as running, and how long
	// the sender may take for a chunk.
	cardLease = 2 * time.Minute
)

// Cards is a file of old cards that is being received.
type Cards struct {
	Import uuid.UUID // the import that the file is for
	File   io.Reader
	// Fits tells whether the file is of the import's format.
	Fits func(format string) error
	// Today is the day on which the file is received.
	Today edtf.Day
}

// Record reads the file as it arrives, records it chunk by chunk, and gives the import
// when the last line is done. Progress is stored, so that an interrupted file can be
// sent again.
func (cards Cards) Record(ctx context.Context, author recording.Author, pace Pace) (postgres.Import, error) {
	leased, err := author.Store.LeaseImport(ctx, cards.Import, cardLease)
	if err != nil {
		return leased, err
	}
	im := &importing{author: author, pace: pace, today: cards.Today, imported: leased, digest: sha256.New(), done: leased.Position,
		meanings: map[string]wordMeaning{}}
	if err = im.begin(ctx, cards); err == nil {
		err = im.run(ctx)
	}
	if err != nil {
		im.stop(context.WithoutCancel(ctx))
	}
	return im.imported, err
}

// importing is the work of Cards.Record.
type importing struct {
	author   recording.Author
	pace     Pace
	today    edtf.Day
	imported postgres.Import
	base     *material.Base
	meanings map[string]wordMeaning
	cards    *cardimport.Reader
	digest   hash.Hash // of the lines so far, which are read before they are recorded
	done     int64     // the position where an interrupted file continues
}

// begin reads the mapping and the file's heading.
func (im *importing) begin(ctx context.Context, cards Cards) error {
	if err := cards.Fits(im.imported.Format); err != nil {
		return err
	}
	var mapping api.CardMapping
	if err := json.Unmarshal([]byte(im.imported.Mapping), &mapping); err != nil {
		return fmt.Errorf("reading a mapping: %w", err)
	}
	var err error
	if im.base, err = im.author.Materials(ctx); err != nil {
		return err
	}
	if mapping.Hemisphere == nil {
		of, err := im.author.Store.Institution(ctx)
		if err != nil {
			return err
		}
		mapping.Hemisphere = (*api.CardMappingHemisphere)(of.Seasons)
	}
	im.pace.Patience()
	im.cards, err = cardimport.NewReader(cards.File, mappingOf(mapping), im.vocabulary)
	return brokenOff(err)
}

// brokenOff is the fault of a file that was interrupted.
func brokenOff(err error) error {
	if err == nil || len(fault.From(err)) > 0 {
		return err
	}
	return fault.Of(fault.Malformed, "body-not-read", "The body broke off before its end.")
}

// wordMeaning is what words may mean.
type wordMeaning struct{ materials, solvents []string }

// wordsKept is the size of the cache of meanings: cards repeat the same words.
const wordsKept = 10_000

// vocabulary gives the materials and solvents that words on a card may mean.
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

// run processes the file chunk by chunk: while one is recorded, the next is read.
func (im *importing) run(ctx context.Context) error {
	recorded := func() error { return nil }
	for {
		next, err := im.read(ctx)
		if err := recorded(); err != nil {
			return err
		}
		if errors.Is(err, io.EOF) {
			return im.take(ctx, next, "done")
		}
		if err != nil && len(next.cards) == 0 {
			return err
		}
		if err == nil && im.pace.Ending() {
			err = fault.Of(fault.Unavailable, "service-ending",
				"The service is ending; send the same cards again in a moment, and they are gone on with.")
		}
		if err != nil {
			return errors.Join(im.take(ctx, next, "running"), err)
		}
		recorded = meanwhile(func() error { return im.take(ctx, next, "running") })
	}
}

// read reads the next cards; io.EOF says that the file ended with them.
func (im *importing) read(ctx context.Context) (chunk, error) {
	im.pace.Patience()
	var next chunk
	for len(next.cards) < chunkOfCards {
		card, err := im.next()
		if err != nil {
			next.digest = im.digest.Sum(nil)
			return next, err
		}
		next.cards = append(next.cards, im.understand(ctx, card))
	}
	next.digest = im.digest.Sum(nil)
	return next, nil
}

// next gives the next card that was not done before an interruption. A file that ends
// before the stored position is another file.
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
			return card, brokenOff(err)
		}
		io.WriteString(im.digest, card.Raw+"\n") // writing to a hash never fails
		if int64(card.Line) > im.done {
			return card, im.sameFile(before)
		}
	}
}

// meanwhile starts work in a goroutine and gives the function that waits for its end. A
// panic in the work is raised again in wait, in the goroutine of the request.
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

// sameFile compares, once, the digest of the skipped lines with that of the lines that
// were done.
func (im *importing) sameFile(passed []byte) error {
	if im.done == 0 {
		return nil
	}
	im.done = 0
	if !bytes.Equal(passed, im.imported.Digest) {
		return fault.Of(fault.Conflict, "another-file",
			"This file begins differently from the one of which part was imported; send that one, or begin a new import.")
	}
	return nil
}

// stop gives the lease back, so that the import can be continued.
func (im *importing) stop(ctx context.Context) {
	step := postgres.ImportStep{Import: im.imported.ID, State: "stopped",
		Progress: im.imported.ImportProgress, Digest: im.imported.Digest}
	if im.imported.Position == 0 {
		step.State = "waiting"
	}
	ctx, cancel := context.WithTimeout(ctx, 5*time.Second)
	defer cancel()
	write := im.author.Write(nil)
	_ = im.author.Store.RecordCards(ctx, write, step) // if it fails, the lease expires by itself
}
