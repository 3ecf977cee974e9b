package material

import "slices"

// LimitBody is who publishes an exposure limit.
type LimitBody string

// The bodies.
const (
	NIOSH   LimitBody = "niosh"   // recommended, United States
	OSHA    LimitBody = "osha"    // permissible by law, United States
	Ontario LimitBody = "ontario" // permissible by law, Ontario, Canada
)

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
	limitBodies = wordSet(NIOSH, OSHA, Ontario)
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
