package publish

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"encoding/xml"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"slices"
	"strings"

	"meniscus/internal/sheet"
)

// ArchiveType is the media type of a Darwin Core archive.
const ArchiveType = "application/zip"

const dwc = "http://rs.tdwg.org/dwc/terms/"

// table is one file of an archive: its rows are of one class, and each column
// is a term.
type table struct {
	file    string
	rowType string
	columns []string // the first is the id, or the id of the core's row
}

// The three files. Rows refer to the specimen's row by its id, so that a
// catalogue can import the two extensions and drop our core.
//
// Source: Darwin Core List of Terms of 2026-05-26; Darwin Core Text Guide of
// 2023-09-13.
var (
	coreTable = table{
		"specimen.csv", dwc + "MaterialEntity", []string{
			"", "materialEntityID", "catalogNumber", "collectionCode", "preparations", "materialEntityRemarks",
		},
	}

	measurementTable = table{"measurementorfact.csv", dwc + "MeasurementOrFact",
		[]string{"", "measurementID", "parentMeasurementID", "measurementType",
			"measurementValue", "measurementUnit", "measurementDeterminedBy", "measurementDeterminedDate", "measurementMethod",
			"measurementRemarks"}}

	relationshipTable = table{"resourcerelationship.csv", dwc + "ResourceRelationship",
		[]string{"", "resourceRelationshipID", "resourceID",
			"relationshipOfResourceID", "relatedResourceID", "relationshipOfResource", "relationshipAccordingTo",
			"relationshipEstablishedDate", "relationshipRemarks"}}
)

// Archive writes a Darwin Core archive of specimens as they come. The core is
// written at once; the two extensions are kept in memory, compressed, until the
// core is complete. One pass writes everything, so that no row refers to a
// missing specimen.
//
// Cells are guarded as in every other table, alike in all three files and ids
// included, because people open archives in spreadsheets too. A program removes
// one apostrophe from a cell that begins with one. Line breaks become spaces,
// since many readers take a line for a row.
type Archive struct {
	base          Base
	zip           *zip.Writer
	core          *sheet.Writer
	measurements  *spool
	relationships *spool
	coreID        CoreID
	taken         map[string]bool // ids of the core so far
}

// CoreID says which id ties a specimen's rows together.
type CoreID string

const (
	// ByLink ties them by the specimen's link here.
	ByLink CoreID = "link"
	// ByCatalogueNumber ties them by the first catalogue number, and BySource by
	// the record id in the system that the specimen came from. A specimen that has
	// none, or one that an earlier specimen of the archive has, is tied by its link.
	ByCatalogueNumber CoreID = "catalogue-number"
	BySource          CoreID = "source"
)

// NewArchive begins an archive.
func NewArchive(w io.Writer, base Base, by CoreID) (*Archive, error) {
	a := &Archive{base: base, coreID: by, taken: map[string]bool{}, zip: zip.NewWriter(w),
		measurements: newSpool(measurementTable), relationships: newSpool(relationshipTable)}
	meta, err := a.zip.Create("meta.xml")
	if err != nil {
		return nil, fmt.Errorf("beginning the archive: %w", err)
	}
	if _, err := meta.Write(descriptor()); err != nil {
		return nil, fmt.Errorf("writing the descriptor: %w", err)
	}
	core, err := a.zip.Create(coreTable.file)
	if err != nil {
		return nil, fmt.Errorf("beginning %s: %w", coreTable.file, err)
	}
	a.core = sheet.NewLineWriter(core)
	return a, a.core.Write(header(coreTable)...)
}

// Add writes a specimen and the rows of its treatments.
func (a *Archive) Add(s Specimen) error {
	id := a.idOf(s)
	if err := a.core.Write(cells(id, s.IRI, s.number("catalogue-number"), s.Collection, s.Preparations(),
		strings.Join(append(slices.Clone(s.Notices), s.Description), " "))...); err != nil {
		return fmt.Errorf("writing a specimen: %w", err)
	}
	for _, t := range byDate(s.Treatments) {
		if err := a.treatment(id, s, t); err != nil {
			return fmt.Errorf("writing a treatment: %w", err)
		}
	}
	return a.core.Flush()
}

// idOf is the specimen's id in the archive; no two specimens have the same.
func (a *Archive) idOf(s Specimen) string {
	id := s.IRI
	switch a.coreID {
	case ByCatalogueNumber:
		id = s.number("catalogue-number")
	case BySource:
		id = s.SourceID
	}
	if id = oneLine(id); id == "" || a.taken[id] {
		id = s.IRI
	}
	a.taken[id] = true
	return id
}

// number is the first identifier of a kind, or "".
func (s Specimen) number(kind string) string {
	for _, id := range s.Identifiers {
		if id.Kind == kind {
			return id.Value
		}
	}
	return ""
}

