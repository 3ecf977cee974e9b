package solution

import (
	"fmt"
	"slices"

	"meniscus/internal/fault"
)

// Verdict is how well a container withstands a solvent.
type Verdict string

// The verdicts, from what was printed or recalled for about 20 °C.
const (
	Satisfactory     Verdict = "satisfactory"
	Limited          Verdict = "limited" // short contact; swelling, permeation or crazing
	Unsuitable       Verdict = "unsuitable"
	UnknownContainer Verdict = "unknown"
)

// harm orders verdicts to find the worst of several. A part that nothing is known
// of may have any verdict, so it ranks between limited and unsuitable.
func (v Verdict) harm() int {
	return slices.Index([]Verdict{Satisfactory, Limited, UnknownContainer, Unsuitable}, v)
}

// KnownBy says how a verdict is known.
type KnownBy string

const (
	// ReadNamed: a source that was read names the solvent.
	ReadNamed KnownBy = "read"
	// ReadClass: a source that was read names only the class of the solvent, or a related solvent.
	ReadClass KnownBy = "read-class"
	// FromMemory: class knowledge, recalled; no chart was read.
	FromMemory KnownBy = "memory"
	// NotKnown: there is no rating.
	NotKnown KnownBy = ""
)

// ContainerRating is one reading of one source on one solvent.
type ContainerRating struct {
	Solvent string // name of the solvent
	Verdict Verdict
	Known   KnownBy
	Remark  string
	Source  Source
}

// ContainerMaterial is a material that a part may be made of, and what is known of it.
type ContainerMaterial struct {
	Name    string
	Ratings []ContainerRating
}

// PartRole is which part of a container touches the solvent or its vapour.
type PartRole string

const (
	Body    PartRole = "body"
	Closure PartRole = "closure"
	Liner   PartRole = "liner"
)

// ContainerPart is one part. A material that was named is the only candidate; a
// resin identification code may stand for several (code 7 is "other").
type ContainerPart struct {
	Role       PartRole
	Said       string // what the caller gave: a name, or "resin identification code 7"
	Candidates []ContainerMaterial
	// Note is what the code or the material leaves open, or "".
	Note string
}

// ContainerQuestion asks whether solvents may stand in a container.
type ContainerQuestion struct {
	Solvents []string // names; of a blend, the worst counts
	Parts    []ContainerPart
}

// ContainerAnswer is the verdict on the whole and on each part.
type ContainerAnswer struct {
	Verdict Verdict
	Known   KnownBy
	Parts   []PartVerdict
	Advice
}

// PartVerdict is the verdict on one part.
type PartVerdict struct {
	Role     PartRole
	Said     string
	Verdict  Verdict
	Known    KnownBy
	Sentence string
	// Materials are the verdicts on each candidate: one, unless a code leaves it open.
	Materials []MaterialVerdict
}

// MaterialVerdict is the verdict on one material, with each solvent's.
type MaterialVerdict struct {
	Material string
	Verdict  Verdict
	Known    KnownBy
	Solvents []SolventVerdict
}

// SolventVerdict is the verdict on one solvent in one material.
type SolventVerdict struct {
	Solvent string
	Verdict Verdict
	Known   KnownBy
	// Readings are all that is known, the one that decides first.
	Readings []ContainerRating
}

var resinCodes = Cited("astm-d7611", Verified)

// JudgeContainer answers the question, or gives every fault in it.
func JudgeContainer(c ContainerQuestion) (ContainerAnswer, error) {
	if err := c.check(); err != nil {
		return ContainerAnswer{}, err
	}
	a := ContainerAnswer{Verdict: Satisfactory}
	for _, part := range c.Parts {
		v := part.judge(c.Solvents)
		a.Parts = append(a.Parts, v)
		if len(a.Parts) == 1 || worse(v.Verdict, v.Known, a.Verdict, a.Known) {
			a.Verdict, a.Known = v.Verdict, v.Known
		}
	}
	a.Answer = a.says()
	a.advise(c)
	return a, nil
}

func (c ContainerQuestion) check() error {
	var faults fault.List
	if n := len(c.Solvents); n < 1 || n > 40 {
		faults.Add("solvents-count", "/solvents", "Give from 1 to 40 solvents.")
	}
	if c.part(Body) == nil {
		faults.Add("container-missing", "/body",
			"Say what the container is made of: its material, or the resin identification code that is moulded into "+
				"it (1 to 7).")
	}
	return faults.Err()
}

func (c ContainerQuestion) part(role PartRole) *ContainerPart {
	for i := range c.Parts {
		if c.Parts[i].Role == role {
			return &c.Parts[i]
		}
	}
	return nil
}

// worse tells whether a verdict outweighs another: more harm, or as much harm
// and known less well.
func worse(v Verdict, known KnownBy, than Verdict, thanKnown KnownBy) bool {
	if v.harm() != than.harm() {
		return v.harm() > than.harm()
	}
	return known.trust() < thanKnown.trust()
}

// trust orders how well a verdict is known.
func (r KnownBy) trust() int {
	return slices.Index([]KnownBy{NotKnown, FromMemory, ReadClass, ReadNamed}, r)
}

