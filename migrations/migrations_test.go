package migrations

import (
	"io/fs"
	"strings"
	"testing"
)

// Two migrations with one number stop every server from starting, and nothing
// but this sees it when two branches meet.
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
