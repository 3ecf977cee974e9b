package material

import (
	"slices"
	"strings"
)

// LimitBody is who publishes an exposure limit.
type LimitBody string

// The bodies.
const (
	NIOSH   LimitBody = "niosh"   // recommended, United States
	OSHA    LimitBody = "osha"    // permissible by law, United States
	Ontario LimitBody = "ontario" // permissible by law, Ontario, Canada
	EU      LimitBody = "eu"      // indicative or binding, European Union: binds through national law
	UK      LimitBody = "uk"
	France  LimitBody = "france"
	Germany LimitBody = "germany"
)

// LimitList is what is known of the limits of one body as a whole.
type LimitList struct {
	Name         string // as a reader knows it, with where it holds
	Jurisdiction string // where it holds: a code of ISO 3166, or EU
	// Celsius is the temperature at which the list converts between ppm and mg/m3.
	Celsius float64
	// Undecided says why a concentration below a limit of this list is not known to be below the limit
	// in force in its jurisdiction; "" where it is.
	Undecided string
}

// Lists are the lists of limits by their bodies. The conventions of 25 and 20 Cel: NIOSH Pocket Guide,
// EH40/2005 and TRGS 900 (read), those of Ontario, the EU and France recalled.
var Lists = map[LimitBody]LimitList{
	NIOSH:   {Name: "NIOSH recommended limit (US)", Jurisdiction: "US", Celsius: 25},
	OSHA:    {Name: "OSHA permissible limit (US)", Jurisdiction: "US", Celsius: 25},
	Ontario: {"Ontario limit (CA-ON)", "CA-ON", 25, "the table is undated"},
	EU:      {"EU limit", "EU", 20, "limits of the European Union bind through national law, which may be stricter"},
	UK:      {Name: "UK limit (GB)", Jurisdiction: "GB", Celsius: 20},
	France:  {"French limit (FR)", "FR", 20, "the text is not the one in force"},
	Germany: {Name: "German limit (DE)", Jurisdiction: "DE", Celsius: 20},
}

// members are the member states of the European Union by ISO 3166, as of 2020 (recalled).
var members = strings.Fields("AT BE BG CY CZ DE DK EE ES FI FR GR HR HU IE IT LT LU LV MT NL PL PT RO SE SI SK")

// Holds tells whether the list holds in a country or in a part of one (ISO 3166: GB, CA-ON).
func (l LimitList) Holds(country string) bool {
	state, _, _ := strings.Cut(country, "-")
	return l.Jurisdiction == country || l.Jurisdiction == state || l.Jurisdiction == "EU" && slices.Contains(members, state)
}

// LimitKind is how a limit is meant.
type LimitKind string

// The kinds of limit.
const (
	TimeWeighted         LimitKind = "time-weighted" // over the working day
	ShortTerm            LimitKind = "short-term"
	Ceiling              LimitKind = "ceiling"
	Peak                 LimitKind = "peak"
	ActionLevel          LimitKind = "action-level"
	ImmediatelyDangerous LimitKind = "immediately-dangerous"
)

var (
	limitBodies = wordSet(NIOSH, OSHA, Ontario, EU, UK, France, Germany)
	limitKinds  = wordSet(TimeWeighted, ShortTerm, Ceiling, Peak, ActionLevel, ImmediatelyDangerous)
	limitUnits  = wordSet("[ppm]", "mg/m3", "")
	limitWords  = wordSet("none-set", "not-determined")
)

// ExposureLimit is one published limit. Local law comes first.
type ExposureLimit struct {
	Material string
	Body     LimitBody
	Kind     LimitKind
	// Value is a figure, or the words none-set or not-determined.
	Value Value
	// Unit is [ppm] or mg/m3, "" for words.
	Unit string
	// Period is how long the limit is meant for, when the source says, or "".
	Period   string
	Remark   string
	Evidence Evidence
}

// ExposureLimits lists the published limits of a solvent; an empty list means
// that none is known here, not that there is none.
func (b *Base) ExposureLimits(id string) []ExposureLimit {
	return slices.Clone(b.limits[b.behavesAs(id)])
}

func readLimits(b *Base, r *reader) {
	r.table("exposure-limits.tsv", "material body kind value unit period remark source status", func(w row) {
		x := ExposureLimit{
			Material: w.material(b, "material"), Body: word(w, "body", limitBodies), Kind: word(w, "kind", limitKinds),
			Unit: string(word(w, "unit", limitUnits)), Period: w.text("period"), Remark: w.text("remark"),
			Evidence: w.evidence(),
		}
		x.Value = w.value(w.text("value"), x.Unit)
		if !x.Value.Numeric && !limitWords.has(x.Value.Written) {
			w.fail("value: %q is neither a figure nor none-set nor not-determined", x.Value.Written)
		}
		b.limits[x.Material] = append(b.limits[x.Material], x)
	})
}
