package publish

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/edtf"
)

// Base is the address under which the service is reached, without a slash at
// its end. Every IRI that the service coins begins with it.
type Base string

// Specimen is the stable link of a specimen.
func (b Base) Specimen(id uuid.UUID) string { return string(b) + "/v1/specimens/" + id.String() }

// Treatment is the stable link of a treatment.
func (b Base) Treatment(id uuid.UUID) string { return string(b) + "/v1/treatments/" + id.String() }

// Batch is the stable link of a batch.
func (b Base) Batch(id uuid.UUID) string { return string(b) + "/v1/batches/" + id.String() }

// Supply is the stable link of a supply.
func (b Base) Supply(id uuid.UUID) string { return string(b) + "/v1/supplies/" + id.String() }

// Person is the stable link of a person.
func (b Base) Person(id uuid.UUID) string { return string(b) + "/v1/people/" + id.String() }

// Record is the link of a record of any kind.
func (b Base) Record(id uuid.UUID) string { return string(b) + "/v1/records/" + id.String() }

// Plan is the stable link of a plan.
func (b Base) Plan(id uuid.UUID) string { return string(b) + "/v1/plans/" + id.String() }

// Material is the stable link of a material.
func (b Base) Material(id string) string { return string(b) + "/v1/materials/" + id }

// Term is the IRI of a term of the service's own vocabulary.
func (b Base) Term(name string) string { return string(b) + "/vocabulary/" + name }

// word is the IRI of a word of one of the record's lists.
func (b Base) word(list, word string) string { return b.Term(list + "-" + word) }

// Link is something with an address and a name for people.
type Link struct {
	IRI   string
	Label string
}

// Person is a person whom the record names.
type Person struct {
	IRI   string
	Name  string // "" when it was erased or is unknown
	ORCID string // bare; "" when there is none
	Of    string // the organisation in the person's own record
}

// erasedName replaces a name that was erased.
const erasedName = "name erased"

// Label is the person's name, or says that it was erased.
func (p Person) Label() string { return cmp.Or(p.Name, erasedName) }

// iri is the person's ORCID iD where there is one, else the link here.
func (p Person) iri() string {
	if p.ORCID != "" && p.Name != "" {
		return "https://orcid.org/" + p.ORCID
	}
	return p.IRI
}

// Involvement is who did what, and for which organisation.
type Involvement struct {
	Person
	Part         string
	Organisation string
}

// Revision is a record's revision and its standing.
type Revision struct {
	IRI    string // of the record, of any kind
	Record uuid.UUID
	Number int
	At     time.Time
	By     Person
	// Retracted says that the record should not have been recorded, and Reason
	// why.
	Retracted bool
	Reason    string
	// Erased says that the record's words were redacted.
	Erased bool
	// Unreadable says that its words exist but cannot be read.
	Unreadable bool
	// Withheld says that its words are told only to those who may see restricted records.
	Withheld bool
	// Received is the origin that another institution states; nil where it was
	// recorded here first.
	Received *Received
}

// Received is where a record came from, as the sender says.
type Received struct {
	Name    string // of the institution that recorded it first
	At      time.Time
	Through []string // the institutions that passed it on
	Signed  bool     // the last of them signed what came
}

// Said is the origin in words, and how reliable it is.
func (r Received) Said() string {
	through := ""
	if len(r.Through) > 0 {
		through = ", and passed on by " + strings.Join(r.Through, ", ")
	}
	return "Received. As the sender says, it was recorded first by " + r.Name + " on " +
		r.At.UTC().Format("2 January 2006") + through + ". " + r.proved("Nothing of that was proved here",
		"The sender's key signed what came") + ", and an authorisation in it is the sender's: it authorises nothing here."
}

func (r Received) proved(nothing, signed string) string {
	if r.Signed {
		return signed
	}
	return nothing
}

// Standing tells whether the record is in force and readable.
func (r Revision) Standing() bool { return !r.Retracted && !r.Erased && !r.Unreadable && !r.Withheld }

// Identifier is one of the catalogue's numbers.
type Identifier struct{ Kind, Value string }

// Specimen is a specimen with everything recorded of it.
type Specimen struct {
	IRI            string
	Revision       Revision
	Title          string // the number that it is known by
	Identifiers    []Identifier
	SourceID       string // the record's id in the system that it came from
	Collection     string
	Description    string
	Classification string
	Owner          string
	Body           string // the kind of body, a word of the contract's list
	Institution    string
	// Notices come before everything else: hazards, that the record was merged,
	// that the specimen left, what cannot be read.
	Notices []string
	// Open are those of the notices that say of which hazards nobody knows; they stand quietly.
	Open []string
	// HazardTag is the hazards in a few words.
	HazardTag  string
	MergedInto *Link // the record that stands for this one
	Merged     []Merged
	PartOf     *Link // the specimen that it was part of
	Treatments []Treatment
	Unsaid     []Revision // of treatments that were retracted, or whose words are gone or cannot be read
	Untold     int        // treatments on record whose words are withheld, gone or cannot be read
	// MoreTreatments is how many more are on record; a notice says so.
	MoreTreatments int
	Present        *PresentState // for pages; nil where it was not asked for
	Fields         []Field       // the whole statement, for people
}

// Merged is a record that a specimen stands for.
type Merged struct {
	Link
	Identifiers []Identifier
}