func (a *Archive) treatment(id string, s Specimen, t Treatment) error {
	by, date := t.doneBy(), t.Date.String()
	self, mark, remark := t.IRI, "#", t.Sentence()
	if t.Origin != nil && t.Origin.Because == "split" { // it is also listed under the whole, and ids of rows are unique
		self, mark = t.IRI+"#on-"+s.IRI[strings.LastIndex(s.IRI, "/")+1:], "-"
	}
	if t.Origin != nil {
		remark += " (" + t.Origin.Said() + ")"
	}
	if t.Revision.Received != nil {
		remark += " (" + t.Revision.Received.Said() + ")"
	}
	rows := [][]string{cells(id, self, "", "conservation treatment", spaced(t.Action), "", by, date, t.Plan, remark)}
	detail := func(fragment, kind, value, unit, remarks string) {
		rows = append(rows, cells(id, self+mark+fragment, self, kind, value, unit, by, date, t.Plan, remarks))
	}
	for i, u := range t.Uses {
		n := fmt.Sprintf("material-%d", i+1)
		detail(n, "material", u.what(), "", u.Said())
		for k, solvent := range u.Solvents {
			detail(fmt.Sprintf("%s-solvent-%d", n, k+1), "solvent", solvent.Label, "", "")
		}
		if u.Strength.Value != "" {
			detail(n+"-strength", materialType(u)+" concentration", u.Strength.Value, u.Strength.Unit,
				strengthRemark(u.Strength))
		}
		if !u.Amount.IsZero() {
			detail(n+"-amount", materialType(u)+" amount", u.Amount.Value, u.Amount.Unit, "")
		}
	}
	for i, x := range t.Exposures {
		detail(fmt.Sprintf("contact-%d", i+1), "solvent contact", x.Solvent.Label, "", x.Said())
		if !x.Time.IsZero() {
			detail(fmt.Sprintf("contact-%d-time", i+1), "solvent contact time", x.Time.Value, x.Time.Unit, "")
		}
	}
	for i, area := range t.Areas {
		detail(fmt.Sprintf("area-%d", i+1), "treated area", area, "", "")
	}
	if t.Left != "" {
		detail("left", "material left", spaced(t.Left), "", t.Result())
	}
	if err := a.measurements.write(rows...); err != nil {
		return err
	}
	return a.relationships.write(cells(id, self+mark+"treated", s.IRI, a.base.Term("wasTreatedIn"), t.IRI,
		"was treated in", by, date, ""))
}

// materialType names a material by what it was for.
func materialType(u Use) string {
	if u.Role == "" || u.Role == "unknown" || u.Role == "other" {
		return "material"
	}
	return spaced(u.Role)
}

func strengthRemark(s Strength) string {
	switch {
	case s.Asked:
		return s.Basis + "; as the recipe asked"
	case s.Computed:
		return s.Basis + "; computed from the amounts measured"
	}
	return s.Basis
}

// doneBy names the people who carried it out, separated as Darwin Core separates
// values.
func (t Treatment) doneBy() string {
	var names []string
	for _, who := range t.People {
		if who.IRI != "" && (who.Part == "carried-out" || who.Part == "examined" || who.Part == "sampled") {
			names = append(names, who.Label())
		}
	}
	return strings.Join(names, " | ")
}

// Close writes the extensions and ends the archive.
func (a *Archive) Close() error {
	for _, s := range []*spool{a.measurements, a.relationships} {
		if err := s.into(a.zip); err != nil {
			return fmt.Errorf("writing %s: %w", s.table.file, err)
		}
	}
	if err := a.zip.Close(); err != nil {
		return fmt.Errorf("ending the archive: %w", err)
	}
	return nil
}

// cells makes a row of which every cell is one line.
func cells(values ...string) []string {
	for i, v := range values {
		values[i] = oneLine(v)
	}
	return values
}

// header is a file's first line, for people.
func header(t table) []string {
	names := append([]string{"id"}, t.columns[1:]...)
	if t.file != coreTable.file {
		names[0] = "coreid"
	}
	return names
}

// spool keeps a file's compressed bytes until they can be written to the archive.
type spool struct {
	table table
	bytes bytes.Buffer
	flate *flate.Writer
	sheet *sheet.Writer
	sum   uint32
	size  uint64
}

func newSpool(t table) *spool {
	s := &spool{table: t}
	s.flate, _ = flate.NewWriter(&s.bytes, flate.DefaultCompression) // fails only for a level that does not exist
	s.sheet = sheet.NewLineWriter(s)
	_ = s.sheet.Write(header(t)...) // into memory
	return s
}

// Write counts and compresses what the CSV writer gives.
func (s *spool) Write(p []byte) (int, error) {
	s.sum = crc32.Update(s.sum, crc32.IEEETable, p)
	s.size += uint64(len(p))
	return s.flate.Write(p)
}

func (s *spool) write(rows ...[]string) error {
	for _, row := range rows {
		if err := s.sheet.Write(row...); err != nil {
			return err
		}
	}
	return nil
}

func (s *spool) into(z *zip.Writer) error {
	if err := errors.Join(s.sheet.Flush(), s.flate.Close()); err != nil {
		return err
	}
	w, err := z.CreateRaw(&zip.FileHeader{Name: s.table.file, Method: zip.Deflate, CRC32: s.sum,
		CompressedSize64: uint64(s.bytes.Len()), UncompressedSize64: s.size})
	if err != nil {
		return err
	}
	_, err = s.bytes.WriteTo(w)
	return err
}

// descriptor is meta.xml: which file holds which terms in which column.
func descriptor() []byte {
	var b bytes.Buffer
	b.WriteString(xml.Header + `<archive xmlns="http://rs.tdwg.org/dwc/text/">` + "\n")
	describe(&b, "core", "id", coreTable)
	describe(&b, "extension", "coreid", measurementTable)
	describe(&b, "extension", "coreid", relationshipTable)
	b.WriteString("</archive>\n")
	return b.Bytes()
}

func describe(b *bytes.Buffer, element, id string, t table) {
	fmt.Fprintf(b, `  <%s rowType="%s" encoding="UTF-8" fieldsTerminatedBy="," linesTerminatedBy="\n" `+
		`fieldsEnclosedBy="&quot;" ignoreHeaderLines="1">`+"\n", element, t.rowType)
	fmt.Fprintf(b, "    <files><location>%s</location></files>\n    <%s index=\"0\"/>\n", t.file, id)
	for i, column := range t.columns {
		if i > 0 {
			fmt.Fprintf(b, "    <field index=\"%d\" term=\"%s%s\"/>\n", i, dwc, column)
		}
	}
	fmt.Fprintf(b, "  </%s>\n", element)
}
