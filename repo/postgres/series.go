package postgres

import (
	"context"
	"encoding/json"
	"errors"

	"github.com/jackc/pgx/v5"

	"coldrise/domain/part"
	"coldrise/domain/problem"
	"coldrise/repo"
)

const insertSeries = "INSERT INTO series (shop, name, document, version, created_at, changed_at) VALUES ($1, $2, $3, 1, $4, $4)"

// PutSeries stores or replaces a series by its name.
func (c calls) PutSeries(ctx context.Context, shop repo.Shop, series part.Series, at repo.Stamp) error {
	return c.in.write(ctx, shop, "store a series", func(tx changer) error {
		return putSeries(ctx, tx, shop, &series, at)
	})
}

func putSeries(ctx context.Context, tx changer, shop repo.Shop, series *part.Series, at repo.Stamp) error {
	text, err := seriesText(series)
	if err != nil {
		return err
	}
	_, err = tx.Exec(ctx, insertSeries+`
		ON CONFLICT (shop, name) DO UPDATE SET document = excluded.document, changed_at = excluded.changed_at, version = series.version + 1`,
		shop, series.Name, text, repo.Instant(at.At))
	if outOfRange(err) {
		return repo.OutOfRange("series", err)
	}
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
	err := c.in.write(ctx, shop, "create a series", func(tx changer) error {
		text, err := seriesText(&series)
		if err != nil {
			return err
		}
		_, err = tx.Exec(ctx, insertSeries, shop, series.Name, text, repo.Instant(at.At))
		switch {
		case codeOf(err) == uniqueViolation:
			return repo.IDTaken("series", series.Name)
		case outOfRange(err):
			return repo.OutOfRange("series", err)
		case err != nil:
			return err
		}
		made, err = oneSeries(ctx, tx, shop, series.Name, "")
		return err
	})
	return made, err
}

// OneSeries gives one series.
func (c calls) OneSeries(ctx context.Context, shop repo.Shop, name string) (repo.Series, error) {
	var s repo.Series
	err := c.in.ask(ctx, shop, "read a series", func(q querier) (err error) {
		s, err = oneSeries(ctx, q, shop, name, "")
		return err
	})
	return s, err
}

// ReplaceSeries puts a series in place of version.
func (c calls) ReplaceSeries(ctx context.Context, shop repo.Shop, version int64, series part.Series, at repo.Stamp) (repo.Series, error) {
	var changed repo.Series
	err := c.in.write(ctx, shop, "replace a series", func(tx changer) error {
		if err := seriesAt(ctx, tx, shop, series.Name, version); err != nil {
			return err
		}
		if err := putSeries(ctx, tx, shop, &series, at); err != nil {
			return err
		}
		var err error
		changed, err = oneSeries(ctx, tx, shop, series.Name, "")
		return err
	})
	return changed, err
}

// DeleteSeries removes version.
func (c calls) DeleteSeries(ctx context.Context, shop repo.Shop, name string, version int64) error {
	return c.in.write(ctx, shop, "delete a series", func(tx changer) error {
		if err := seriesAt(ctx, tx, shop, name, version); err != nil {
			return err
		}
		_, err := tx.Exec(ctx, "DELETE FROM series WHERE shop = $1 AND name = $2", shop, name)
		if codeOf(err) == foreignKeyViolation {
			return repo.SeriesInUse(name)
		}
		return err
	})
}

// seriesAt refuses where a series is not at a version, and locks it.
func seriesAt(ctx context.Context, q querier, shop repo.Shop, name string, version int64) error {
	have, err := oneSeries(ctx, q, shop, name, forUpdate)
	if err == nil && have.Version != version {
		err = repo.Changed("series", name, have.Version, version)
	}
	return err
}

const (
	selectSeries = "SELECT name, version, created_at, changed_at, document FROM series WHERE shop = $1 "
	// forUpdate locks the rows of a query to the end of the transaction.
	forUpdate = " FOR UPDATE"
)

func oneSeries(ctx context.Context, q querier, shop repo.Shop, name, lock string) (repo.Series, error) {
	if !repo.IsText(name) {
		return repo.Series{}, repo.NotThere("series", name)
	}
	s, err := scanSeries(q.QueryRow(ctx, selectSeries+"AND name = $2"+lock, shop, name))
	if errors.Is(err, pgx.ErrNoRows) {
		return s, repo.NotThere("series", name)
	}
	return s, err
}

func scanSeries(row pgx.Row) (repo.Series, error) {
	var s repo.Series
	var text []byte
	if err := row.Scan(&s.ID, &s.Version, &s.Created, &s.Changed, &text); err != nil {
		return repo.Series{}, err
	}
	if err := json.Unmarshal(text, &s.Series); err != nil {
		return repo.Series{}, err
	}
	repo.DropEmpty(&s.Series)
	return s, nil
}

// Series gives all series by name.
func (c calls) Series(ctx context.Context, shop repo.Shop) ([]part.Series, error) {
	var all []part.Series
	err := c.in.ask(ctx, shop, "list series", func(q querier) error {
		rows, err := q.Query(ctx, selectSeries+"ORDER BY name", shop)
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
