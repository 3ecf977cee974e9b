package stack

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// damageWords say in a sentence what happened to a layer.
var damageWords = map[string]string{
	"slumped": "slumped", "joint-failed": "failed", "cracked": "cracked", "flaked": "flaked", "whitened": "whitened",
	"yellowed": "yellowed",
}

// damagedBy are the treatments whose layers a damage is of: those that it names. What
// slumped or failed without a name is each joint of the areas that was there.
func (s *Stack) damagedBy(t *Treatment) []string {
	if len(t.Damage.Treatments) > 0 || t.Damage.Kind != "slumped" && t.Damage.Kind != "joint-failed" {
		return t.Damage.Treatments
	}
	areas := compacted(s.atlas.ids(cleaned(t.Areas)))
	var joints []string
	for i := range s.layers {
		if s.looked++; s.looked > maxFollowed {
			break
		}
		l := &s.layers[i]
		if l.holds() && !after(l.When.From, t.When.To) && (t.AreasUnknown || s.atlas.meet(l.foot.certain, areas)) {
			joints = append(joints, l.Treatment)
		}
	}
	slices.Sort(joints)
	return slices.Compact(joints)
}

// noun names an event in a sentence.
func (e *event) noun() string {
	if e.Damage != nil {
		return "a damage"
	}
	return "a removal"
}

// done says what an event does to a layer.
func (e *event) done() string {
	if e.Damage != nil {
		return "damaged"
	}
	return "removed"
}

func capitalised(text string) string { return strings.ToUpper(text[:1]) + text[1:] }

// damageIn is the event that damaged a layer where it is damaged now, or nil.
func (l *Layer) damageIn() *LocalState {
	for i := range slices.Backward(l.Local) {
		if l.Local[i].State == Damaged {
			return &l.Local[i]
		}
	}
	return nil
}

// DamageNow is what happened to a layer that is damaged: slumped, joint-failed, cracked …; "" for
// any other.
func (l *Layer) DamageNow() string {
	if d := l.damageIn(); l.State == Damaged && d != nil {
		return d.Damage
	}
	return ""
}

// unsound leaves a damaged layer without a limit: nothing says what it bears now. Where
// it slumped, it bears less than the temperature of that day, if that is on record.
func (s *Stack) unsound(l *Layer, limit *HeatLimit) (below *float64) {
	if l.State != Damaged {
		return nil
	}
	limit.Highest, limit.Lowest = nil, nil
	text := "It is damaged"
	if d := l.damageIn(); d != nil {
		t := s.byID[d.By]
		text = fmt.Sprintf("It %s (%s)", cmp.Or(damageWords[d.Damage], "was damaged"), t.dateText())
		at := t.Environment.SurfaceC
		if at == nil {
			at = t.Environment.AirC
		}
		if at != nil {
			text += " at " + number(*at) + " °C"
		}
		if d.Damage == "slumped" {
			below = at
		}
	}
	limit.Cautions = append(limit.Cautions, text+": nothing says what it bears now; support it.")
	return below
}

// damageElsewhere says how many records of damage name no layer: they change no figure.
func (s *Stack) damageElsewhere() string {
	n := 0
	for _, t := range s.treatments {
		if t.Action == Damage && t.Damage == nil {
			n++
		}
	}
	for i := range s.changes {
		if e := &s.changes[i]; e.Damage != nil && len(e.of) == 0 {
			n++
		}
	}
	switch n {
	case 0:
		return ""
	case 1:
		return "A record of damage does not say which layer it is of; it changes no figure here."
	}
	return fmt.Sprintf("%d records of damage do not say which layers they are of; they change no figure here.", n)
}
