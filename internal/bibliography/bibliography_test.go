package bibliography

import (
	"regexp"
	"strings"
	"testing"
)

func TestTheTableReads(t *testing.T) {
	all, err := parse(table)
	if err != nil {
		t.Fatal(err)
	}
	if len(all) < 150 {
		t.Errorf("%d sources, want all of them", len(all))
	}
}

// A line that is not what the table asks for is refused with its number.
func TestABrokenLineIsRefused(t *testing.T) {
	for name, c := range map[string]struct{ lines, want string }{
		"a cell missing":        {"a\tpaper\ta\tprimary", "sources.tsv:1: want key"},
		"an empty citation":     {"a\tpaper\ta\tprimary\t", "want key"},
		"another kind":          {"a\trumour\ta\tweak\tx", "no kind"},
		"another standing":      {"a\tpaper\ta\tgood\tx", "no standing"},
		"a recalled primary":    {"a\trecalled\ta\tprimary\tx", "does not go with"},
		"a paper without a say": {"a\tpaper\ta\tnone\tx", "does not go with"},
		"twice":                 {"a\tpaper\ta\tweak\tx\na\tpaper\ta\tweak\ty", "sources.tsv:2: source \"a\" stands twice"},
	} {
		if _, err := parse(c.lines); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
}

// undated is how a citation says that it has no date, or that it is at second hand.
var undated = regexp.MustCompile(`undated|not noted|second hand|as cited|as summarised|as recalled|without (attribution|provenance)`)

// What a citation says of itself, its standing bears out.
func TestAnUndatedSourceIsNoGoodWitness(t *testing.T) {
	for _, s := range All() {
		if undated.MatchString(s.Citation) && (s.Standing == Primary || s.Standing == Secondary) {
			t.Errorf("%s is %s, and its citation says: %s", s.Key, s.Standing, s.Citation)
		}
		if says := strings.HasSuffix(s.Citation, cannotBeFound); says != (s.Standing == Lost) {
			t.Errorf("%s is %s, and its citation says: %s", s.Key, s.Standing, s.Citation)
		}
	}
}

func TestVerifyWantsAPrimarySourceOrTwoWitnesses(t *testing.T) {
	named := func(keys ...string) (out []Source) {
		for _, k := range keys {
			out = append(out, Named(k))
		}
		return out
	}
	for _, c := range []struct {
		sources []Source
		want    bool
	}{
		{named("clp-2026"), true},
		{named("adr-2017", "cfr-172-101-2012"), true},
		{named("adr-2017"), false},
		{named("koob-1995", "koob-2005"), false},         // one author
		{named("crc-chemicals", "perry-8"), false},       // one transcription
		{named("labware-chart", "adr-2017"), false},      // one of them cannot be found again
		{named("materials-encyclopedia", "icsc"), false}, // undated
		{named("recalled", "common-practice"), false},
		{nil, false},
	} {
		if got := Verify(c.sources...); got != c.want {
			t.Errorf("%v: %v, want %v", c.sources, got, c.want)
		}
	}
}
