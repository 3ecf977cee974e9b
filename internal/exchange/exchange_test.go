package exchange

import (
	"errors"
	"strings"
	"testing"

	"meniscus/internal/fault"
	"meniscus/internal/postgres"
)

// A line with more values than a statement can have is refused before memory is
// allocated for them.
func TestALineHasSoManyValues(t *testing.T) { // alone, because it counts allocations
	few := `{"body":{"statement":{"materials":[` + strings.Repeat("{},", mostValues/2) + "{}]}}}\n"
	many := `{"body":{"statement":{"materials":[` + strings.Repeat("{},", 3*mostValues) + "{}]}}}\n"
	refused := func(text string) bool {
		_, err := newLineReader(strings.NewReader(text)).next()
		found := fault.From(err)
		return len(found) == 1 && found[0].Code == "line-too-long"
	}
	if refused(few) || !refused(many) {
		t.Errorf("few refused: %v, many refused: %v", refused(few), refused(many))
	}
	if used := testing.AllocsPerRun(1, func() { refused(many) }); used > 1000 {
		t.Errorf("got %v allocations for a line that is refused", used)
	}
}

// A package that exceeds the limits of a receiver is refused when it is made.
func TestAPackageIsMadeAsLargeAsItIsReceived(t *testing.T) {
	t.Parallel()
	words := strings.Repeat("x", mostReceivedBytes/4)
	for name, p := range map[string]*Package{"entries": {entries: mostReceived}, "words": {bytes: mostReceivedBytes}} {
		err := p.count(postgres.Exported{Fact: postgres.Fact{Row: postgres.Row{Body: &words}}}, 0)
		if !errors.Is(err, error(errPackageTooLarge)) {
			t.Errorf("%s: got %v", name, err)
		}
	}
	p := &Package{}
	if err := p.count(postgres.Exported{Fact: postgres.Fact{Row: postgres.Row{Body: &words}}}, 0); err != nil {
		t.Errorf("a quarter: got %v", err)
	}
	if err := p.count(postgres.Exported{}, mostMentioned+1); err == nil {
		t.Error("too many ids were taken")
	}
}
