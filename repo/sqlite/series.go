package sqlite

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"

	codes "modernc.org/sqlite/lib"

	"coldrise/domain/part"
	"coldrise/domain/problem"
	"coldrise/repo"
)

const insertSeries = "INSERT INTO series (shop, name, document, version, created_us, changed_us) VALUES (?, ?, ?, 1, ?, ?)"

// PutSeries stores or replaces a series by its name.
func (c calls) PutSeries(ctx context.Context, shop repo.Shop, series part.Series, at repo.Stamp) error {
	return c.in.write(ctx, shop, "store a series", func(tx *sql.Tx) error {
		return putSeries(ctx, tx, shop, &series, at)
	})
}

func putSeries(ctx context.Context, tx *sql.Tx, shop repo.Shop, series *part.Series, at repo.Stamp) error {
	text, err := seriesText(series)
	if err != nil {
		return err
	}
	// Not INSERT OR REPLACE, which would delete the row the parts refer to.
	now := micros(at.At)
	_, err = tx.ExecContext(ctx, insertSeries+`
		ON CONFLICT (shop, name) DO UPDATE SET document = excluded.document, changed_us = excluded.changed_us, version = version + 1`,
		shop, series.Name, text, now, now)
	return err
}

// seriesText checks a series and gives its document.
func seriesText(series *part.Series) (string, error) {
	if series.Name == "" {
		return "", problem.New(problem.Invalid, "the series has no name")
	}
	if err := repo.Storable(series, "series"); err != nil {
		return "", err
	}
	text, err := json.Marshal(series)
	return string(text), err
}

// CreateSeries stores a series.
func (c calls) CreateSeries(ctx context.Context, shop repo.Shop, series part.Series, at repo.Stamp) (repo.Series, error) {
	var made repo.Series
	err := c.in.write(ctx, shop, "create a series", func(tx *sql.Tx) error {
		text, err := seriesText(&series)
		if err != nil {
			return err
		}
		now := micros(at.At)
		_, err = tx.ExecContext(ctx, insertSeries, shop, series.Name, text, now, now)
		if codeOf(err) == codes.SQLITE_CONSTRAINT_PRIMARYKEY {
			return repo.IDTaken("series", series.Name)
		}
		if err != nil {
			return err
		}
		made, err = oneSeries(ctx, tx, shop, series.Name)
		return err
	})
	return made, err
}

// OneSeries gives one series.
func (c calls) OneSeries(ctx context.Context, shop repo.Shop, name string) (repo.Series, error) {
	var s repo.Series
	err := c.in.read(ctx, shop, "read a series", func(q querier) (err error) {
		s, err = oneSeries(ctx, q, shop, name)
		return err
	})
	return s, err
}

// ReplaceSeries puts a series in place of version.
func (c calls) ReplaceSeries(ctx context.Context, shop repo.Shop, version int64, series part.Series, at repo.Stamp) (repo.Series, error) {
	var changed repo.Series
	err := c.in.write(ctx, shop, "replace a series", func(tx *sql.Tx) error {
		if err := seriesAt(ctx, tx, shop, series.Name, version); err != nil {
			return err
		}
		if err := putSeries(ctx, tx, shop, &series, at); err != nil {
			return err
		}
		var err error
		changed, err = oneSeries(ctx, tx, shop, series.Name)
		return err
	})
	return changed, err
}

// DeleteSeries removes version.
func (c calls) DeleteSeries(ctx context.Context, shop repo.Shop, name string, version int64) error {
	return c.in.write(ctx, shop, "delete a series", func(tx *sql.Tx) error {
		if err := seriesAt(ctx, tx, shop, name, version); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, "DELETE FROM series WHERE shop = ? AND name = ?", shop, name)
		if codeOf(err) == codes.SQLITE_CONSTRAINT_FOREIGNKEY {
			return repo.SeriesInUse(name)
		}
		return err
	})
}

func seriesAt(ctx context.Context, q querier, shop repo.Shop, name string, version int64) error {
	have, err := oneSeries(ctx, q, shop, name)
	if err == nil && have.Version != version {
		err = repo.Changed("series", name, have.Version, version)
	}
	return err
}

const selectSeries = "SELECT name, version, created_us, changed_us, document FROM series WHERE shop = ? "

func oneSeries(ctx context.Context, q querier, shop repo.Shop, name string) (repo.Series, error) {
	s, err := scanSeries(q.QueryRowContext(ctx, selectSeries+"AND name = ?", shop, name))
	if errors.Is(err, sql.ErrNoRows) {
		return s, repo.NotThere("series", name)
	}
	return s, err
}

func scanSeries(row scanner) (repo.Series, error) {
	var s repo.Series
	var created, changed int64
	var text []byte
	if err := row.Scan(&s.ID, &s.Version, &created, &changed, &text); err != nil {
		return repo.Series{}, err
	}
	s.Created, s.Changed = instant(created), instant(changed)
	if err := json.Unmarshal(text, &s.Series); err != nil {
		return repo.Series{}, err
	}
	repo.DropEmpty(&s.Series)
	return s, nil
}

// Series gives all series by name.
func (c calls) Series(ctx context.Context, shop repo.Shop) ([]part.Series, error) {
	var all []part.Series
	err := c.in.read(ctx, shop, "list series", func(q querier) error {
		rows, err := q.QueryContext(ctx, selectSeries+"ORDER BY name", shop)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			one, err := scanSeries(rows)
			if err != nil {
				return err
			}
			all = append(all, one.Series)
		}
		return rows.Err()
	})
	return all, err
}
