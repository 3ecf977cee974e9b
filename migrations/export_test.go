package migrations

import (
	"context"
	"database/sql"
)

// FillRuns fills the folds of the numbers in the database at dsn.
func FillRuns(ctx context.Context, dsn string) error {
	db, err := sql.Open("pgx", dsn)
	if err != nil {
		return err
	}
	defer db.Close()
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	if err := fillRuns(ctx, tx); err != nil {
		return err
	}
	return tx.Commit()
}
