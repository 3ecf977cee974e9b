package httpapi_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
)

// past is a generated history as plain values. Treatments and specimens name each
// other by their keys and not by ids, so that any of them can be left out.
type past struct {
	seed      uint64
	number    int
	specimens []pastSpecimen // the first is the one that stands in the end
	jar       pastJar
	list      []pastTreatment
}

// pastSpecimen is a record of a specimen, and how it came to the first one.
type pastSpecimen struct {
	key     int
	came    string // "", merged, undone, parent, sampled
	into    int    // of merged and undone: the record that it was merged into
	hazards map[string]string
	left    string // the date on which it was passed on, "" for one that is here
	apart   bool   // its tail is a piece that lies apart
}

// pastJar is what became of the jar that treatments are done from.
type pastJar struct {
	grams   float64
	bottled bool
	changes []pastChange
}

type pastChange struct {
	kind, date string
	ml         float64 // 0: nobody knows
}

// pastTreatment is a treatment as it stands in the end.
type pastTreatment struct {
	key, on           int
	action, method    string
	partial           bool
	areas             []string // none: nobody knows
	date              string   // "": nobody knows
	uses              []pastUse
	nothing           bool // it is said that nothing was put on
	exposures         []pastExposure
	removes           []int
	left              string
	tested            int // 0: nobody knows which layer
	solvent, observed string
	outcome           string
	over              int // the treatment that it is said to lie over, 0 for none
	first             *pastTreatment
	fate              string // "", retracted, redacted, returned (retracted, and stated again)
}

type pastUse struct {
	material, certainty string
	words               string
	candidates          []string
	from                string // jar or bottle
	strength            string
	solvents            []string
	solventsAnswer      string
	role                string
}

type pastExposure struct {
	solvent string
	hours   float64 // 0: nobody knows
	said    string  // as a record of another unit has it
}

// pastDates are dates as records write them, each with the first and the last day
// that it may mean: an uncertain or approximate one has a margin of one unit of its
// own precision on each side. Worked out by hand.
var pastDates = map[string][2]string{
	"1850-03": {"1850-03-01", "1850-03-31"}, "1960/1980": {"1960-01-01", "1980-12-31"},
	"1975~": {"1974-01-01", "1976-12-31"}, "1988~": {"1987-01-01", "1989-12-31"}, "1988?": {"1987-01-01", "1989-12-31"},
	"1987-12": {"1987-12-01", "1987-12-31"}, "1990-05~": {"1990-04-01", "1990-06-30"}, "1985/..": {"1985-01-01", ""},
	"201X": {"2010-01-01", "2019-12-31"}, "2001": {"2001-01-01", "2001-12-31"}, "2009-06-30": {"2009-06-30", "2009-06-30"},
	"2015-03-04": {"2015-03-04", "2015-03-04"}, "2024-11%": {"2024-10-01", "2024-12-31"}, "2024-12-20": {"2024-12-20", "2024-12-20"},
	"": {"", ""},
}

// The day on which the first specimen was split off the one that it was part of,
// and the area that went with it.
const (
	splitDay  = "2009-06-30"
	splitArea = "skull"
)

var (
	pastAreas     = []string{"whole", "skull", "skull/orbit", "skull/orbit/rim", "jaw", "tail"}
	pastResins    = []string{copolymer, "poly-vinyl-butyral", "poly-vinyl-acetate-resin", "shellac", "epoxy-bisphenol-a-amine", "cyclododecane", "animal-glue", "cellulose-nitrate", "ethyl-silicate", "microcrystalline-wax", "plaster-of-paris"}
	pastSolvents  = []string{"acetone", "ethanol", "toluene", "water"}
	pastHazards   = []string{"arsenic", "mercury", "lead", "asbestos"}
	pastCertainty = []string{"", "", "documented", "analysed", "inferred", "inferred", "unknown"}
	putsOn        = []string{"consolidation", "coating", "joining", "barrier", "filling", "retouching", "labelling", "mounting", "pest-treatment", "other"}
	putsNothing   = []string{"cleaning", "cleaning", "mechanical-preparation", "desalination", "acid-preparation", "damage"}
	pastMethods   = []string{"brush", "brush", "swab", "spray", "immersion", "immersion", "vacuum", "vapour-chamber", "unknown", ""}
)

