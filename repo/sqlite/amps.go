package sqlite

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"

	codes "modernc.org/sqlite/lib"

	"coldrise/domain/amp"
	"coldrise/repo"
)

const selectAmp = "SELECT id, version, created_us, changed_us, document FROM amps "

// CreateAmp stores an amplifier.
func (c calls) CreateAmp(ctx context.Context, shop repo.Shop, id string, a amp.Amplifier, at repo.Stamp) (repo.Amp, error) {
	var made repo.Amp
	err := c.in.write(ctx, shop, "create an amplifier", func(tx *sql.Tx) error {
		if err := repo.StorableRow(id, &a, "amplifier"); err != nil {
			return err
		}
		text, err := json.Marshal(&a)
		if err != nil {
			return err
		}
		now := micros(at.At)
		_, err = tx.ExecContext(ctx, `INSERT INTO amps (shop, id, version, created_us, changed_us, name, document) VALUES (?, ?, 1, ?, ?, ?, ?)`,
			shop, id, now, now, a.Name, string(text))
		if codeOf(err) == codes.SQLITE_CONSTRAINT_PRIMARYKEY {
			return repo.IDTaken("amplifier", id)
		}
		if err != nil {
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
	err := c.in.read(ctx, shop, "read an amplifier", func(q querier) (err error) {
		a, err = oneAmp(ctx, q, shop, id)
		return err
	})
	return a, err
}

// ReplaceAmp puts a in place of version.
func (c calls) ReplaceAmp(ctx context.Context, shop repo.Shop, id string, version int64, a amp.Amplifier, at repo.Stamp) (repo.Amp, error) {
	var changed repo.Amp
	err := c.in.write(ctx, shop, "replace an amplifier", func(tx *sql.Tx) error {
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
		if _, err := tx.ExecContext(ctx, `UPDATE amps SET name = ?, document = ?, changed_us = ?, version = version + 1 WHERE shop = ? AND id = ?`,
			a.Name, string(text), micros(at.At), shop, id); err != nil {
			return err
		}
		changed, err = oneAmp(ctx, tx, shop, id)
		return err
	})
	return changed, err
}

// DeleteAmp removes version. Plans made for it stay.
func (c calls) DeleteAmp(ctx context.Context, shop repo.Shop, id string, version int64) error {
	return c.in.write(ctx, shop, "delete an amplifier", func(tx *sql.Tx) error {
		if err := atVersion(ctx, tx, "amps", "amplifier", shop, id, version); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, "DELETE FROM amps WHERE shop = ? AND id = ?", shop, id)
		return err
	})
}

// Amps lists by id.
func (c calls) Amps(ctx context.Context, shop repo.Shop, p repo.Page) ([]repo.Amp, string, error) {
	var amps []repo.Amp
	next := ""
	err := c.in.read(ctx, shop, "list amplifiers", func(q querier) error {
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
		rows, err := q.QueryContext(ctx, selectAmp+"WHERE shop = ? AND id > ? ORDER BY id LIMIT ?", shop, after, p.Limit+1)
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
	a, err := scanAmp(q.QueryRowContext(ctx, selectAmp+"WHERE shop = ? AND id = ?", shop, id))
	if errors.Is(err, sql.ErrNoRows) {
		return a, repo.NotThere("amplifier", id)
	}
	return a, err
}

func scanAmp(row scanner) (repo.Amp, error) {
	var a repo.Amp
	var created, changed int64
	var text []byte
	if err := row.Scan(&a.ID, &a.Version, &created, &changed, &text); err != nil {
		return repo.Amp{}, err
	}
	a.Created, a.Changed = instant(created), instant(changed)
	if err := json.Unmarshal(text, &a.Amplifier); err != nil {
		return repo.Amp{}, err
	}
	repo.DropEmpty(&a.Amplifier)
	return a, nil
}
