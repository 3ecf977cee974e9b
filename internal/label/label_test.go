package label

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"meniscus/internal/edtf"
	"meniscus/internal/material"
)

func on(text string) edtf.Date {
	d, err := edtf.Parse(text)
	if err != nil {
		panic(err)
	}
	return d
}

// jar is a usual jar: a resin in one or more solvents.
func jar(solvents ...string) Facts {
	return Facts{
		Owner:   "Museum of the Lower Valley",
		Address: "https://meniscus.example/v1/batches/0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7a13", Code: "B-1",
		Solids: []string{"poly(vinyl butyral)"}, Liquids: solvents,
		Strength: Strength{Said: "20 g per 100 mL solution", From: Weighed},
		Made:     on("2026-03-02"), By: []string{"Ilse Varga"}, From: []string{"S-1", "S-2"}, Substances: solvents,
	}
}

// The least sizes that are published: Regulation (EC) No 1272/2008, Annex I, table
// 1.3 (consolidated 1 July 2026), and the letters of Delegated Regulation (EU)
// 2024/2865 as two public accounts give them.
func TestPublishedSizes(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ capacity, long, short, side, letter float64 }{
		{0.5, 74, 52, 16, 1.2}, {500, 74, 52, 16, 1.2}, {500.1, 74, 52, 16, 1.4}, {3_000, 74, 52, 16, 1.4},
		{3_001, 105, 74, 23, 1.8}, {50_000, 105, 74, 23, 1.8}, {50_001, 148, 105, 32, 2}, {500_000, 148, 105, 32, 2},
		{500_001, 210, 148, 46, 2},
	} {
		got := sizeFor(row.capacity)
		if got.Width != row.long || got.Height != row.short || got.Side != row.side || got.XHeight != row.letter {
			t.Errorf("%v mL: got %v, want %v × %v, pictogram %v, letter x %v", row.capacity, got, row.short, row.long,
				row.side, row.letter)
		}
	}
}

// Whatever the capacity, no piece is smaller than its least size, no letter
// smaller than the least, and no pictogram below the least side, which is never
// under 10 mm (1 cm², Annex I, 1.2.1.3).
func TestNothingIsSmallerThanTheRulesSay(t *testing.T) {
	t.Parallel()
	for _, capacity := range []float64{1, 3, 5, 10, 30, 100, 125, 126, 250, 500, 1000, 3000, 5000, 60_000, 600_000} {
		for _, f := range []Facts{jar("acetone"), jar("toluene", "methanol", "n-heptane", "white-spirit-stoddard-solvent")} {
			for _, p := range New(f, material.Builtin(), capacity).Pieces {
				l := p.Layout
				if l.Width < p.Size.Width || l.Height < p.Size.Height || l.XHeight < p.Size.XHeight-1e-9 ||
					l.Points < 5 && capacity > 10 {
					t.Errorf("%v mL, %s: got %+v, want at least %+v", capacity, p.Place, l, p.Size)
				}
				if len(p.Content.Pictograms) > 0 && (l.Side < p.Size.LeastSide || l.Side < 10) {
					t.Errorf("%v mL, %s: got pictograms of %v mm, want at least %v", capacity, p.Place, l.Side, p.Size.LeastSide)
				}
			}
		}
	}
}

// What stays on a package of up to 125 mL (trade use), for each solvent, by
// Regulation (EC) No 1272/2008, Annex I, 1.5.2.1.1, and its Annex VI.
func TestSmallPackageKeepsWhatTheRuleKeeps(t *testing.T) {
	t.Parallel()
	for solvent, want := range map[string][]string{
		"acetone": {"EUH066"}, "butanone": {"EUH066"}, "ethyl-acetate": {"EUH066"}, "n-butyl-acetate": {"EUH066"},
		"ethanol": nil, "propan-2-ol": nil, "1-methoxy-2-propanol": nil, "diacetone-alcohol": nil,
		"toluene": {"H304", "H361d"}, "xylene-mixed-isomers": nil, "methanol": {"H301", "H311", "H331", "H370"},
		"dichloromethane": {"H351"}, "n-heptane": {"H304"}, "cyclohexane": {"H304"},
	} {
		f := Facts{Substances: []string{solvent}, Code: "B"}
		full := compose(f, hazardsOf(material.Builtin(), f, 250))
		kept := reduced{Content: full}.permitted(material.Builtin())
		var got []string
		for _, s := range kept.Says {
			if s.Element == HazardText {
				got = append(got, s.Code)
			}
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", solvent, diff)
		}
		if diff := cmp.Diff(full.Pictograms, kept.Pictograms); diff != "" || kept.Signal() != full.Signal() {
			t.Errorf("%s: pictograms and signal word must stay: %s", solvent, diff)
		}
	}
}