// chance draws plain values.
type chance struct{ *rand.Rand }

func (c chance) once(in int) bool { return c.IntN(in) == 0 }

func pick[T any](c chance, list []T) T { return list[c.IntN(len(list))] }

// some is so many of a list at most, each once.
func some[T any](c chance, list []T, most int) (out []T) {
	for _, i := range c.Perm(len(list))[:c.IntN(min(most, len(list))+1)] {
		out = append(out, list[i])
	}
	return out
}

// drawPast is the history of a seed and a number; the same two give the same one.
func drawPast(seed uint64, number int) past {
	c := chance{rand.New(rand.NewPCG(seed, uint64(number)))}
	p := past{seed: seed, number: number, jar: c.jar()}
	p.specimens = c.specimens()
	for key, last := 1, 1+c.IntN(7); key <= last; key++ {
		t := c.treatment(p, key)
		if c.once(5) {
			first := c.treatment(p, key)
			first.on, first.fate = t.on, ""
			t.first = &first
		}
		p.list = append(p.list, t)
	}
	return p
}

func (c chance) jar() pastJar {
	j := pastJar{grams: 10 + float64(c.IntN(30)), bottled: c.once(2)}
	for range c.IntN(3) {
		j.changes = append(j.changes, pastChange{pick(c, []string{"topped-up", "evaporated", "used"}), pick(c, []string{"", "1990-05~", "2001", "2015-03-04"}), pick(c, []float64{0, 5, 10})})
	}
	return j
}

func (c chance) specimens() []pastSpecimen {
	list := []pastSpecimen{c.specimen(0, "")}
	if c.once(4) {
		list = append(list, c.specimen(len(list), pick(c, []string{"parent", "parent", "sampled"})))
	}
	for into := 0; c.once(3) && len(list) < 4; into = pick(c, []int{0, len(list) - 1}) {
		if came := list[into].came; came != "" && came != "merged" {
			into = 0
		}
		s := c.specimen(len(list), "merged")
		s.into = into
		if c.once(6) {
			s.came = "undone"
		}
		list = append(list, s)
	}
	return list
}

func (c chance) specimen(key int, came string) pastSpecimen {
	s := pastSpecimen{key: key, came: came, hazards: map[string]string{}, apart: c.once(3)}
	for _, h := range some(c, pastHazards, 2) {
		s.hazards[h] = pick(c, hazardWords)
	}
	if c.once(8) && came != "parent" && came != "sampled" {
		s.left = pick(c, []string{"2023-05", "2020~"})
	}
	return s
}

func (c chance) treatment(p past, key int) pastTreatment {
	t := pastTreatment{key: key, on: p.specimens[c.IntN(len(p.specimens))].key, date: c.date(), method: pick(c, pastMethods), areas: some(c, pastAreas, 2), partial: c.once(5)}
	if c.once(2) && len(t.areas) == 0 {
		t.areas = []string{pick(c, pastAreas)}
	}
	switch n := c.IntN(20); {
	case n < 9:
		t.action = pick(c, putsOn)
		for range 1 + c.IntN(2) {
			t.uses = append(t.uses, c.use())
		}
		if c.once(8) {
			t.uses, t.nothing = nil, c.once(2)
		}
	case n < 12:
		t.action = pick(c, putsNothing)
	case n < 16 && key > 1:
		t.action, t.left = "removal", pick(c, []string{"reduced", "unknown", "unknown", "not-detected"})
		if t.removes = some(c, p.layered(), 2); c.once(2) {
			t.areas, t.date = []string{"whole"}, "2024-12-20"
		}
		if len(t.removes) == 0 && !c.once(4) && len(p.layered()) > 0 {
			t.removes = []int{pick(c, p.layered())}
		}
		if c.once(8) {
			t.removes = []int{1 + c.IntN(key-1)} // perhaps something that left no layer
		}
		slices.Sort(t.removes)
	case n < 18:
		t.action, t.solvent, t.observed = "test", pick(c, pastSolvents), pick(c, []string{"dissolves", "softens", "no-effect", "whitens", "unknown"})
		t.tested = pick(c, append(p.layered(), 0))
		if c.once(3) {
			t.date = "1850-03"
		}
	default:
		t.action, t.outcome = "examination", pick(c, []string{"none-found", "found", "inconclusive"})
	}
	c.bring(&t)
	if key > 1 && c.once(8) && slices.Contains(putsOn, t.action) {
		t.over = 1 + c.IntN(key-1)
	}
	t.fate = pick(c, []string{"", "", "", "", "", "", "", "", "retracted", "retracted", "redacted", "returned"})
	return t
}

