package migrations_test

import (
	"testing"

	"github.com/google/uuid"

	"meniscus/internal/pgtest"
	"meniscus/internal/record"
	"meniscus/migrations"
)

func TestMain(m *testing.M) { pgtest.Main(m) }

// The migration fills old numbers by the same rule that new numbers are recorded with.
func TestOldNumbersAreFolded(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t)
	pool := pgtest.Pool(t, db.Super())
	numbers := []string{"LV.1987/0042", "lv 1987-42", "2004.1.12", "2004.11.2", "ЛВ-017", "STRASSE 7", "Straße 07", "٠٠٤٢", "４２", "000",
		"1.000.2", "100", "1005", "00100", "./.", "🦴 12", "🦴", "É1", "Ⅳ 3", "12½", "LV.\u200e1987/00\u200f42", "a\u0301b 1", "İ 1"}
	institution := uuid.Must(uuid.NewV7())
	// More than a page of rows, several of one specimen.
	_, err := pool.Exec(t.Context(), `
		with at as (select n, gen_random_uuid() as id from generate_series(0, 299) n),
		     of as (insert into specimen (institution_id, id, revision) select $1, id, 1 from at returning id)
		insert into specimen_identifier (institution_id, specimen_id, position, kind, value, folded)
		select $1, of.id, v.nth, 'catalogue-number', v.value, 'old'
		  from of cross join unnest($2::text[]) with ordinality as v(value, nth)`, institution, numbers)
	if err != nil {
		t.Fatal(err)
	}
	if err := migrations.FillRuns(t.Context(), db.Owner()); err != nil {
		t.Fatal(err)
	}
	rows, err := pool.Query(t.Context(), `select value, folded, count(*) from specimen_identifier group by 1, 2`)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	found := 0
	for ; rows.Next(); found++ {
		var value, folded string
		var count int
		if err := rows.Scan(&value, &folded, &count); err != nil {
			t.Fatal(err)
		}
		if want := record.Fold(value); folded != want || count != 300 {
			t.Errorf("%q: got %q of %d rows, want %q of 300", value, folded, count, want)
		}
	}
	if err := rows.Err(); err != nil || found != len(numbers) {
		t.Errorf("got %d numbers, %v, want %d", found, err, len(numbers))
	}
}