// Up to 125 mL there are two pieces, and what the container leaves out stands on
// the other with the rule; above there is one. A vial has the name and no
// pictogram.
func TestPieces(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		capacity          float64
		pieces            int
		hazards, pictures bool
	}{{2, 2, false, false}, {3, 2, false, false}, {10, 2, false, true}, {100, 2, false, true}, {125, 2, false, true},
		{126, 1, true, true}, {1000, 1, true, true}} {
		l := New(jar("propan-2-ol"), material.Builtin(), row.capacity)
		first, last := l.Pieces[0].Content, l.Pieces[len(l.Pieces)-1].Content
		if len(l.Pieces) != row.pieces || (first.text(HazardText) != "") != row.hazards ||
			(len(first.Pictograms) > 0) != row.pictures {
			t.Errorf("%v mL: got %d pieces, the first %+v", row.capacity, len(l.Pieces), first)
		}
		if first.text(Name) == "" || first.text(CodeText) != "B-1" || first.Signal() != "Danger" {
			t.Errorf("%v mL: the container lacks name, code or signal word: %+v", row.capacity, first)
		}
		if (row.pieces == 2) != (first.text(Elsewhere) != "") {
			t.Errorf("%v mL: got %q, want it said that the full label is elsewhere, if it is", row.capacity,
				first.text(Elsewhere))
		}
		if last.text(HazardText) != "Highly flammable liquid and vapour." || last.Camera == nil {
			t.Errorf("%v mL: the full label is not full: %+v", row.capacity, last)
		}
	}
	left := New(jar("propan-2-ol"), material.Builtin(), 100).LeftOut
	i := slices.IndexFunc(left, func(o Omission) bool { return o.Code == "H225" })
	if i < 0 || left[i].Rule != smallRule || !strings.Contains(left[i].Instead, "tie-on tag") {
		t.Errorf("got %+v, want H225 left out by %s and where it stands instead", left, smallRule.Source)
	}
}

// Full and reduced together say everything: what is not on the container is
// named as left out.
func TestWhatIsLeftOutIsNamed(t *testing.T) {
	t.Parallel()
	for _, capacity := range []float64{2, 10, 30, 100} {
		l := New(jar("toluene", "acetone"), material.Builtin(), capacity)
		reduced, full := l.Pieces[0].Content, l.Pieces[1].Content
		for _, s := range full.Says {
			there := slices.ContainsFunc(reduced.Says, func(r Saying) bool { return r.Text == s.Text })
			named := slices.ContainsFunc(l.LeftOut, func(o Omission) bool {
				return o.Text == s.Text && o.Rule.Source != "" && o.Instead != ""
			})
			if !there && !named {
				t.Errorf("%v mL: %q is neither on the container nor named as left out", capacity, s.Text)
			}
		}
	}
}

func TestWhatIsNotKnownIsSaid(t *testing.T) {
	t.Parallel()
	says := func(f Facts, e Element) string { return compose(f, hazardsOf(material.Builtin(), f, 250)).text(e) }
	nothing := Facts{}
	for e, want := range map[Element]string{
		Name: "Contents not known", StrengthWords: "Strength not known", CodeText: "Code not known",
		MadeWords: "Made: when is not recorded, by whom is not recorded", MadeFrom: "From: supplies not recorded",
		HazardsUnknown: "Hazards not known: see the safety data sheet.", SignalText: "",
	} {
		if got := says(nothing, e); got != want {
			t.Errorf("%s: got %q, want %q", e, got, want)
		}
	}
	partly := jar("acetone")
	partly.Unnamed = []string{"“clear varnish”"}
	if got := says(partly, HazardsUnknown); got != "Hazards not known of “clear varnish”: see the safety data sheet." {
		t.Errorf("got %q, want the words whose meaning nobody knows", got)
	}
	water := Facts{Substances: []string{"water"}}
	if got := says(water, HazardsUnknown); got != "No hazard is listed of water: see the safety data sheet." {
		t.Errorf("got %q, want no hazard listed, and no more", got)
	}
	lost := jar("acetone")
	lost.Strength.Changed = true
	if got := says(lost, StrengthNow); !strings.Contains(got, "not known") {
		t.Errorf("got %q, want the strength not known now", got)
	}
	for origin, want := range map[Origin]string{Weighed: "as measured", Labelled: "as an earlier label says",
		Asked: "as the recipe asked, not measured"} {
		f := jar("acetone")
		f.Strength.From = origin
		if got := says(f, StrengthWords); got != "20 g per 100 mL solution ("+want+")" {
			t.Errorf("%s: got %q, want it said where the strength is from", origin, got)
		}
	}
}

// The statements are those of the regulation, word for word; the strictest
// signal word stands, and nothing is said twice.
func TestHazardsTogether(t *testing.T) {
	t.Parallel()
	f := jar("methanol", "xylene-mixed-isomers", "n-butyl-acetate")
	l := New(f, material.Builtin(), 1000)
	c := l.Pieces[0].Content
	var codes []string
	for _, s := range c.Says {
		if s.Element == HazardText {
			st, _ := material.Builtin().Statement(s.Code)
			if s.Text != st.Text() {
				t.Errorf("%s: got %q, want %q", s.Code, s.Text, st.Text())
			}
			codes = append(codes, s.Code)
		}
	}
	if diff := cmp.Diff([]string{"H225", "H301", "H311", "H315", "H331", "H336", "H370", "EUH066"}, codes); diff != "" {
		t.Errorf("statements (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff([]string{"GHS02", "GHS06", "GHS08"}, c.Pictograms); diff != "" || c.Signal() != "Danger" {
		t.Errorf("got %q; pictograms (-want +got):\n%s", c.Signal(), diff)
	}
	var gone []string
	for _, o := range l.LeftOut {
		gone = append(gone, o.Code)
	}
	if diff := cmp.Diff([]string{"H226", "H312", "H332", "GHS07"}, gone); diff != "" {
		t.Errorf("left out (-want +got):\n%s", diff)
	}
}
