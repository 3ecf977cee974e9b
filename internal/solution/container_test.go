package solution

import (
	"strings"
	"testing"

	"meniscus/internal/fault"

	"pgregory.net/rapid"
)

// Readings for the tests, as printed: two plastics charts and what is recalled.
var (
	classChart = Source{"", "class table of plastics at 20 °C", Verified}
	labChart   = Source{"", "labware chart, 20 and 50 °C", Verified}
	recalled   = Source{"", "recalled", Memory}

	glass = ContainerMaterial{"glass", []ContainerRating{
		{"acetone", Satisfactory, FromMemory, "", recalled},
		{"ethanol", Satisfactory, FromMemory, "", recalled},
	}}
	polyethylene = ContainerMaterial{"high-density polyethylene", []ContainerRating{
		{"acetone", Limited, ReadClass, "ketones: 0", classChart},
		{"acetone", Unsuitable, ReadNamed, "1/1 at 20 and 50 °C", labChart},
		{"ethanol", Satisfactory, ReadNamed, "3/3", labChart},
	}}
	ptfe = ContainerMaterial{"polytetrafluoroethylene", []ContainerRating{
		{"acetone", Satisfactory, ReadNamed, "3/3", labChart},
		{"ethanol", Satisfactory, ReadNamed, "3/3", labChart},
	}}
	polycarbonate = ContainerMaterial{"polycarbonate", []ContainerRating{
		{"acetone", Unsuitable, ReadNamed, "1/1", labChart},
		{"ethanol", Satisfactory, ReadNamed, "3/2", labChart},
	}}
)

func part(role PartRole, m ...ContainerMaterial) ContainerPart {
	return ContainerPart{Role: role, Said: "as given", Candidates: m}
}

func judge(t *testing.T, c ContainerQuestion) ContainerAnswer {
	t.Helper()
	a, err := JudgeContainer(c)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func TestJudgeContainer(t *testing.T) {
	t.Parallel()
	both := []string{"acetone", "ethanol"}
	tests := []struct {
		name     string
		solvents []string
		parts    []ContainerPart
		verdict  Verdict
		known    KnownBy
		warning  string
	}{
		{"the worst chart read decides", []string{"acetone"}, []ContainerPart{part(Body, polyethylene)}, Unsuitable,
			ReadNamed, "container-unsuitable"},
		{"the worst solvent of a blend decides", both, []ContainerPart{part(Body, polyethylene)}, Unsuitable,
			ReadNamed, "container-unsuitable"},
		{"named solvent", []string{"ethanol"}, []ContainerPart{part(Body, polyethylene)}, Satisfactory, ReadNamed, ""},
		{"memory is shown as such", both, []ContainerPart{part(Body, glass)}, Satisfactory, FromMemory, "container-memory"},
		{"a solvent that nobody rated", []string{"acetone", "chloroform"}, []ContainerPart{part(Body, glass)}, UnknownContainer, NotKnown, "container-unknown"},
		{"unknown does not hide unsuitable", []string{"acetone", "chloroform"}, []ContainerPart{part(Body,
			polycarbonate)}, Unsuitable, ReadNamed, "container-unsuitable"},
		{"code 7 where the plastics differ", []string{"acetone"}, []ContainerPart{part(Body, ptfe, polycarbonate)}, UnknownContainer, NotKnown, "container-unknown"},
		{"code 7 where they agree", []string{"ethanol"}, []ContainerPart{part(Body, ptfe, polycarbonate)}, Satisfactory, ReadNamed, ""},
		{"the cap fails before the bottle", []string{"acetone"}, []ContainerPart{part(Body, glass), part(Closure,
			polyethylene), part(Liner, ptfe)}, Unsuitable, ReadNamed, "container-unsuitable"},
		{"a part of unknown material", []string{"ethanol"}, []ContainerPart{part(Body, glass), part(Liner)}, UnknownContainer, NotKnown, "container-unknown"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			a := judge(t, ContainerQuestion{Solvents: tt.solvents, Parts: tt.parts})
			if a.Verdict != tt.verdict || a.Known != tt.known {
				t.Errorf("got %s (%q), want %s (%q)", a.Verdict, a.Known, tt.verdict, tt.known)
			}
			if tt.warning != "" && !hasWarning(a.Advice, tt.warning) {
				t.Errorf("warnings: got %v, want %s", codes(a.Advice), tt.warning)
			}
		})
	}
}

// Missing details are asked for, and a recalled verdict is never worded as certain.
func TestContainerSaysWhatItDoesNotKnow(t *testing.T) {
	t.Parallel()
	a := judge(t, ContainerQuestion{Solvents: []string{"acetone"}, Parts: []ContainerPart{part(Body, glass)}})
	for _, code := range []string{"closure-not-stated", "liner-not-stated"} {
		if !hasWarning(a.Advice, code) {
			t.Errorf("warnings: got %v, want %s", codes(a.Advice), code)
		}
	}
	if s := a.Parts[0].Sentence; !strings.Contains(s, "recalled") || strings.Contains(s, "suitable") {
		t.Errorf("sentence: got %q, want it to say that it is recalled and never suitable", s)
	}
}

func TestContainerFaults(t *testing.T) {
	t.Parallel()
	_, err := JudgeContainer(ContainerQuestion{Parts: []ContainerPart{part(Closure, glass)}})
	var pointers []string
	for _, f := range fault.From(err) {
		pointers = append(pointers, f.Pointer)
	}
	if got := strings.Join(pointers, " "); got != "/solvents /body" {
		t.Errorf("faults: got %q, want /solvents /body", got)
	}
}

// One more reading, solvent or part never makes a verdict better.
func TestContainerVerdictOnlyGetsWorse(t *testing.T) {
	t.Parallel()
	verdicts := rapid.SampledFrom([]Verdict{Satisfactory, Limited, Unsuitable})
	readings := rapid.SampledFrom([]KnownBy{ReadNamed, ReadClass, FromMemory})
	rapid.Check(t, func(rt *rapid.T) {
		draw := func() ContainerRating {
			return ContainerRating{Solvent: "acetone", Verdict: verdicts.Draw(rt, "verdict"), Known: readings.Draw(rt, "known")}
		}
		m := ContainerMaterial{Name: "m", Ratings: []ContainerRating{draw()}}
		before, _ := JudgeContainer(ContainerQuestion{Solvents: []string{"acetone"}, Parts: []ContainerPart{part(Body, m)}})
		m.Ratings = append(m.Ratings, draw())
		after, _ := JudgeContainer(ContainerQuestion{Solvents: []string{"acetone"}, Parts: []ContainerPart{part(Body, m)}})
		if after.Verdict.harm() < before.Verdict.harm() {
			rt.Errorf("one more reading turned %s into %s", before.Verdict, after.Verdict)
		}
		whole, _ := JudgeContainer(ContainerQuestion{Solvents: []string{"acetone", "water"},
			Parts: []ContainerPart{part(Body, m), part(Closure)}})
		if whole.Verdict.harm() < after.Verdict.harm() {
			rt.Errorf("one more solvent and part turned %s into %s", after.Verdict, whole.Verdict)
		}
	})
}
