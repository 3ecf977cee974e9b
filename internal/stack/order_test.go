package stack_test

import (
	"strings"
	"testing"

	"meniscus/internal/stack"
)

func coat(id string, area stack.Area, date string, changes ...func(*stack.Treatment)) stack.Treatment {
	return with(put(id, stack.Coating, area, date, of(copolymer, "acetone")), changes...)
}

func steps(p stack.RemovalPlan) string {
	var ids []string
	for _, s := range p.Steps {
		ids = append(ids, s.Treatment)
	}
	return strings.Join(ids, " ")
}

func TestOrder(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name      string
		layers    []stack.Treatment
		steps     string
		questions int
		codes     string
	}{
		{"later lies over earlier", []stack.Treatment{coat("a", "skull", "1990"), coat("b", "skull", "2000")}, "b a", 0, ""},
		{"a relation outweighs dates", []stack.Treatment{coat("a", "skull", "1990", relation(stack.Over, "b")), coat("b", "skull", "2000")}, "a b", 0, "dates-against-relation"},
		{"under", []stack.Treatment{coat("a", "skull", "1990/2000"), coat("b", "skull", "1995", relation(stack.Under, "a"))}, "a b", 0, ""},
		{"inside", []stack.Treatment{coat("a", "skull", "1990/2000"), coat("b", "skull", "1995", relation(stack.Inside, "a"))}, "a b", 0, ""},
		{"barrier for", []stack.Treatment{coat("a", "skull", "1990/2000"), coat("b", "skull", "1995", relation(stack.BarrierFor, "a"))}, "a b", 0, ""},
		{"overlapping dates are asked", []stack.Treatment{coat("a", "skull", "1990/2000"), coat("b", "skull", "1995")}, "a b", 1, ""},
		{"no dates are asked", []stack.Treatment{coat("a", "skull", ""), coat("b", "skull", "1995")}, "a b", 1, ""},
		{"elsewhere is not asked", []stack.Treatment{coat("a", "skull/left", "1990/2000"), coat("b", "skull/right", "1995")}, "a b", 0, ""},
		{"an area and one inside it", []stack.Treatment{coat("a", "skull", "1990"), coat("b", "skull/left", "2000"), coat("c", "skull", "2010")}, "c b a", 0, ""},
		{"by way of a third", []stack.Treatment{coat("a", "skull", "1990/2000", relation(stack.Over, "b")), coat("b", "skull", "1992/1993", relation(stack.Over, "c")), coat("c", "skull", "1991/1999")}, "a b c", 0, ""},
		{"a circle is named", []stack.Treatment{coat("a", "skull", "1990", relation(stack.Over, "b")), coat("b", "skull", "2000", relation(stack.Over, "a"))}, "", 0, "over-each-other"},
		{"a circle of three", []stack.Treatment{coat("a", "skull", "", relation(stack.Over, "b")), coat("b", "skull", "", relation(stack.Over, "c")), coat("c", "skull", "", relation(stack.Over, "a"))}, "", 0, "over-each-other"},
		{"over itself", []stack.Treatment{coat("a", "skull", "", relation(stack.Over, "a"))}, "", 0, "over-each-other"},
		{"a stranger", []stack.Treatment{coat("a", "skull", "1990", relation(stack.Over, "nobody"))}, "a", 0, "names-unknown-treatment"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			p := newStack(t, bone(), c.layers...).Plan(stack.PlanRequest{})
			var codes []string
			for _, x := range p.Contradictions {
				codes = append(codes, x.Code)
			}
			if got := steps(p); got != c.steps {
				t.Errorf("got steps %q, want %q", got, c.steps)
			}
			if len(p.Questions) != c.questions {
				t.Errorf("got questions %v, want %d", p.Questions, c.questions)
			}
			if got := strings.Join(codes, " "); got != c.codes {
				t.Errorf("got contradictions %q, want %q", got, c.codes)
			}
		})
	}
}

// TestDatesBetweenContradictions: two records that contradict their dates do not
// spoil the order of the layers between them.
func TestDatesBetweenContradictions(t *testing.T) {
	t.Parallel()
	p := newStack(t, bone(),
		coat("bottom", "skull", "1990", relation(stack.Over, "top")), coat("m1", "skull", "1992"),
		coat("m2", "skull", "1994"), coat("m3", "skull", "1996"), coat("top", "skull", "2000"),
	).Plan(stack.PlanRequest{})
	order := " " + steps(p) + " "
	for _, pair := range [][2]string{{" m3 ", " m2 "}, {" m2 ", " m1 "}, {" bottom ", " top "}} {
		if strings.Index(order, pair[0]) > strings.Index(order, pair[1]) {
			t.Errorf("got %q, want%sbefore%s", order, pair[0], pair[1])
		}
	}
}

// TestALabelContradictsNoDates: records that contradict their dates leave the dates of
// a label between them in use; its coats have one date.
func TestALabelContradictsNoDates(t *testing.T) {
	t.Parallel()
	base, top := of(copolymer, "acetone"), of(isobutyl, "white-spirit")
	base.Role, top.Role = stack.LabelBase, stack.LabelTop
	s := newStack(t, bone(),
		coat("bottom", "skull", "1990", relation(stack.Over, "top")),
		put("label", stack.Labelling, "skull", "1995", base, top), coat("top", "skull", "2000"))
	got, _ := s.Contradictions()
	if len(got) != 1 || strings.Join(got[0].Treatments, " ") != "bottom top" {
		t.Errorf("got %v, want the two that contradict their dates named alone", got)
	}
}

func TestRemovalsThatCannotBe(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, code string
		layers     []stack.Treatment
	}{
		{"elsewhere", "removal-elsewhere", []stack.Treatment{coat("a", "skull", "1990"), off("r", "jaw", "2000", stack.NotDetected, "acetone", "a")}},
		{"before the layer", "removal-before-layer", []stack.Treatment{coat("a", "skull", "1990"), off("r", "skull", "1980", stack.NotDetected, "acetone", "a")}},
		{"of a stranger", "names-unknown-treatment", []stack.Treatment{off("r", "skull", "1980", stack.NotDetected, "acetone", "a")}},
		{"of what left nothing", "names-no-layer", []stack.Treatment{put("a", stack.Cleaning, "skull", "1970"), off("r", "skull", "1980", stack.NotDetected, "acetone", "a")}},
	} {
		s := newStack(t, bone(), c.layers...)
		got, _ := s.Contradictions()
		if len(got) != 1 || got[0].Code != c.code {
			t.Errorf("%s: got %v, want %s", c.name, got, c.code)
		}
		for _, a := range s.Present().Areas {
			for _, l := range a.Layers {
				if l.State != stack.Present {
					t.Errorf("%s: got %s, want the layer still present", c.name, l.State)
				}
			}
		}
	}
}
