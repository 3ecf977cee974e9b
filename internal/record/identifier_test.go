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
		// Outside the blocks that iDs are assigned from, with its check digit by ISO 7064.
		{"9999-1234-5678-9011", "9999-1234-5678-9011", ""},
		{"https://orcid.org/9999-1234-5678-9011", "9999-1234-5678-9011", ""},
		{"9999-1234-5678-9012", "", "orcid-check-digit"},
		{"9999-1234-5687-9011", "", "orcid-check-digit"},
		{"9999123456789011", "", "orcid-malformed"},
		{"9999-1234-5678-901", "", "orcid-malformed"},
		{" 9999-1234-5678-9011", "", "orcid-malformed"},
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
	const id = "9999-1234-5678-9011"
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
		// Made up, with the check digits of its number. Whether the registry has it was not asked; about one number in
		// ten thousand is assigned.
		{"0zyxwvt21", "0zyxwvt21", ""},
		{"https://ror.org/0zyxwvt21", "0zyxwvt21", ""},
		{"ror.org/0ZYXWVT21", "0zyxwvt21", ""},
		{"0zyxwvt22", "", "ror-check-digits"},
		{"0zyxvwt21", "", "ror-check-digits"},
		{"1zyxwvt21", "", "ror-malformed"},
		{"0zyxwvl21", "", "ror-malformed"},
		{"", "", "ror-malformed"},
	} {
		got, err := record.ParseROR(row.text)
		if got != row.want || code(err) != row.code {
			t.Errorf("ParseROR(%q): got %q, %v, want %q, %s", row.text, got, err, row.want, row.code)
		}
	}
}
