package record_test

import (
	"testing"

	"meniscus/internal/fault"
	"meniscus/internal/record"
)

func code(err error) string {
	if found := fault.From(err); len(found) > 0 {
		return found[0].Code
	}
	return ""
}

func TestORCID(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ text, want, code string }{
		// The fictitious iD that ORCID publishes for documentation.
		{"0000-0002-1825-0097", "0000-0002-1825-0097", ""},
		{"https://orcid.org/0000-0002-1825-0097", "0000-0002-1825-0097", ""},
		{"0000-0002-1825-0098", "", "orcid-check-digit"},
		{"0000-0002-1852-0097", "", "orcid-check-digit"},
		{"0000000218250097", "", "orcid-malformed"},
		{"0000-0002-1825-009", "", "orcid-malformed"},
		{" 0000-0002-1825-0097", "", "orcid-malformed"},
		{"", "", "orcid-malformed"},
	} {
		got, err := record.ParseORCID(row.text)
		if got != row.want || code(err) != row.code {
			t.Errorf("ParseORCID(%q): got %q, %v, want %q, %s", row.text, got, err, row.want, row.code)
		}
	}
}

// The check catches any one wrong digit and any swap of two neighbours, which is
// what ISO 7064 promises of MOD 11-2.
func TestORCIDCatchesEveryWrongDigit(t *testing.T) {
	t.Parallel()
	const id = "0000-0002-1825-0097"
	for i := range id {
		for d := byte('0'); d <= '9'; d++ {
			changed := id[:i] + string(d) + id[i+1:]
			if id[i] == '-' || id[i] == d {
				continue
			}
			if _, err := record.ParseORCID(changed); code(err) != "orcid-check-digit" {
				t.Errorf("%s: got %v, want orcid-check-digit", changed, err)
			}
		}
	}
}

func TestROR(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ text, want, code string }{
		// The example of the identifier's own documentation.
		{"05dxps055", "05dxps055", ""},
		{"https://ror.org/05dxps055", "05dxps055", ""},
		{"ror.org/05DXPS055", "05dxps055", ""},
		{"05dxps056", "", "ror-check-digits"},
		{"05dxsp055", "", "ror-check-digits"},
		{"15dxps055", "", "ror-malformed"},
		{"05dxpl055", "", "ror-malformed"},
		{"", "", "ror-malformed"},
	} {
		got, err := record.ParseROR(row.text)
		if got != row.want || code(err) != row.code {
			t.Errorf("ParseROR(%q): got %q, %v, want %q, %s", row.text, got, err, row.want, row.code)
		}
	}
}
