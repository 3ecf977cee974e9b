package migrations

import (
	"io/fs"
	"strings"
	"testing"
)

// Two migrations with the same number stop every server from starting; after a merge of
// two branches only this test finds it.
func TestEveryMigrationHasItsOwnNumber(t *testing.T) {
	t.Parallel()
	names, err := fs.Glob(files, "*.sql")
	if err != nil || len(names) < 10 {
		t.Fatalf("got %d migrations, %v", len(names), err)
	}
	seen := map[string]string{}
	for _, name := range names {
		number, _, numbered := strings.Cut(name, "_")
		if !numbered {
			continue
		}
		if other := seen[number]; other != "" {
			t.Errorf("%s and %s have one number", other, name)
		}
		seen[number] = name
	}
}
