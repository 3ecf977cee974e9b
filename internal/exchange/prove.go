package exchange

import (
	"cmp"
	"encoding/hex"
	"fmt"
	"io"
	"maps"
	"slices"

	"github.com/google/uuid"

	"meniscus/internal/ledger"
	"meniscus/internal/postgres"
	"meniscus/internal/statement"
)

// Prove compares an export with the log, and gives how many entries it has. What differs is
// reported to the check; an error says that the export could not be read further.
func Prove(in io.Reader, check *ledger.Check) (entries int64, err error) {
	p := proving{in: newLineReader(in), check: check, taken: map[uuid.UUID][]ledger.Leaf{}}
	for {
		line, err := p.in.next()
		ended := err == nil && line.End != nil
		if err == nil {
			err = p.take(line)
		}
		if err != nil {
			return p.entries, fmt.Errorf("line %d: %w", p.in.line, err)
		}
		if ended {
			return p.entries, nil
		}
	}
}

// proving is the work of Prove.
type proving struct {
	in                          *lineReader
	check                       *ledger.Check
	entries, severities, bodies int64
	taken                       map[uuid.UUID][]ledger.Leaf // entries without words, of which no later one of their record says so
}

func (p *proving) take(line exportLine) error {
	switch {
	case line.End != nil:
		unsaid := slices.Concat(slices.Collect(maps.Values(p.taken))...)
		slices.SortFunc(unsaid, func(a, b ledger.Leaf) int { return cmp.Compare(a.Sequence, b.Sequence) })
		for _, leaf := range unsaid {
			p.check.Taken(leaf.Name())
		}
		p.check.End()
		return p.in.end(*line.End, p.entries, p.severities, p.bodies)
	case line.RuleSeverity != nil:
		p.severities++
		return nil
	case line.Collection != nil:
		p.bodies++
		return nil
	}
	p.entries++
	return p.entry(line)
}

// entry compares one entry.
func (p *proving) entry(line exportLine) error {
	e, err := entryIn(line)
	if err != nil {
		return err
	}
	kept, err := hex.DecodeString(line.Leaf)
	if err != nil {
		kept = nil // as if it were not there
	}
	leaf := e.Leaf()
	if err := proveWords(line, &e); err != nil {
		p.check.Words(leaf.Name())
	}
	p.redacted(e, leaf)
	hash := leaf.Hash()
	return p.check.Entry(ledger.Logged{Sequence: leaf.Sequence, Name: leaf.Name(), Leaf: &hash, Kept: kept})
}

// redacted notes an entry whose words are gone, until a later one says that they were redacted.
func (p *proving) redacted(e postgres.Exported, leaf ledger.Leaf) {
	if e.Act == ledger.Redacted {
		words, err := statement.OpenEntry(e.Body)
		p.taken[e.Record] = slices.DeleteFunc(p.taken[e.Record], func(before ledger.Leaf) bool {
			return err != nil || slices.Contains(words.Redacted, int32(before.Revision))
		})
	}
	if e.Body == nil && e.Nonce == nil {
		p.taken[e.Record] = append(p.taken[e.Record], leaf)
	}
}
