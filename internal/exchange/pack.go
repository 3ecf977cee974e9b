package exchange

import (
	"context"
	"fmt"
	"io"
	"maps"
	"slices"

	"github.com/google/uuid"

	"meniscus/internal/fault"
	"meniscus/internal/ledger"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/statement"
	"meniscus/internal/wire"
)

// mostPacked bounds the records of a package, and mostMentioned the ids that their
// words name. The limits of its entries and their words are those of receiving.
const (
	mostPacked    = 20_000
	mostMentioned = 500_000
)

// mostFiles and mostFileBytes bound the files that a package lists, and their addresses.
const (
	mostFiles     = 10_000
	mostFileBytes = 4 << 20
)

// packageLine is the first line of a package: the hazards of the specimen to people, in
// sentences; which specimen it is about; which institution sends it; and the pictures and
// documents that its records in force name, so that who receives them can tell whether all came.
type packageLine struct {
	Hazards     []string     `json:"hazards,omitempty"`
	Specimen    uuid.UUID    `json:"specimen"`
	Institution uuid.UUID    `json:"institution"`
	Name        string       `json:"name"`
	Files       []packedFile `json:"files,omitempty"`
	MoreFiles   int          `json:"moreFiles,omitempty"`
}

type packedFile struct {
	Record uuid.UUID `json:"record"`
	statement.File
}

// Package is a specimen's record with its history, for another institution.
type Package struct {
	*Export
	first   packageLine
	signers ledger.Signers
	kinds   map[uuid.UUID]record.Kind      // the records of the package
	files   map[uuid.UUID][]statement.File // that the last revision of a record names
	entries int
	bytes   int // of their words
}

// Pack gathers the records that go with a specimen, whose hazards are said first. The package
// is signed with the keys of the log, if there are any.
func Pack(
	ctx context.Context, store postgres.Tenant, specimen uuid.UUID, hazards []string, signers ledger.Signers, pace Pace,
) (*Package, error) {
	institution, err := store.Institution(ctx)
	if err != nil {
		return nil, err
	}
	export, err := NewExport(ctx, store, pace)
	if err != nil {
		return nil, err
	}
	p := &Package{Export: export, signers: signers, kinds: map[uuid.UUID]record.Kind{},
		files: map[uuid.UUID][]statement.File{},
		first: packageLine{Hazards: hazards, Specimen: specimen, Institution: institution.ID, Name: institution.Name}}
	return p, p.gather(ctx, specimen)
}

// follows gives the kinds of record that go with a record that names them. Treatments
// of other specimens are never included; specimens that are named are included without
// their treatments.
var follows = map[record.Kind][]record.Kind{
	record.KindSpecimen: {record.KindSpecimen, record.KindPerson, record.KindMaterial},
	record.KindTreatment: {record.KindSpecimen, record.KindBatch, record.KindSupply, record.KindPlan,
		record.KindPerson, record.KindMaterial},
	record.KindPlan: {record.KindSpecimen, record.KindBatch, record.KindSupply, record.KindPerson, record.KindMaterial},
	record.KindBatch: {record.KindBatch, record.KindSupply, record.KindAmountChange,
		record.KindPerson, record.KindMaterial},
	record.KindAmountChange: {record.KindBatch, record.KindSupply, record.KindPerson, record.KindMaterial},
	record.KindSupply:       {record.KindPerson, record.KindMaterial},
	record.KindMaterial:     {record.KindMaterial},
}

// gather finds the records that go with a specimen: its history, and the records that
// the history names, to any depth.
func (p *Package) gather(ctx context.Context, specimen uuid.UUID) error {
	fresh, err := p.store.HistoryRecords(ctx, specimen)
	for len(fresh) > 0 && err == nil {
		for _, r := range fresh {
			p.kinds[r.ID] = r.Kind
		}
		if len(p.kinds) > mostPacked {
			return errPackageTooLarge
		}
		fresh, err = p.named(ctx, fresh)
	}
	return err
}

var errPackageTooLarge = fault.Of(fault.Conflict, "package-too-large",
	"More goes with this specimen than a package holds: %d records, %d entries and %d bytes of words; "+
		"pass its parts on one by one, or export everything.",
	mostPacked, mostReceived, mostReceivedBytes)

// mentions are the kinds of record that name an id.
type mentions map[uuid.UUID][]record.Kind

