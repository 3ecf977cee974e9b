package material

import (
	"cmp"
	"fmt"
	"hash/fnv"
	"maps"
	"math"
	"slices"
	"strings"
	"sync"

	"meniscus/internal/fault"
)

// OwnMaterial is an institution's own material: its grade from its own data
// sheet, with its own trade names. It lies beside the built-in ones and never
// changes them.
type OwnMaterial struct {
	// ID must not be that of a built-in material.
	ID string
	// Name is what the institution calls it.
	Name string
	// Like is the built-in material whose behaviour holds where the institution says
	// nothing itself, in the grade LikeGrade; both may be "".
	Like, LikeGrade string
	// Kind may be "" when Like is given: then it is of that kind.
	Kind       Kind
	Note       string
	TradeNames []string
	Values     []OwnValue
	Observed   []OwnObservation
	// Citation is the source of the material as a whole: a data sheet with its date.
	Citation string
}

// OwnValue is one value that the institution states. It outranks the built-in
// value of the same property for this material.
type OwnValue struct {
	Property Property
	// Value is a figure, a range low..high, a bound, or words.
	Value string
	// Unit is a UCUM code that the property takes; "" for words.
	Unit string
	// At is the temperature in Cel, nil when not stated.
	At     *float64
	Remark string
	// Citation is its source; "" stands for that of the material.
	Citation string
}

// OwnObservation is what the institution saw a solvent do to the material.
type OwnObservation struct {
	// Solvent is the id of a built-in solvent.
	Solvent  string
	Age      Age
	Observed Observed
	Remark   string
	Citation string
}

// CheckOwn tells what is wrong with an own material: a fault.List with pointers
// into it, in the member names of the wire, or nil.
func (b *Base) CheckOwn(m OwnMaterial) error {
	var faults fault.List
	if builtin, clash := b.materials[m.ID]; clash && !builtin.Own() {
		faults.Add("material-built-in", "/id",
			"This id belongs to a built-in material, which cannot be changed. Give your material an id of its own "+
				"and say which built-in one it is like.")
	}
	if strings.TrimSpace(m.Name) == "" {
		faults.Add("name-missing", "/name", "Give the name by which your institution knows the material.")
	}
	if strings.TrimSpace(m.Citation) == "" {
		faults.Add("citation-missing", "/citation",
			"Say where the values come from, for example the data sheet and its date: no value is kept without a source.")
	}
	b.checkLike(m, &faults)
	seen := map[Property]int{}
	for i, v := range m.Values {
		at := fmt.Sprintf("/values/%d", i)
		if first, twice := seen[v.Property]; twice {
			faults.Add("value-twice", at+"/property",
				"This property stands already in value %d. State one value of a property.", first)
		}
		seen[v.Property] = i
		checkOwnValue(v, at, &faults)
	}
	for i, o := range m.Observed {
		b.checkObservation(o, fmt.Sprintf("/observed/%d", i), &faults)
	}
	return faults.Err()
}

func (b *Base) checkLike(m OwnMaterial, faults *fault.List) {
	like, known := b.materials[m.Like]
	switch {
	case m.Like == "" && !kinds.has(string(m.Kind)):
		faults.Add("kind-missing", "/kind", "Say what kind of material it is, or which built-in material it is like.")
	case m.Like != "" && (!known || like.Own()):
		faults.Add("material-unknown", "/like", "There is no built-in material with this id. The list is at /v1/materials.")
	case m.Kind != "" && !kinds.has(string(m.Kind)):
		faults.Add("kind-unknown", "/kind", "This is no kind of material.")
	case m.Kind != "" && known && like.Kind.Mixing() != m.Kind.Mixing():
		faults.Add("kind-contradicts", "/kind",
			"A material like %s is mixed as one of kind %s. Leave the kind out, or name another material that "+
				"it is like.", like.Name, like.Kind)
	}
	hasGrade := func(g Grade) bool { return g.Name == m.LikeGrade }
	if m.LikeGrade != "" && known && !slices.ContainsFunc(like.Grades, hasGrade) {
		faults.Add("grade-unknown", "/likeGrade", "%s has no grade of this name.", like.Name)
	}
}