// judge gives the verdict on a part: the one on its material, or, where a code
// leaves several open, theirs if they all agree and otherwise unknown.
func (p ContainerPart) judge(solvents []string) PartVerdict {
	v := PartVerdict{Role: p.Role, Said: p.Said, Verdict: UnknownContainer}
	for _, m := range p.Candidates {
		v.Materials = append(v.Materials, m.judge(solvents))
	}
	if len(v.Materials) > 0 {
		v.Verdict, v.Known = v.Materials[0].Verdict, v.Materials[0].Known
	}
	for _, m := range v.Materials {
		if m.Verdict != v.Verdict {
			v.Verdict, v.Known = UnknownContainer, NotKnown
			break
		}
		if m.Known.trust() < v.Known.trust() {
			v.Known = m.Known
		}
	}
	v.Sentence = v.sentence()
	return v
}

// judge gives the verdict on a material: the worst over the solvents.
func (m ContainerMaterial) judge(solvents []string) MaterialVerdict {
	v := MaterialVerdict{Material: m.Name}
	for i, solvent := range solvents {
		s := m.judgeSolvent(solvent)
		v.Solvents = append(v.Solvents, s)
		if i == 0 || worse(s.Verdict, s.Known, v.Verdict, v.Known) {
			v.Verdict, v.Known = s.Verdict, s.Known
		}
	}
	return v
}

// judgeSolvent takes the worst of all readings; a recalled one counts too where
// it is stricter than what was read.
func (m ContainerMaterial) judgeSolvent(solvent string) SolventVerdict {
	v := SolventVerdict{Solvent: solvent, Verdict: UnknownContainer}
	for _, r := range m.Ratings {
		if r.Solvent == solvent {
			v.Readings = append(v.Readings, r)
		}
	}
	slices.SortStableFunc(v.Readings, func(a, b ContainerRating) int {
		if d := b.Verdict.harm() - a.Verdict.harm(); d != 0 {
			return d
		}
		return b.Known.trust() - a.Known.trust()
	})
	if len(v.Readings) > 0 {
		v.Verdict, v.Known = v.Readings[0].Verdict, v.Readings[0].Known
	}
	return v
}

// sentence says the verdict with how it is known; never a bare "suitable".
func (v PartVerdict) sentence() string {
	what := fmt.Sprintf("The %s (%s) ", v.Role, v.Said)
	if len(v.Materials) == 0 {
		return what + "is not known here: try it for a week with a little of the liquid, or use glass."
	}
	if len(v.Materials) > 1 {
		names := make([]string, len(v.Materials))
		for i, m := range v.Materials {
			names[i] = fmt.Sprintf("%s (%s)", m.Material, m.Verdict)
		}
		return what + "may be one of several plastics: " + list(names) + "."
	}
	return what + v.Verdict.said() + ": " + v.Known.said() + v.decisive() + "."
}

func (v Verdict) said() string {
	switch v {
	case Satisfactory:
		return "is rated satisfactory"
	case Limited:
		return "is rated for short contact only (it may swell, craze or let vapour through)"
	case Unsuitable:
		return "is rated unsuitable"
	}
	return "is rated nowhere that is held here"
}

func (r KnownBy) said() string {
	switch r {
	case ReadNamed:
		return "a chart that was read names the solvent"
	case ReadClass:
		return "a chart that was read names only the class of the solvent or a near relative"
	case FromMemory:
		return "class knowledge, recalled; no chart was read for it"
	}
	return "nothing is known of it"
}

// decisive names the solvent that decides, where there are several.
func (v PartVerdict) decisive() string {
	solvents := v.Materials[0].Solvents
	if len(solvents) < 2 {
		return ""
	}
	for _, s := range solvents {
		if s.Verdict == v.Verdict && s.Known == v.Known {
			return "; " + s.Solvent + " decides"
		}
	}
	return ""
}

// advise adds warnings and cautions.
func (a *ContainerAnswer) advise(c ContainerQuestion) {
	for _, part := range a.Parts {
		a.advisePart(part)
		if note := c.part(part.Role).Note; note != "" {
			a.warn("container-note", Info, resinCodes, note)
		}
		for _, m := range part.Materials {
			for _, s := range m.Solvents {
				for _, r := range s.Readings {
					a.cite(r.Source)
				}
			}
		}
	}
	for _, role := range []PartRole{Closure, Liner} {
		if c.part(role) == nil {
			a.warn(string(role)+"-not-stated", Warn, practice,
				fmt.Sprintf("The %s is not stated: vapour reaches it too, and a cap or its insert often fails before "+
					"the bottle does.", role))
		}
	}
	a.Steps = []string{
		"Label the container with what is in it before it is filled; a drink bottle is never used for a solvent.",
		"Try an unrated part for a week with a little of the liquid, in a tray, and look for softening, swelling, " +
			"haze or a falling level.",
	}
	a.Cautions = append(a.Cautions,
		Caution{"Ratings hold for about 20 °C and the solvent alone; warmth, long storage and stress (a screwed-down " +
			"cap) make them worse. The maker's own resistance chart comes first.", practice})
}

func (a *ContainerAnswer) advisePart(part PartVerdict) {
	source := practice
	if len(part.Materials) > 0 && len(part.Materials[0].Solvents) > 0 && len(part.Materials[0].Solvents[0].Readings) > 0 {
		source = part.Materials[0].Solvents[0].Readings[0].Source
	}
	switch part.Verdict {
	case Unsuitable:
		a.warn("container-unsuitable", Block, source, part.Sentence)
	case Limited:
		a.warn("container-limited", Warn, source, part.Sentence)
	case UnknownContainer:
		a.warn("container-unknown", Warn, source, part.Sentence)
	case Satisfactory:
		if part.Known == FromMemory {
			a.warn("container-memory", Info, source, part.Sentence)
		}
	}
}