func (m mentions) add(id uuid.UUID, by record.Kind) {
	if !slices.Contains(m[id], by) {
		m[id] = append(m[id], by)
	}
}

// count counts an entry of the package and checks the limits.
func (p *Package) count(x postgres.Exported, named int) error {
	p.entries++
	p.bytes += len(deref(x.Body))
	if p.entries > mostReceived || p.bytes > mostReceivedBytes || named > mostMentioned {
		return errPackageTooLarge
	}
	return nil
}

// named gives the records that the given ones name and that are not gathered yet.
func (p *Package) named(ctx context.Context, by []postgres.RecordOf) ([]postgres.RecordOf, error) {
	wanted := mentions{} // with the kinds of the records that name them
	ids := make([]uuid.UUID, len(by))
	for i, r := range by {
		ids[i] = r.ID
		wanted.add(r.ID, r.Kind) // a batch brings its amount changes
	}
	read := func(ctx context.Context, after, upto int64, limit int) ([]postgres.Exported, bool, error) {
		return p.store.ExportOf(ctx, ids, after, upto, limit)
	}
	people := map[uuid.UUID]bool{}
	err := p.each(ctx, read, func(x postgres.Exported) error {
		people[x.RecordedBy] = true
		wanted.add(x.RecordedBy, x.Kind)
		if err := p.count(x, len(wanted)); err != nil || x.Body == nil {
			delete(p.files, x.Record)
			return err
		}
		files, err := statement.NamedIn(*x.Body, func(id uuid.UUID) { wanted.add(id, x.Kind) })
		p.files[x.Record] = files
		return err
	})
	if err != nil {
		return nil, err
	}
	found, err := p.store.RecordsAmong(ctx, slices.Collect(maps.Keys(wanted)))
	if err != nil {
		return nil, err
	}
	return p.withStock(ctx, slices.DeleteFunc(found, func(r postgres.RecordOf) bool {
		_, gathered := p.kinds[r.ID]
		goes := r.Kind == record.KindAmountChange || people[r.ID] ||
			slices.ContainsFunc(wanted[r.ID], func(k record.Kind) bool { return slices.Contains(follows[k], r.Kind) })
		return gathered || !goes
	}))
}

// withStock adds what the batches among some records were made from, in one query, so
// that a long lineage needs no query for each step.
func (p *Package) withStock(ctx context.Context, fresh []postgres.RecordOf) ([]postgres.RecordOf, error) {
	there := map[uuid.UUID]bool{}
	var batches []uuid.UUID
	for _, r := range fresh {
		there[r.ID] = true
		if r.Kind == record.KindBatch {
			batches = append(batches, r.ID)
		}
	}
	if len(batches) == 0 {
		return fresh, nil
	}
	stock, err := p.store.MadeFrom(ctx, batches)
	for _, r := range stock {
		if _, gathered := p.kinds[r.ID]; !gathered && !there[r.ID] {
			fresh = append(fresh, r)
		}
	}
	return fresh, err
}

// list puts the files into the first line, in order of their records.
func (p *Package) list() {
	size := 0
	for _, id := range slices.SortedFunc(maps.Keys(p.files), func(a, b uuid.UUID) int { return slices.Compare(a[:], b[:]) }) {
		for _, f := range p.files[id] {
			if size += len(f.URL); size > mostFileBytes || len(p.first.Files) == mostFiles {
				p.first.MoreFiles++
				continue
			}
			p.first.Files = append(p.first.Files, packedFile{id, f})
		}
	}
}

// Write writes the package.
func (p *Package) Write(ctx context.Context, w io.Writer) error {
	out := newLineWriter(w)
	p.list()
	words, err := wire.Encode(p.first)
	if err != nil {
		return err
	}
	if _, err := fmt.Fprintf(out.out, "{\"package\":%s}\n", words); err != nil {
		return err
	}
	ids := slices.Collect(maps.Keys(p.kinds))
	read := func(ctx context.Context, after, upto int64, limit int) ([]postgres.Exported, bool, error) {
		return p.store.ExportOf(ctx, ids, after, upto, limit)
	}
	if err := p.each(ctx, read, out.entry); err != nil {
		return err
	}
	if len(p.signers) == 0 {
		return out.end()
	}
	return out.endSigned(func(sha256 string) ([]byte, error) {
		return p.signers.SignPackage(p.first.Institution, sha256)
	})
}