func checkOwnValue(v OwnValue, at string, faults *fault.List) {
	def, ok := definitions[v.Property]
	if !ok {
		faults.Add("property-unknown", at+"/property", "This is no property that materials have here.")
		return
	}
	if def.words() && v.Unit != "" {
		faults.Add("unit-unexpected", at+"/unit", "%s is said in words, without a unit.", sentence(def.Label))
		return
	}
	if v.Unit != "" && !slices.Contains(def.Units, v.Unit) {
		faults.Add("unit-wrong", at+"/unit", "%s is given in %s.", sentence(def.Label), strings.Join(def.Units, " or "))
		return
	}
	value, err := ownFigure(v, def)
	if err != nil {
		faults.Add("value-unreadable", at+"/value",
			"The value must be a figure, a range such as 1.10..1.20 or a bound such as >40, with a unit; or words without one.")
		return
	}
	if limit, bounded := sensible[v.Property]; bounded && value.Numeric &&
		(value.Low < limit.low || value.High > limit.high) {
		faults.Add("value-out-of-range", at+"/value", "%s lies between %g and %g %s. %s", sentence(def.Label),
			limit.low, limit.high, v.Unit, limit.hint)
	}
}

// CheckTeas tells where Teas fractions do not make a whole: all three are figures that sum to 100 %, as far as
// fractions in whole numbers do, or none is given. The pointers are those of CheckOwn.
func CheckTeas(values []OwnValue) fault.List {
	const rounded = 1.0 // three whole numbers may sum to 99 or 101
	var sum float64
	given, last := 0, 0
	for i, v := range values {
		if !slices.Contains([]Property{TeasDispersion, TeasPolar, TeasHydrogen}, v.Property) {
			continue
		}
		given, last = given+1, i
		if figure, err := ownFigure(v, definitions[v.Property]); err == nil && figure.Closed() {
			middle, _ := figure.Mid()
			sum += middle
		}
	}
	var faults fault.List
	if given > 0 && (given != 3 || math.Abs(sum-100) > rounded) {
		faults.Add("fractions-sum", fmt.Sprintf("/values/%d", last),
			"Give all three Teas fractions, which sum to 100 %%; the %d that are given sum to %.4g %%.", given, sum)
	}
	return faults
}

// ownFigure reads a value as the tables are read.
func ownFigure(v OwnValue, def Definition) (Value, error) {
	if def.words() {
		if v.Value == "" {
			return Value{}, errNotANumber
		}
		return Value{Written: v.Value}, nil
	}
	return parseValue(v.Value, v.Unit)
}

// sensible bounds the properties that computations use: a figure outside is a
// typing error or has the wrong unit.
var sensible = map[Property]struct {
	low, high float64
	hint      string
}{
	DensityProperty: {0.5, 8,
		"Of a powder or pellets give the true density of the solid, not that of the loose heap."},
	BulkDensity:         {0.01, 8, ""},
	MolarMass:           {2, 1e7, ""},
	BoilingPoint:        {-100, 600, "Give degrees Celsius."},
	FlashPoint:          {-100, 400, "Give degrees Celsius."},
	LowerExplosiveLimit: {0.1, 100, "Give per cent by volume in air."},
	UpperExplosiveLimit: {0.1, 100, "Give per cent by volume in air."},
	VapourPressure:      {0, 1000, "Give kilopascals."},
	GlassTransition:     {-150, 400, "Give degrees Celsius."},
	TeasDispersion:      {0, 100, ""},
	TeasPolar:           {0, 100, ""},
	TeasHydrogen:        {0, 100, ""},
}

func (b *Base) checkObservation(o OwnObservation, at string, faults *fault.List) {
	s, ok := b.materials[o.Solvent]
	if !ok || !slices.Contains([]Kind{Solvent, SolventMixture, SolventClass, Reagent, WashingSequence}, s.Kind) {
		faults.Add("solvent-unknown", at+"/solvent",
			"There is no solvent with this id. The list is at /v1/materials?kind=solvent.")
	}
	if !ages.has(string(o.Age)) {
		faults.Add("age-unknown", at+"/age", "The age is fresh, aged or any.")
	}
	if !observations.has(string(o.Observed)) {
		faults.Add("observed-unknown", at+"/observed",
			"What was observed is dissolves, softens, swells, no-effect, disputed or unknown.")
	}
}