// Origin is the record that a treatment was stated about, if it is listed under
// another one.
type Origin struct {
	Link
	Because string // merged, or split
	Certain bool   // of a split: the treatment was certainly before it
}

// Said is the origin in words.
func (o Origin) Said() string {
	switch {
	case o.Because == "merged":
		return "stated about " + o.Label + ", which is the same specimen"
	case o.Certain:
		return "inherited from " + o.Label + ", which it was part of"
	}
	return "inherited from " + o.Label + ", which it was part of; the dates do not show whether it came before the split"
}

// Date is when something was done, or an answer instead.
type Date struct {
	edtf.Date
	Answer string // unknown, none or not-examined
}

// Said is the date in words, or the answer.
func (d Date) Said() string {
	if d.IsZero() {
		return cmp.Or(spaced(d.Answer), "not recorded")
	}
	return d.Words()
}

// Whole is the date in words, and as it is written where the words may say less.
func (d Date) Whole() string {
	if d.IsZero() {
		return d.Said()
	}
	return dateSaid(d.Date)
}

// Said is who did what, and for which organisation.
func (i Involvement) Said() string {
	if of := cmp.Or(i.Organisation, i.Of); of != "" {
		return i.Label() + ", " + of
	}
	return i.Label()
}

// Treatment is a treatment with what it names resolved.
type Treatment struct {
	IRI          string
	Revision     Revision
	Specimen     Link
	Origin       *Origin // nil where it was stated about the specimen itself
	JoinedTo     *Link
	Action       string
	Areas        []string
	AreasAnswer  string
	Method       string
	Coats        int
	Date         Date
	Started      *time.Time
	Ended        *time.Time
	Uses         []Use
	Exposures    []Exposure
	NothingUsed  bool // an empty list of materials says so
	People       []Involvement
	Removes      []Link // treatments; one that was retracted says so in its label
	Left         string // of a removal: reduced, not-detected, unknown
	Outcome      string // of an examination
	LookedFor    string // by an examination
	Observed     string // of a test
	TestedWith   string // of a test: the solvent or reagent
	Load         string // of a joint: whether it carries load: yes, no or unknown; "" where that is not recorded
	Damage       string // what happened, of a record of damage
	Damaged      []Link // the treatments whose layers were damaged, as far as they are named
	Plan         string // IRI
	Notes        []Note
	Fields       []Field
	BatchesBelow []Batch // the batches used, and what they were made from
}

// Plan is a plan of a treatment.
type Plan struct {
	IRI      string
	Revision Revision
	Proposed Treatment
	Fields   []Field // what it says beside the treatment that it proposes, for people
}

// Note is one of a treatment's free texts.
type Note struct {
	Kind    string // purpose, condition-before, condition-after, remarks
	Content string
}

// Use is one material of a treatment.
type Use struct {
	Role       string
	From       *Link    // the batch or supply, if one is recorded
	FromBatch  bool     // it is a batch
	Materials  []Link   // what it is made of, as far as that is known
	Words      string   // the words of an old card instead
	Candidates []Link   // what the words may mean
	Certainty  string   // of the identification, if it is not documented
	Strength   Strength // zero if not known
	Solvents   []Link
	Amount     Quantity
}

// Exposure is a liquid that stood on the specimen.
type Exposure struct {
	Solvent Link
	Time    Quantity // zero if not known
	During  string
}

// Said is the exposure in words.
func (x Exposure) Said() string {
	said := "contact with " + x.Solvent.Label
	if x.Time.IsZero() {
		said += ", time not known"
	} else {
		said += ", " + x.Time.String()
	}
	if x.During != "" {
		said += ", during " + spaced(x.During)
	}
	return said
}

// Quantity is a number with its digits as they were written, and a UCUM unit.
type Quantity struct{ Value, Unit string }

// IsZero tells whether there is no quantity.
func (q Quantity) IsZero() bool { return q.Value == "" }

func (q Quantity) String() string { return q.Value + " " + q.Unit }

// Batch is a batch or a supply with what went into it.
type Batch struct {
	Link
	Supply    bool
	Materials []Link
	Solvents  []Link
	Strength  Strength
	Made      Date
	MadeBy    []Involvement
	Inputs    []Input
	Fields    []Field // the whole statement, for people
}

// Input is one thing that went into a batch.
type Input struct {
	From     Link   // a batch, a supply or a material
	Recorded bool   // it is a batch or a supply
	Part     string // solute, solvent, …
	Amount   Quantity
}

// ByDate gives the treatments that are in force and readable, by date, then in
// the order of recording.
func (s Specimen) ByDate() []Treatment { return byDate(s.Treatments) }

func byDate(list []Treatment) []Treatment {
	sorted := slices.DeleteFunc(slices.Clone(list), func(t Treatment) bool { return !t.Revision.Standing() })
	slices.SortStableFunc(sorted, func(a, b Treatment) int { return edtf.Compare(a.Date.Date, b.Date.Date) })
	return sorted
}

// latest is the treatment whose date begins last, or nil.
func latest(list []Treatment) *Treatment {
	var last *Treatment
	for i := range list {
		if list[i].Date.IsZero() {
			continue
		}
		if last == nil || edtf.Compare(list[i].Date.Date, last.Date.Date) > 0 {
			last = &list[i]
		}
	}
	return last
}
