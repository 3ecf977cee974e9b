package material

import (
	"slices"
	"strings"
)

// Kind says what sort of thing an entry is, and so how it may be mixed.
type Kind string

// The kinds of material.
const (
	Resin               Kind = "resin"                // a solid that is dissolved in a solvent
	NaturalResin        Kind = "natural-resin"        // likewise, of insect or plant origin
	Dispersion          Kind = "dispersion"           // polymer in water; strength by its solids
	ReactingResin       Kind = "reacting-resin"       // sets by reaction: never diluted
	Protein             Kind = "protein"              // glue, gelatin
	CelluloseEther      Kind = "cellulose-ether"      //
	Polyether           Kind = "polyether"            //
	VolatileBinder      Kind = "volatile-binder"      // leaves by itself
	Wax                 Kind = "wax"                  //
	SettingFill         Kind = "setting-fill"         // plaster: mixed by its water ratio, never diluted
	ReactiveConsolidant Kind = "reactive-consolidant" // ethyl silicate: a liquid that sets
	Suspension          Kind = "suspension"           // particles in a liquid; strength in g/L
	NaturalProduct      Kind = "natural-product"      // not described closely
	Filler              Kind = "filler"               // mineral powder, pigment
	Object              Kind = "object"               // a pin, a mount
	Solvent             Kind = "solvent"              //
	SolventMixture      Kind = "solvent-mixture"      // has a composition
	WashingSequence     Kind = "washing-sequence"     // solvents one after another
	SolventClass        Kind = "solvent-class"        // alcohols, ketones …
	Reagent             Kind = "reagent"              //
	Exposure            Kind = "exposure"             // heat, acid, hours of solvent
	MaterialClass       Kind = "material-class"       // any consolidant, any coating
	Scale               Kind = "scale"                // an ageing scale
	Other               Kind = "other"                // named on old records, composition not stated
)

var kinds = wordSet(Resin, NaturalResin, Dispersion, ReactingResin, Protein, CelluloseEther, Polyether,
	VolatileBinder, Wax, SettingFill, ReactiveConsolidant, Suspension, NaturalProduct, Filler, Object,
	Solvent, SolventMixture, WashingSequence, SolventClass, Reagent, Exposure, MaterialClass, Scale, Other)

// Mixing says which arithmetic a material takes.
type Mixing string

// The ways of mixing.
const (
	// Dissolves: a solid with a true density; every strength basis can be answered.
	Dissolves Mixing = "dissolves"
	// BySolids: a dispersion; needs the solids by mass of the product as supplied.
	BySolids Mixing = "by-solids"
	// AsSupplied: a liquid product, measured as it comes.
	AsSupplied Mixing = "as-supplied"
	// MakersRatio: sets by reaction; may be split by the maker's ratio, never diluted.
	MakersRatio Mixing = "makers-ratio"
	// Liquid: is itself a solvent or a mixture of solvents.
	Liquid Mixing = "liquid"
	// Unmixable: a class, an exposure, an object: nothing to mix.
	Unmixable Mixing = "unmixable"
)

// Mixing gives the arithmetic that the kind takes.
func (k Kind) Mixing() Mixing {
	switch k {
	case Resin, NaturalResin, Protein, CelluloseEther, Polyether, VolatileBinder, Wax, NaturalProduct, Filler:
		return Dissolves
	case Dispersion:
		return BySolids
	case ReactiveConsolidant, Suspension:
		return AsSupplied
	case ReactingResin, SettingFill:
		return MakersRatio
	case Solvent, SolventMixture:
		return Liquid
	default:
		return Unmixable
	}
}

// Material is one entry: a substance, a mixture, or a class that statements are
// made about.
type Material struct {
	// ID is stable and never reused: "poly-vinyl-acetate-resin".
	ID string
	// Name is the generic chemical name that a reader sees.
	Name string
	// Family says what it is chemically: "thermoplastic acrylic".
	Family string
	Kind   Kind
	// Broader is the entry that this one is a grade or isomer of, or "".
	Broader string
	// Like is the built-in material that an institution's own one behaves as, in the
	// grade LikeGrade; both are "" for built-in ones.
	Like, LikeGrade string
	// Note is a sentence about the entry, or "".
	Note string
	// Grades are the grades and states that change its values.
	Grades []Grade
	// Components say what a mixture or copolymer is made of.
	Components []Component
	Evidence   Evidence
}

// Own says that the material is the institution's and not built in.
func (m Material) Own() bool { return m.Evidence.Status == InstitutionsOwn }

// Grade is a grade or state of a material: a molar mass, "cured", "melt".
type Grade struct {
	Name string
	// Within is the broader grade whose values hold when this one has none.
	Within   string
	Note     string
	Evidence Evidence
}

// Component is one part of a mixture.
type Component struct {
	// Material is the id of the part.
	Material string
	// Amount is in %, or empty when the source does not say or the part is the rest.
	Amount Value
	// Basis is volume-fraction, mass-fraction, balance, sequence or unknown.
	Basis    string
	Note     string
	Evidence Evidence
}

var componentBases = wordSet("volume-fraction", "mass-fraction", "balance", "sequence", "unknown")

// Filter narrows a list of materials.
type Filter struct {
	// Kinds keeps only these kinds; empty keeps all.
	Kinds []Kind
	// Text keeps materials whose id, name, family or another name holds it; case and
	// punctuation do not count.
	Text string
}

// Material finds an entry by its id. Its lists are the base's own, and only read.
func (b *Base) Material(id string) (Material, bool) {
	m, ok := b.materials[id]
	return m, ok
}

// Materials lists the entries that pass the filter, by id.
func (b *Base) Materials(f Filter) []Material {
	want := fold(f.Text)
	var out []Material
	for _, id := range b.order {
		m := b.materials[id]
		if len(f.Kinds) > 0 && !slices.Contains(f.Kinds, m.Kind) {
			continue
		}
		if want != "" && !b.mentions(m, want) {
			continue
		}
		out = append(out, m)
	}
	return out
}

// Solvents are the ids of the solvents and of their mixtures.
func (b *Base) Solvents() []string {
	return slices.DeleteFunc(slices.Clone(b.order), func(id string) bool {
		kind := b.materials[id].Kind
		return kind != Solvent && kind != SolventMixture
	})
}

func (b *Base) mentions(m Material, folded string) bool {
	if strings.Contains(fold(m.ID), folded) || strings.Contains(fold(m.Name), folded) ||
		strings.Contains(fold(m.Family), folded) {
		return true
	}
	return slices.ContainsFunc(b.namesOf[m.ID], func(n Name) bool { return strings.Contains(fold(n.Text), folded) })
}

// gradeChain gives the grades whose values hold for the one asked: itself, the
// ones that it lies within, then any. An own material stands for the grade of
// the material that it is like.
func (b *Base) gradeChain(id, grade string) []string {
	m := b.materials[id]
	if m.Like != "" {
		if grade == "" || grade == AnyGrade {
			grade = m.LikeGrade
		}
		m = b.materials[m.Like]
	}
	var chain []string
	for grade != "" && grade != AnyGrade && !slices.Contains(chain, grade) {
		chain = append(chain, grade)
		i := slices.IndexFunc(m.Grades, func(g Grade) bool { return g.Name == grade })
		if i < 0 {
			break
		}
		grade = m.Grades[i].Within
	}
	return append(chain, AnyGrade)
}

// behavesAs gives the id whose behaviour holds where nothing of its own is
// known: the built-in material that an own one is like, else the id itself.
func (b *Base) behavesAs(id string) string {
	if like := b.materials[id].Like; like != "" {
		return like
	}
	return id
}
