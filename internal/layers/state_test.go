package layers

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/google/uuid"

	"meniscus/internal/edtf"
	"meniscus/internal/fault"
	"meniscus/internal/guard"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
)

// TestMoreThanIsWorkedOut: a specimen that exceeds a limit is refused before memory is
// allocated for it.
func TestMoreThanIsWorkedOut(t *testing.T) {
	t.Parallel()
	bone := uuid.New()
	statement := func(body string, n int) []postgres.Row {
		rows := make([]postgres.Row, n)
		for i := range rows {
			rows[i] = postgres.Row{Kind: record.KindTreatment, Record: uuid.New(), Act: "stated", Body: &body}
		}
		return rows
	}
	uses := ""
	for range 100 {
		uses += `,{"used":{"material":{"id":"acetone"}}}`
	}
	about := func(areas string) string {
		return fmt.Sprintf(`{"statement":{"specimen":{"id":%q},"action":"cleaning","areas":{"paths":[%s]},"dates":{"edtf":"2001"},`+
			`"materials":[%s]}}`, bone, areas, uses[1:])
	}
	spots := ""
	for i := range 500 {
		spots += fmt.Sprintf(`,"spot-%d"`, i)
	}
	for name, h := range map[string]postgres.History{
		"treatments": {Treatments: statement("", mostTreatments+1)},
		"stock":      {Shelf: postgres.Shelf{Changes: statement("", mostStock+1)}},
		"uses":       {Treatments: statement(about(`"whole"`), mostUses/100+1)},
		"areas":      {Treatments: statement(about(spots[1:]), mostCovered/500/100+1)},
	} {
		_, _, err := workOut(context.Background(), bone, h, material.Builtin(), edtf.Day{})
		if !errors.Is(err, errExcess) || why(err) != postgres.AsideExcess || !fault.Is(err, fault.Conflict) ||
			!strings.Contains(err.Error(), "limit") {
			t.Errorf("%s: got %v, want it refused with the limit", name, err)
		}
	}
}

// TestWhyAndHowLong: each failure has its class, and the wait grows with each attempt
// up to a maximum.
func TestWhyAndHowLong(t *testing.T) {
	t.Parallel()
	for want, err := range map[string]error{
		postgres.AsidePanic:  guard.Run(func() error { panic(1) }),
		postgres.AsideExcess: fmt.Errorf("reading: %w", postgres.ErrTooMuch),
		postgres.AsideFailed: errors.New("torn"),
	} {
		if got := why(err); got != want {
			t.Errorf("%v: got %s, want %s", err, got, want)
		}
	}
	for _, class := range []string{postgres.AsidePanic, postgres.AsideUnfinished} {
		last := wait(class, 1)
		for n := 2; n < 100; n++ {
			next := wait(class, n)
			if next < last || next > longestAfter {
				t.Errorf("%s: got %v after %d attempts, %v before", class, next, n, last)
			}
			last = next
		}
	}
}