func sentence(label string) string { return strings.ToUpper(label[:1]) + label[1:] }

// With gives a base in which the institution's own materials lie over the
// built-in ones; b itself is not changed. A material that CheckOwn refuses is
// refused here too, with its place in the list before the pointer.
func (b *Base) With(own []OwnMaterial) (*Base, error) {
	if len(own) == 0 {
		return b, nil
	}
	c := *b
	c.kept = &sync.Map{}
	c.order = slices.Clone(b.order)
	c.materials, c.names, c.namesOf = maps.Clone(b.materials), maps.Clone(b.names), maps.Clone(b.namesOf)
	c.facts, c.known, c.solubility = maps.Clone(b.facts), maps.Clone(b.known), maps.Clone(b.solubility)
	var faults fault.List
	for i, m := range own {
		if err := b.CheckOwn(m); err != nil {
			if rest := faults.Merge(fmt.Sprintf("/%d", i), err); rest != nil {
				return nil, rest
			}
			continue
		}
		c.addOwn(m)
	}
	if err := faults.Err(); err != nil {
		return nil, err
	}
	slices.Sort(c.order)
	c.order = slices.Compact(c.order)
	return &c, nil
}

// addOwn puts a checked material into a base that is not shared yet. A second
// one with the same id replaces the first.
func (b *Base) addOwn(m OwnMaterial) {
	like := b.materials[m.Like]
	kind, family := m.Kind, like.Family
	if kind == "" {
		kind = like.Kind
	}
	if family == "" {
		family = string(kind)
	}
	b.materials[m.ID] = Material{
		ID: m.ID, Name: m.Name, Family: family, Kind: kind, Like: m.Like, LikeGrade: m.LikeGrade, Note: m.Note,
		Components: like.Components, Evidence: ownEvidence(m.Citation),
	}
	b.order = append(b.order, m.ID)
	b.namesOf[m.ID], b.known[m.ID], b.solubility[m.ID] = nil, nil, nil
	for p := range definitions {
		delete(b.facts, factKey{m.ID, p})
	}
	b.addOwnNames(m)
	for _, v := range m.Values {
		value, _ := ownFigure(v, definitions[v.Property])
		b.facts[factKey{m.ID, v.Property}] = []Fact{{
			Material: m.ID, Grade: AnyGrade, Property: v.Property, Value: value, Unit: v.Unit, At: orNaN(v.At),
			Rank: Preferred, Remark: v.Remark, Evidence: ownEvidence(cmp.Or(v.Citation, m.Citation)),
		}}
		b.known[m.ID] = append(b.known[m.ID], v.Property)
	}
	for _, o := range m.Observed {
		b.solubility[m.ID] = append(b.solubility[m.ID], SolubilityRow{
			Material: m.ID, Grade: AnyGrade, Solvent: o.Solvent, Age: o.Age, How: LiquidContact, Observed: o.Observed,
			Remark: o.Remark, Evidence: ownEvidence(cmp.Or(o.Citation, m.Citation)),
		})
	}
}

func (b *Base) addOwnNames(m OwnMaterial) {
	add := func(text string, kind NameKind) {
		n := Name{Text: text, Material: m.ID, Kind: kind, Evidence: ownEvidence(m.Citation)}
		key := fold(text)
		b.names[key] = append(slices.Clone(b.names[key]), n)
		b.namesOf[m.ID] = append(b.namesOf[m.ID], n)
	}
	add(m.Name, GenericName)
	for _, t := range m.TradeNames {
		add(t, TradeName)
	}
}

func ownEvidence(citation string) Evidence {
	h := fnv.New64a()
	_, _ = h.Write([]byte(citation)) // a hash never returns an error
	key := fmt.Sprintf("own-%016x", h.Sum64())
	return Evidence{Source: Source{Key: key, Kind: "own", Citation: citation}, Status: InstitutionsOwn}
}
