package material

import "slices"

// Rating is a verdict on a solvent in a container, at about 20 Cel.
type Rating string

// The ratings.
const (
	Satisfactory  Rating = "satisfactory"
	Limited       Rating = "limited" // short contact; swelling, permeation or crazing
	Unsuitable    Rating = "unsuitable"
	UnknownRating Rating = "unknown"
)

// Basis says what a rating rests on.
type Basis string

// The bases of a rating.
const (
	ReadNamed Basis = "read"       // a chart names the solvent
	ReadClass Basis = "read-class" // a chart names only its class, or a near relative
	Recalled  Basis = "memory"     // class knowledge; never to be shown as plainly suitable
	NoBasis   Basis = ""           // nothing is known
)

// Reading is how close a source comes to the solvent.
type Reading string

// The readings.
const (
	Named        Reading = "named"
	ByClass      Reading = "class"
	NearRelative Reading = "near-relative"
	General      Reading = "general" // about solvents in general: never decides
	FromMemory   Reading = "memory"
)

var (
	ratings  = wordSet(Satisfactory, Limited, Unsuitable)
	readings = wordSet(Named, ByClass, NearRelative, General, FromMemory)
	codes    = wordSet("1", "2", "3", "4", "5", "6", "7")
)

// Container is a material of containers, closures and liners.
type Container struct {
	// ID is stable: "hdpe", "glass".
	ID   string
	Name string
	// Code is the resin identification code moulded into it, or "".
	Code     string
	Note     string
	Evidence Evidence
}

// ResinCode is a resin identification code. It names a resin and says nothing
// about its resistance to solvents.
type ResinCode struct {
	Code, Letters string
	// Container is the id that the code means, "" for code 7, where the polymer
	// has to be asked for.
	Container string
	Note      string
	Evidence  Evidence
}

// RatingRow is one reading of one source.
type RatingRow struct {
	Container, Solvent string
	Rating             Rating
	Reading            Reading
	// Printed is what the source prints, in its own signs.
	Printed  string
	Remark   string
	Evidence Evidence
}

// ContainerVerdict is what is known of a solvent in a container.
type ContainerVerdict struct {
	// Rating is the worst reading, a recalled one too when it is stricter than what
	// was read; UnknownRating when there is none, which is a warning.
	Rating Rating
	// Basis is what the deciding reading rests on.
	Basis Basis
	// Rows are the deciding readings, Others the milder ones.
	Rows, Others []RatingRow
	// Of is the broader solvent whose readings were used (xylene for o-xylene), or "".
	Of string
}

// Containers lists the container materials in the order of the table.
func (b *Base) Containers() []Container { return slices.Clone(b.containers) }

// Container finds a container material by its id.
func (b *Base) Container(id string) (Container, bool) {
	i := slices.IndexFunc(b.containers, func(c Container) bool { return c.ID == id })
	if i < 0 {
		return Container{}, false
	}
	return b.containers[i], true
}

// ResinCodes lists the resin identification codes.
func (b *Base) ResinCodes() []ResinCode { return slices.Clone(b.codes) }

// ContainerRating gives the verdict on a solvent in a container material.
func (b *Base) ContainerRating(container, solvent string) ContainerVerdict {
	solvent = b.behavesAs(solvent)
	rows, of := b.ratings[ratingKey{container, solvent}], ""
	for broader := b.materials[solvent].Broader; len(rows) == 0 && broader != ""; broader = b.materials[broader].Broader {
		rows, of = b.ratings[ratingKey{container, broader}], broader
	}
	v := ContainerVerdict{Rating: UnknownRating}
	for _, r := range rows {
		if r.Reading != General && severity(r.Rating) > severity(v.Rating) {
			v.Rating = r.Rating
		}
	}
	for _, r := range rows {
		if r.Rating == v.Rating && r.Reading != General {
			v.Rows = append(v.Rows, r)
		} else {
			v.Others = append(v.Others, r)
		}
	}
	v.Basis = basisOf(v.Rows)
	if v.Rating != UnknownRating {
		v.Of = of
	}
	return v
}

func severity(r Rating) int {
	return slices.Index([]Rating{UnknownRating, Satisfactory, Limited, Unsuitable}, r)
}

// basisOf gives the best basis among the deciding rows.
func basisOf(rows []RatingRow) Basis {
	basis := NoBasis
	for _, r := range rows {
		switch {
		case r.Reading == Named:
			return ReadNamed
		case r.Reading == FromMemory && basis == NoBasis:
			basis = Recalled
		case r.Reading != FromMemory:
			basis = ReadClass
		}
	}
	return basis
}

func readContainers(b *Base, r *reader) {
	r.table("containers.tsv", "id name code note source status", func(w row) {
		c := Container{ID: w.need("id"), Name: w.need("name"), Code: w.text("code"), Note: w.text("note"),
			Evidence: w.evidence()}
		if c.Code != "" {
			word(w, "code", codes)
		}
		if _, twice := b.Container(c.ID); twice {
			w.fail("container %q stands twice", c.ID)
		}
		b.containers = append(b.containers, c)
	})
}

func (w row) container(b *Base, column string) string {
	id := w.text(column)
	if _, ok := b.Container(id); !ok {
		w.fail("%s: %q is not a container material", column, id)
	}
	return id
}

func readCodes(b *Base, r *reader) {
	r.table("resin-codes.tsv", "code letters container note source status", func(w row) {
		c := ResinCode{Code: word(w, "code", codes), Letters: w.need("letters"), Note: w.text("note"),
			Evidence: w.evidence()}
		if w.text("container") != "" {
			c.Container = w.container(b, "container")
		}
		b.codes = append(b.codes, c)
	})
}

func readRatings(b *Base, r *reader) {
	r.table("container-ratings.tsv", "container solvent rating reading printed remark source status", func(w row) {
		x := RatingRow{
			Container: w.container(b, "container"), Solvent: w.material(b, "solvent"), Rating: word(w, "rating", ratings),
			Reading: word(w, "reading", readings), Printed: w.text("printed"), Remark: w.text("remark"), Evidence: w.evidence(),
		}
		if (x.Reading == FromMemory) != (x.Evidence.Status == Memory) {
			w.fail("a reading from memory has the status memory, and no other has")
		}
		key := ratingKey{x.Container, x.Solvent}
		b.ratings[key] = append(b.ratings[key], x)
	})
}
