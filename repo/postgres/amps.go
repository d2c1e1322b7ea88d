package postgres

import (
	"context"
	"encoding/json"
	"errors"

	"github.com/jackc/pgx/v5"

	"coldrise/domain/amp"
	"coldrise/repo"
)

const selectAmp = "SELECT id, version, created_at, changed_at, document FROM amps "

// CreateAmp stores an amplifier.
func (c calls) CreateAmp(ctx context.Context, shop repo.Shop, id string, a amp.Amplifier, at repo.Stamp) (repo.Amp, error) {
	var made repo.Amp
	err := c.in.write(ctx, shop, "create an amplifier", func(tx changer) error {
		if err := repo.StorableRow(id, &a, "amplifier"); err != nil {
			return err
		}
		text, err := json.Marshal(&a)
		if err != nil {
			return err
		}
		now := repo.Instant(at.At)
		_, err = tx.Exec(ctx, `INSERT INTO amps (shop, id, version, created_at, changed_at, name, document) VALUES ($1, $2, 1, $3, $4, $5, $6)`,
			shop, id, now, now, a.Name, string(text))
		switch {
		case codeOf(err) == uniqueViolation:
			return repo.IDTaken("amplifier", id)
		case outOfRange(err):
			return repo.OutOfRange("amplifier", err)
		case err != nil:
			return err
		}
		made, err = oneAmp(ctx, tx, shop, id)
		return err
	})
	return made, err
}

// Amp gives one amplifier.
func (c calls) Amp(ctx context.Context, shop repo.Shop, id string) (repo.Amp, error) {
	var a repo.Amp
	err := c.in.ask(ctx, shop, "read an amplifier", func(q querier) (err error) {
		a, err = oneAmp(ctx, q, shop, id)
		return err
	})
	return a, err
}

// ReplaceAmp puts a in place of version.
func (c calls) ReplaceAmp(ctx context.Context, shop repo.Shop, id string, version int64, a amp.Amplifier, at repo.Stamp) (repo.Amp, error) {
	var changed repo.Amp
	err := c.in.write(ctx, shop, "replace an amplifier", func(tx changer) error {
		if err := atVersion(ctx, tx, "amps", "amplifier", shop, id, version); err != nil {
			return err
		}
		if err := repo.Storable(&a, "amplifier"); err != nil {
			return err
		}
		text, err := json.Marshal(&a)
		if err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, `UPDATE amps SET name = $1, document = $2, changed_at = $3, version = version + 1 WHERE shop = $4 AND id = $5`,
			a.Name, string(text), repo.Instant(at.At), shop, id); err != nil {
			return err
		}
		changed, err = oneAmp(ctx, tx, shop, id)
		return err
	})
	return changed, err
}

// DeleteAmp removes version. Plans made for it stay.
func (c calls) DeleteAmp(ctx context.Context, shop repo.Shop, id string, version int64) error {
	return c.in.write(ctx, shop, "delete an amplifier", func(tx changer) error {
		if err := atVersion(ctx, tx, "amps", "amplifier", shop, id, version); err != nil {
			return err
		}
		_, err := tx.Exec(ctx, "DELETE FROM amps WHERE shop = $1 AND id = $2", shop, id)
		return err
	})
}

// Amps lists by id.
func (c calls) Amps(ctx context.Context, shop repo.Shop, p repo.Page) ([]repo.Amp, string, error) {
	var amps []repo.Amp
	next := ""
	err := c.in.ask(ctx, shop, "list amplifiers", func(q querier) error {
		if err := repo.CheckLimit(p.Limit); err != nil {
			return err
		}
		list := repo.AmpsList(shop)
		keys, err := repo.DecodeCursor(list, p.After, 1)
		if err != nil {
			return err
		}
		after := "" // No id is empty, so all of them come after it.
		if keys != nil {
			after = keys[0]
		}
		rows, err := q.Query(ctx, selectAmp+"WHERE shop = $1 AND id > $2 ORDER BY id LIMIT $3", shop, after, p.Limit+1)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			a, err := scanAmp(rows)
			if err != nil {
				return err
			}
			amps = append(amps, a)
		}
		amps, next = repo.Turn(amps, p.Limit, func(last *repo.Amp) string { return repo.EncodeCursor(list, last.ID) })
		return rows.Err()
	})
	return amps, next, err
}

func oneAmp(ctx context.Context, q querier, shop repo.Shop, id string) (repo.Amp, error) {
	if !repo.IsText(id) {
		return repo.Amp{}, repo.NotThere("amplifier", id)
	}
	a, err := scanAmp(q.QueryRow(ctx, selectAmp+"WHERE shop = $1 AND id = $2", shop, id))
	if errors.Is(err, pgx.ErrNoRows) {
		return a, repo.NotThere("amplifier", id)
	}
	return a, err
}

func scanAmp(row pgx.Row) (repo.Amp, error) {
	var a repo.Amp
	var text []byte
	if err := row.Scan(&a.ID, &a.Version, &a.Created, &a.Changed, &text); err != nil {
		return repo.Amp{}, err
	}
	if err := json.Unmarshal(text, &a.Amplifier); err != nil {
		return repo.Amp{}, err
	}
	repo.DropEmpty(&a.Amplifier)
	return a, nil
}
