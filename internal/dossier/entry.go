package dossier

import (
	"slices"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/publish"
	"meniscus/internal/record"
)

// Entry is a record as it stands, with its words read.
type Entry struct {
	Record     uuid.UUID
	Kind       record.Kind
	Revision   int
	RecordedAt time.Time
	RecordedBy uuid.UUID
	SourceID   string // in the system that it came from
	// Value is what its words say; nil where they were redacted or cannot be read,
	// and where the record was retracted.
	Value      record.Value
	Says       func() record.Members // its words, for people to read; nil where Value is
	Unreadable bool                  // its words exist but cannot be read
	Withheld   bool                  // its words are withheld from whoever asks
	Retracted  bool
	Reason     string    // of the retraction
	MergedInto uuid.UUID // the record that stands for it, or the zero UUID
	Received   *publish.Received
}

// Keep adds records.
func (d *Dossier) Keep(entries ...Entry) {
	for _, e := range entries {
		d.entries[e.Record] = e
	}
	d.names, d.contents = nil, nil
}

// Holds tells whether the dossier holds a record.
func (d *Dossier) Holds(id uuid.UUID) bool {
	_, known := d.entries[id]
	return known
}

// Missing are those among the ids that the dossier does not hold, each once.
func (d *Dossier) Missing(ids []uuid.UUID) []uuid.UUID {
	slices.SortFunc(ids, byID)
	return slices.DeleteFunc(slices.Compact(ids), func(id uuid.UUID) bool { return id == uuid.Nil || d.Holds(id) })
}

// Batches are the batches whose words are here.
func (d *Dossier) Batches() []uuid.UUID {
	var ids []uuid.UUID
	for id := range d.entries {
		if _, ok := said[*record.Batch](d, id); ok {
			ids = append(ids, id)
		}
	}
	slices.SortFunc(ids, byID)
	return ids
}

// OtherTreatments are the treatments that those of the dossier name.
func (d *Dossier) OtherTreatments() []uuid.UUID {
	var named []uuid.UUID
	for id := range d.entries {
		if t, ok := said[*record.Treatment](d, id); ok {
			named = append(named, t.Names()...)
		}
	}
	return named
}

// Container is what a batch is kept in, as recorded; nil where nothing is.
func (d *Dossier) Container(batch uuid.UUID) *record.Container {
	if b, ok := said[*record.Batch](d, batch); ok {
		return b.Container
	}
	return nil
}

// said is what a record says, if it is of type T and its words are here.
func said[T record.Value](d *Dossier, id uuid.UUID) (T, bool) {
	value, ok := d.entries[id].Value.(T)
	return value, ok
}

func byID(a, b uuid.UUID) int { return slices.Compare(a[:], b[:]) }

// each maps a list.
func each[T, U any](list []T, make func(T) U) []U {
	out := []U{}
	for _, x := range list {
		out = append(out, make(x))
	}
	return out
}
