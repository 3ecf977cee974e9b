package migrations

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"fmt"
	"strings"
	"unicode"

	"github.com/google/uuid"
	"github.com/pressly/goose/v3"
	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"
)

// numberRuns makes numbers of specimens compare by their separate runs of letters and
// digits: before, they were compared without separators, and 2004.1.12 and 2004.11.2
// were alike. The server does not know the cases and letters of every script in each
// locale, so old rows are filled here, in Go.
var numberRuns = goose.NewGoMigration(190, &goose.GoFunc{RunTx: func(ctx context.Context, tx *sql.Tx) error {
	_, err := tx.ExecContext(ctx, `
		drop index specimen_identifier_folded;
		alter table specimen_identifier drop column plain`)
	if err == nil {
		err = fillRuns(ctx, tx)
	}
	if err == nil {
		_, err = tx.ExecContext(ctx, `
			create index specimen_identifier_folded on specimen_identifier (institution_id, folded, kind, specimen_id)`)
	}
	return err
}}, nil)

// identifier is a row of specimen_identifier by its key.
type identifier struct {
	specimen, institution uuid.UUID
	position              int
}

// fillRuns fills the column page by page, in the order of the table's key.
func fillRuns(ctx context.Context, tx *sql.Tx) error {
	last := identifier{position: -1}
	for {
		rows, values, err := identifiersAfter(ctx, tx, last)
		if err != nil || len(rows) == 0 {
			return err
		}
		specimens, institutions := make([]string, len(rows)), make([]string, len(rows))
		positions, folds := make([]int32, len(rows)), make([]string, len(rows))
		for i, r := range rows {
			specimens[i], institutions[i], positions[i] = r.specimen.String(), r.institution.String(), int32(r.position)
			folds[i] = runsOf(values[i])
		}
		if _, err := tx.ExecContext(ctx, `
			update specimen_identifier t set folded = x.folded
			  from unnest($1::uuid[], $2::uuid[], $3::int[], $4::text[]) as x(specimen_id, institution_id, position, folded)
			 where t.specimen_id = x.specimen_id and t.institution_id = x.institution_id and t.position = x.position`,
			specimens, institutions, positions, folds); err != nil {
			return fmt.Errorf("filling the folds of numbers: %w", err)
		}
		last = rows[len(rows)-1]
	}
}

func identifiersAfter(
	ctx context.Context, tx *sql.Tx, last identifier,
) (rows []identifier, values []string, err error) {
	found, err := tx.QueryContext(ctx, `
		select specimen_id, institution_id, position, value from specimen_identifier
		 where (specimen_id, institution_id, position) > ($1, $2, $3)
		 order by specimen_id, institution_id, position limit 5000`, last.specimen, last.institution, last.position)
	if err != nil {
		return nil, nil, fmt.Errorf("reading numbers: %w", err)
	}
	defer found.Close()
	for found.Next() {
		var r identifier
		var value string
		if err := found.Scan(&r.specimen, &r.institution, &r.position, &value); err != nil {
			return nil, nil, fmt.Errorf("reading a number: %w", err)
		}
		rows, values = append(rows, r), append(values, value)
	}
	return rows, values, found.Err()
}

// runsOf is the rule as it was when this migration was written.
func runsOf(number string) string {
	folded := norm.NFKC.String(cases.Fold().String(norm.NFKC.String(number)))
	folded = strings.Map(func(r rune) rune {
		if unicode.In(r, unicode.Cf, unicode.Variation_Selector, unicode.Other_Default_Ignorable_Code_Point) {
			return -1
		}
		return r
	}, folded)
	var runs []string
	text, last := []rune(folded), ' '
	for i, r := range text {
		is := class(r)
		switch {
		case is == ' ':
		case is != last:
			runs = append(runs, string(r))
		case is == 'd' && isZeroDigit(text[i-1]) && len([]rune(runs[len(runs)-1])) == 1:
			runs[len(runs)-1] = string(r) // replaces a leading zero of the run
		default:
			runs[len(runs)-1] += string(r)
		}
		last = is
	}
	fold := strings.Join(runs, " ")
	if fold == "" {
		fold = strings.Join(strings.Fields(folded), "")
	}
	if len(fold) > 200 {
		digest := sha256.Sum256([]byte(fold))
		return "#" + hex.EncodeToString(digest[:])
	}
	return fold
}

// class is the class of a rune: digit, letter, or separator between runs.
func class(r rune) rune {
	switch {
	case unicode.IsDigit(r):
		return 'd'
	case unicode.IsLetter(r), unicode.IsMark(r), unicode.IsNumber(r):
		return 'l'
	}
	return ' '
}

func isZeroDigit(r rune) bool {
	first := r
	for unicode.IsDigit(first - 1) {
		first--
	}
	return (r-first)%10 == 0
}
