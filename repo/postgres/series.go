package postgres

import (
	"context"
	"encoding/json"

	"coldrise/domain/part"
	"coldrise/domain/problem"
	"coldrise/repo"
)

// PutSeries stores or replaces a series by its name.
func (s *Store) PutSeries(ctx context.Context, shop repo.Shop, series part.Series, at repo.Stamp) error {
	return s.write(ctx, shop, "store a series", func(tx changer) error {
		return putSeries(ctx, tx, shop, &series, at)
	})
}

func putSeries(ctx context.Context, tx changer, shop repo.Shop, series *part.Series, at repo.Stamp) error {
	if series.Name == "" {
		return problem.New(problem.Invalid, "the series has no name")
	}
	if err := repo.Storable(series, "series"); err != nil {
		return err
	}
	text, err := json.Marshal(series)
	if err != nil {
		return err
	}
	_, err = tx.Exec(ctx, `INSERT INTO series (shop, name, document, changed_at) VALUES ($1, $2, $3, $4)
		ON CONFLICT (shop, name) DO UPDATE SET document = excluded.document, changed_at = excluded.changed_at`,
		shop, series.Name, string(text), repo.Instant(at.At))
	if outOfRange(err) {
		return repo.OutOfRange("series", err)
	}
	return err
}

// Series gives all series by name.
func (s *Store) Series(ctx context.Context, shop repo.Shop) ([]part.Series, error) {
	var all []part.Series
	err := s.ask(ctx, shop, "list series", func(q querier) error {
		rows, err := q.Query(ctx, "SELECT document FROM series WHERE shop = $1 ORDER BY name", shop)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			var text []byte
			var one part.Series
			if err := rows.Scan(&text); err != nil {
				return err
			}
			if err := json.Unmarshal(text, &one); err != nil {
				return err
			}
			repo.DropEmpty(&one)
			all = append(all, one)
		}
		return rows.Err()
	})
	return all, err
}