// layered are the keys of the treatments so far that left a layer.
func (p past) layered() (keys []int) {
	for _, t := range p.list {
		if slices.Contains(putsOn, t.action) && !t.nothing {
			keys = append(keys, t.key)
		}
	}
	return keys
}

// bring lets liquids stand on the specimen.
func (c chance) bring(t *pastTreatment) {
	if c.once(3) {
		for _, s := range some(c, pastSolvents, 2) {
			t.exposures = append(t.exposures, pastExposure{solvent: s, hours: pick(c, []float64{0, 0, 1, 2, 60})})
		}
	}
}

func (c chance) date() string {
	dates := make([]string, 0, len(pastDates))
	for d := range pastDates {
		dates = append(dates, d)
	}
	slices.Sort(dates)
	return pick(c, dates)
}

func (c chance) use() pastUse {
	u := pastUse{role: pick(c, []string{"", "", "consolidant", "coating", "adhesive", "barrier", "unknown"})}
	switch c.IntN(5) {
	case 0:
		u.words, u.certainty = pick(c, []string{"old varnish", unlisted, "P.V.A."}), pick(c, []string{"inferred", "unknown", "analysed", "documented"})
		u.candidates = some(c, pastResins, 3)
	case 1:
		u.from = pick(c, []string{"jar", "bottle"})
	default:
		u.material, u.certainty = pick(c, pastResins), pick(c, pastCertainty)
		u.strength = pick(c, []string{"", "5 g/dL", "10 g/dL"})
		if u.solvents = some(c, pastSolvents, 2); len(u.solvents) == 0 {
			u.solventsAnswer = pick(c, []string{"", "unknown", "none"})
		}
	}
	return u
}

// without is the history without one of its treatments, and without what names it.
func (p past) without(key int) past {
	p.list = slices.DeleteFunc(slices.Clone(p.list), func(t pastTreatment) bool { return t.key == key })
	for i := range p.list {
		t := &p.list[i]
		for t := t; t != nil; t = t.first {
			t.removes = slices.DeleteFunc(slices.Clone(t.removes), func(k int) bool { return k == key })
			if t.tested == key {
				t.tested = 0
			}
			if t.over == key {
				t.over = 0
			}
			if t.first != nil {
				first := *t.first
				t.first = &first
			}
		}
	}
	return p
}

// withoutSpecimen is the history without one of its records; what was done on it
// was done on the first.
func (p past) withoutSpecimen(key int) past {
	p.specimens = slices.DeleteFunc(slices.Clone(p.specimens), func(s pastSpecimen) bool { return s.key == key })
	for i := range p.specimens {
		if p.specimens[i].into == key {
			p.specimens[i].into = 0
		}
	}
	p.list = slices.Clone(p.list)
	for i := range p.list {
		if p.list[i].on == key {
			p.list[i].on = 0
		}
		if f := p.list[i].first; f != nil {
			first := *f
			first.on = p.list[i].on
			p.list[i].first = &first
		}
	}
	return p
}

// String is the history for who reads a failure.
func (p past) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "-seed %d -only %d\n", p.seed, p.number)
	for _, s := range p.specimens {
		fmt.Fprintf(&b, "  specimen %+v\n", s)
	}
	fmt.Fprintf(&b, "  jar %+v\n", p.jar)
	for _, t := range p.list {
		first := ""
		if t.first != nil {
			first = fmt.Sprintf(" after %+v", *t.first)
			t.first = nil
		}
		fmt.Fprintf(&b, "  %+v%s\n", t, first)
	}
	return b.String()
}

func (p past) specimen(key int) *pastSpecimen {
	for i := range p.specimens {
		if p.specimens[i].key == key {
			return &p.specimens[i]
		}
	}
	return nil
}

// survivor is the record that stands for another one.
func (p past) survivor(key int) int {
	for s := p.specimen(key); s.came == "merged"; s = p.specimen(key) {
		key = s.into
	}
	return key
}
