package stack_test

import (
	"slices"
	"strings"
	"testing"

	"meniscus/internal/material"
	"meniscus/internal/stack"
)

// The chapter on hazards of the layering rules: dust blocks until a protection is stated;
// wet work is not dry; heat near cellulose nitrate blocks.
func TestDustOfAHazardousSpecimen(t *testing.T) {
	t.Parallel()
	const dust, work = "dust-from-hazardous-specimen", "work-on-hazardous-specimen"
	arsenic := bone(dangers("arsenic", "known"))
	protected := func(tr *stack.Treatment) { tr.Protected = stack.Yes }
	for name, c := range map[string]struct {
		scenario
		rule     string
		severity stack.Severity
	}{
		"dry brush":                   {given(arsenic, brushed()), dust, stack.Block},
		"dry brush, protected":        {given(arsenic, brushed(protected)), dust, stack.Warn},
		"air abrasion":                {given(arsenic, put("proposed", stack.MechanicalPreparation, "skull", "2026")), dust, stack.Block},
		"a pesticide, not said which": {given(bone(dangers("pesticide", "known")), brushed()), dust, stack.Block},
		"a swab with ethanol":         {given(arsenic, with(brushed(hours("ethanol", 1)), method(stack.Swab))), work, stack.Warn},
		"sampling":                    {given(arsenic, put("proposed", stack.Sampling, "skull", "2026")), work, stack.Warn},
		"an examination":              {given(arsenic, put("proposed", stack.Examining, "skull", "2026")), work, stack.Warn},
		"mould is brushed":            {given(bone(dangers("mould", "known")), brushed()), work, stack.Warn},
		"nitrate, and warm air drying": {given(bone(dangers("cellulose-nitrate", "suspected")), brushed(climate(50,
			40))), "cellulose-nitrate-near-heat", stack.Block},
	} {
		checked := run(t, c.scenario)
		if !hasSeverity(findings(checked, c.rule), c.severity) {
			t.Errorf("%s: got %v, want %s of severity %s", name, checked.Findings, c.rule, c.severity)
		}
		if len(checked.Findings) > 0 && !stack.AboutPeople(checked.Findings[0].Rule) {
			t.Errorf("%s: got %v first, want what is about people", name, checked.Findings[0])
		}
	}
}

// Of a record, what nobody said of the protection is information that can no longer be
// given, and not a block.
func TestARecordOfDustIsInformation(t *testing.T) {
	t.Parallel()
	done := brushed()
	checked, err := stack.CheckRecorded(stack.Config{Knowledge: material.Builtin(), Specimen: bone(dangers("arsenic", "known")),
		Treatments: []stack.Treatment{done}, At: today}, done.ID, stack.CheckConfig{})
	if err != nil {
		t.Fatal(err)
	}
	if got := findings(checked, "dust-from-hazardous-specimen"); len(got) != 1 || got[0].Severity != stack.Info || !got[0].Unanswerable {
		t.Errorf("got %v, want information", got)
	}
}

// One reading: known and suspected in full, the two that nobody knows kept apart, a line
// each.
func TestTheReadingOfHazards(t *testing.T) {
	t.Parallel()
	sp := bone(dangers("arsenic", "known"), worded("mercury", "sublimate"), dangers("lead", "not-examined"),
		dangers("asbestos", "none-found"))
	said := strings.Join(sp.ReadHazards().Said(), "\n")
	for _, want := range []string{
		"The specimen is known to hold arsenic; settle", "suspected to hold mercury (“sublimate” in a treatment, 1911); have it",
		"At least: nitrile gloves", "Ask the occupational hygienist", "licensed practice come first",
		"\nThe specimen was not examined for lead.",
		"\nHazards not recorded: radioactivity, cellulose nitrate, mould, pesticides.",
	} {
		if !strings.Contains(said, want) {
			t.Errorf("got %q, want it to say %q", said, want)
		}
	}
	if strings.Contains(said, "asbestos") {
		t.Errorf("got %q, want no word of what was looked for", said)
	}
	if tag := sp.ReadHazards().Tag(); tag != "HAZARD: arsenic known, mercury suspected" {
		t.Errorf("got the tag %q", tag)
	}
}

// Only a test that is described says otherwise than a word; and it never says that there
// is none.
func TestAWordAndATest(t *testing.T) {
	t.Parallel()
	word := []stack.Hazard{{Name: "arsenic", Status: "suspected", Because: []stack.Clue{{Treatment: "old",
		Date: "1911", Words: "arsenical soap"}}}}
	for how, want := range map[string]string{"": "suspected", "spot test on four swabs, down to 0.1 mg/L": "none-found"} {
		got := stack.GravestHazards([]stack.Hazard{{Name: "arsenic", Status: "none-found", How: how}}, word)
		if len(got) != 1 || got[0].Status != want {
			t.Errorf("none found %q: got %v, want %s", how, got, want)
		}
		sp := stack.Specimen{Hazards: got}
		said := strings.Join(sp.ReadHazards().Said(), " ")
		if !strings.Contains(said, "arsenical soap") || want == "none-found" && !strings.Contains(said, "does not show that it is absent") {
			t.Errorf("none found %q: got %q", how, said)
		}
	}
}

// A liquid without a classification is never said to have no hazards.
func TestCandidatesWithoutClassificationSaySo(t *testing.T) {
	t.Parallel()
	unknown := 0
	for _, id := range []string{acetate, copolymer, "shellac", "cellulose-nitrate"} {
		plan := newStack(t, bone(), put("old", stack.Coating, "skull", "1990", of(id))).Plan(stack.PlanRequest{})
		st := plan.Steps[0]
		for _, c := range st.Candidates {
			if len(c.Hazards) == 0 && c.Harm != 0 {
				t.Errorf("%s for %s: got no hazard and no word that they are unknown", c.Solvent, id)
			}
			if c.Harm == 5 {
				unknown++
				if !strings.Contains(strings.Join(plan.Cautions, " "), "Hazards not known here of") {
					t.Errorf("%s for %s: got %v, want a caution", c.Solvent, id, plan.Cautions)
				}
			}
		}
	}
	if unknown == 0 {
		t.Log("every candidate is classified by now")
	}
}

// Acetone on cellulose nitrate is told to dissolve it (the table of observations), and water is not.
func TestWhatDissolvesANitrateSpecimen(t *testing.T) {
	t.Parallel()
	for liquid, dissolves := range map[string]bool{"acetone": true, "water": false} {
		checked := run(t, given(bone(dangers("cellulose-nitrate", "known")), with(brushed(hours(liquid, 1)), method(stack.Swab))))
		told := slices.ContainsFunc(findings(checked, "cellulose-nitrate-near-heat"), func(f stack.Finding) bool {
			return strings.HasPrefix(f.Sentence, "Cellulose nitrate dissolves in "+liquid)
		})
		if told != dissolves {
			t.Errorf("%s: got %v", liquid, checked.Findings)
		}
	}
}

// What one caution says in more words, another does not say again.
func TestCautionsAreSaidOnce(t *testing.T) {
	t.Parallel()
	sp := bone(dangers("arsenic", "known"), dangers("mercury", "suspected"))
	hazards := sp.ReadHazards()
	said := strings.Join(hazards.Spoken(), " ")
	for _, once := range []string{"gloves", "washed hands", "never a dry brush"} {
		if n := strings.Count(said, once); n != 1 {
			t.Errorf("says %d times %q: %s", n, once, said)
		}
	}
	if !strings.Contains(said, "does not hold back the vapour") {
		t.Errorf("got %s, want the vapour of mercury told", said)
	}
}
