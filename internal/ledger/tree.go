package ledger

import (
	"errors"
	"fmt"
	"math/bits"

	"golang.org/x/mod/sumdb/tlog"
)

// A log's hashes are kept by its leaves: with each leaf its own hash and after it those of
// the complete subtrees that end with it, from the smallest. So each hash is kept once, at
// the leaf that completed it, and never changes.

// Place tells where a hash is kept, by its number in tlog's order: the sequence number of
// the leaf, and the position among its hashes.
func Place(stored int64) (sequence int64, position int) {
	level, n := tlog.SplitStoredHashIndex(stored)
	return (n + 1) << level, level
}

// KeptAt is the hash at a position of a leaf's hashes as they are kept.
func KeptAt(kept []byte, position int) (tlog.Hash, error) {
	from := position * tlog.HashSize
	if len(kept) < from+tlog.HashSize {
		return tlog.Hash{}, errors.New("a hash of the log is missing")
	}
	return tlog.Hash(kept[from : from+tlog.HashSize]), nil
}

// Tree is the tree over the first leaves of a log, to which leaves can be added. It holds
// one hash a level. The zero Tree is empty.
type Tree struct {
	size int64
	last [64]tlog.Hash // the last complete subtree of each level, where one is needed
}

// Size is how many leaves the tree has.
func (t *Tree) Size() int64 { return t.size }

// Edge lists the hashes, by their numbers in tlog's order, that a tree of a size is made of.
func Edge(size int64) []int64 {
	var stored []int64
	for level := range bits.Len64(uint64(size)) {
		if size>>level&1 == 1 {
			stored = append(stored, tlog.StoredHashIndex(level, size>>level-1))
		}
	}
	return stored
}

// TreeOf makes the tree of a size from the hashes of Edge.
func TreeOf(size int64, edge []tlog.Hash) (*Tree, error) {
	stored := Edge(size)
	if len(stored) != len(edge) {
		return nil, fmt.Errorf("a tree of %d leaves is made of %d hashes, and not of %d", size, len(stored), len(edge))
	}
	t := &Tree{size: size}
	for i, number := range stored {
		level, _ := tlog.SplitStoredHashIndex(number)
		t.last[level] = edge[i]
	}
	return t, nil
}

// ReadHashes reads hashes of the right edge; it makes the tree a tlog.HashReader of those.
func (t *Tree) ReadHashes(stored []int64) ([]tlog.Hash, error) {
	hashes := make([]tlog.Hash, len(stored))
	for i, number := range stored {
		level, n := tlog.SplitStoredHashIndex(number)
		if n != t.size>>level-1 {
			return nil, fmt.Errorf("hash %d is not at the edge of a tree of %d leaves", number, t.size)
		}
		hashes[i] = t.last[level]
	}
	return hashes, nil
}

// Add adds a leaf, and gives what is kept with it.
func (t *Tree) Add(leaf tlog.Hash) (kept []byte, err error) {
	hashes, err := tlog.StoredHashesForRecordHash(t.size, leaf, t)
	if err != nil {
		return nil, fmt.Errorf("adding leaf %d to the log: %w", t.size+1, err)
	}
	t.size++
	for level, hash := range hashes {
		t.last[level] = hash
		kept = append(kept, hash[:]...)
	}
	return kept, nil
}

// Root is the hash of the whole tree (RFC 9162, section 2.1.1).
func (t *Tree) Root() (tlog.Hash, error) { return tlog.TreeHash(t.size, t) }
