package ledger

import (
	"cmp"
	"fmt"
	"slices"

	"golang.org/x/mod/sumdb/tlog"
)

// Logged is an entry as it is compared with the log.
type Logged struct {
	Sequence int64
	Name     string // what the entry is, for people
	// Leaf is the entry's leaf hash as it is now; nil where the entry is missing.
	Leaf *tlog.Hash
	// Kept is what is kept with the leaf since it was logged: its hash, and then perhaps
	// those of the subtrees that end with it; empty where it is not known.
	Kept []byte
}

// Check compares entries, in order of sequence, with what is kept of the log and with
// checkpoints that someone kept.
type Check struct {
	// Report is called with a sentence for each difference.
	Report func(sentence string)
	// Wrong is how many differences there were.
	Wrong int

	checkpoints []Checkpoint // by size
	last        int64        // the last sequence number
	now         Tree         // over the leaves as they are now
	kept        Tree         // over the leaf hashes that were kept
	nowBroken   bool         // an entry is missing: now is of no use
	keptBroken  bool         // a hash is missing: likewise
	first       string       // the first entry that differs from what is kept, "" if none does
	proven      int64        // the size of the last checkpoint that the entries give
}

// NewCheck begins a comparison. A checkpoint of no entries proves nothing, and is left out.
func NewCheck(report func(string), checkpoints ...Checkpoint) *Check {
	c := &Check{Report: report, checkpoints: slices.DeleteFunc(slices.Clone(checkpoints),
		func(p Checkpoint) bool { return p.Size == 0 })}
	slices.SortFunc(c.checkpoints, func(a, b Checkpoint) int { return cmp.Compare(a.Size, b.Size) })
	return c
}

func (c *Check) wrong(format string, args ...any) {
	c.Wrong++
	c.Report(fmt.Sprintf(format, args...))
}

func (c *Check) differs(name string) {
	if c.first == "" {
		c.first = name
	}
}

// Entry compares the next entry.
func (c *Check) Entry(e Logged) error {
	switch {
	case e.Sequence <= c.last:
		c.wrong("The %s stands after number %d: the order was changed.", e.Name, c.last)
		c.differs("the " + e.Name)
		c.nowBroken, c.keptBroken = true, true
		return nil
	case e.Sequence == c.last+2:
		c.missing("number %d", c.last+1)
		c.keptBroken = true
	case e.Sequence > c.last+2:
		c.missing("numbers %d to %d", c.last+1, e.Sequence-1)
		c.keptBroken = true
	}
	c.last = e.Sequence
	if e.Leaf == nil {
		c.missing("number %d", e.Sequence)
	}
	c.keptBroken = c.keptBroken || len(e.Kept) < tlog.HashSize
	if err := c.compare(e); err != nil {
		return err
	}
	c.compareRoots()
	return nil
}

// Words reports an entry whose words do not give its digest.
func (c *Check) Words(name string) {
	c.wrong("The words of the %s do not give its digest: they were altered.", name)
	c.differs("the " + name)
}

// Taken reports an entry whose words are gone although no later entry says so.
func (c *Check) Taken(name string) {
	c.wrong("The words of the %s were taken, and no later entry says so.", name)
}

func (c *Check) missing(format string, args ...any) {
	name := fmt.Sprintf(format, args...)
	c.wrong("No entry has the sequence %s.", name)
	c.differs("that with the " + name)
	c.nowBroken = true
}

// compare adds the entry to the trees, and compares what they keep.
func (c *Check) compare(e Logged) error {
	var made []byte
	var err error
	if !c.nowBroken {
		if made, err = c.now.Add(*e.Leaf); err != nil {
			return err
		}
	}
	if !c.keptBroken {
		if _, err := c.kept.Add(tlog.Hash(e.Kept[:tlog.HashSize])); err != nil {
			return err
		}
	}
	switch {
	case e.Leaf == nil || len(e.Kept) < tlog.HashSize:
	case string(e.Leaf[:]) != string(e.Kept[:tlog.HashSize]):
		c.wrong("The %s is not the one that was logged: it was altered, or stands in another's place.", e.Name)
		c.differs("the " + e.Name)
	case len(e.Kept) > tlog.HashSize && c.first == "" && string(made) != string(e.Kept):
		c.wrong("The hashes that were logged over the entries up to the %s are not those of the entries: "+
			"one of them was altered together with its own hash.", e.Name)
		c.differs("the " + e.Name + ", or one before it")
	}
	return nil
}

// compareRoots compares with the checkpoints up to the size that is reached.
func (c *Check) compareRoots() {
	for len(c.checkpoints) > 0 && c.checkpoints[0].Size <= c.last {
		point := c.checkpoints[0]
		c.checkpoints = c.checkpoints[1:]
		switch {
		case !c.nowBroken && c.now.Size() == point.Size && gives(&c.now, point):
			c.proven = point.Size
		case !c.keptBroken && c.kept.Size() == point.Size && gives(&c.kept, point):
			c.wrong("The checkpoint of %d entries proves what was logged: the first that differs is %s.",
				point.Size, c.first)
		case c.first != "":
			c.wrong("The entries do not give the checkpoint of %d entries; the first that differs is %s.",
				point.Size, c.first)
		default:
			c.wrong("The entries do not give the checkpoint of %d entries: one of the numbers %d to %d was altered, "+
				"removed or reordered, and all hashes were made anew.", point.Size, c.proven+1, point.Size)
		}
	}
}

func gives(tree *Tree, point Checkpoint) bool {
	root, err := tree.Root()
	return err == nil && root == point.Root
}

// End names what is left: entries that a checkpoint has, and the log has no more.
func (c *Check) End() {
	for _, point := range c.checkpoints {
		c.wrong("The checkpoint has %d entries, and the last one here has the sequence number %d: number %d is the first "+
			"that is missing.", point.Size, c.last, c.last+1)
	}
	c.checkpoints = nil
}

// Proven is the size of the largest checkpoint that the entries, as they are now, give.
func (c *Check) Proven() int64 { return c.proven }
