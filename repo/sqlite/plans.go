package sqlite

import (
	"context"
	"database/sql"
	"errors"

	codes "modernc.org/sqlite/lib"

	"coldrise/repo"
)

// SavePlan stores a plan for good.
func (c calls) SavePlan(ctx context.Context, shop repo.Shop, p repo.Plan) error {
	return c.in.write(ctx, shop, "save a plan", func(tx *sql.Tx) error {
		names := struct {
			AmpID   string `json:"amp_id"`
			AmpName string `json:"amp_name"`
		}{p.AmpID, p.AmpName}
		if err := repo.StorableRow(p.ID, names, "plan"); err != nil {
			return err
		}
		if p.AmpID != "" {
			var there bool
			err := tx.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM amps WHERE shop = ? AND id = ?)", shop, p.AmpID).Scan(&there)
			if err != nil {
				return err
			}
			if !there {
				return repo.NotThere("amplifier", p.AmpID)
			}
		}
		_, err := tx.ExecContext(ctx, "INSERT INTO plans (shop, id, amp_id, amp_name, created_us, document) VALUES (?, ?, ?, ?, ?, ?)",
			shop, p.ID, p.AmpID, p.AmpName, micros(p.Created), p.Document)
		switch {
		case codeOf(err) == codes.SQLITE_CONSTRAINT_PRIMARYKEY:
			return repo.IDTaken("plan", p.ID)
		case outOfRange(err):
			return repo.OutOfRange("plan", err)
		}
		return err
	})
}

// Plan gives one plan, its document byte for byte.
func (c calls) Plan(ctx context.Context, shop repo.Shop, id string) (repo.Plan, error) {
	p := repo.Plan{ID: id}
	err := c.in.read(ctx, shop, "read a plan", func(q querier) error {
		var created int64
		err := q.QueryRowContext(ctx, "SELECT amp_id, amp_name, created_us, document FROM plans WHERE shop = ? AND id = ?", shop, id).
			Scan(&p.AmpID, &p.AmpName, &created, &p.Document)
		p.Created = instant(created)
		if errors.Is(err, sql.ErrNoRows) {
			return repo.NotThere("plan", id)
		}
		return err
	})
	if err != nil {
		return repo.Plan{}, err
	}
	return p, nil
}

// Plans lists the plans of an amplifier, newest first, without documents.
func (c calls) Plans(ctx context.Context, shop repo.Shop, ampID string, p repo.Page) ([]repo.Plan, string, error) {
	var plans []repo.Plan
	next := ""
	err := c.in.read(ctx, shop, "list plans", func(q querier) error {
		if err := repo.CheckLimit(p.Limit); err != nil {
			return err
		}
		list := repo.PlansList(shop, ampID)
		beforeUS, beforeID, err := repo.Before(list, p.After)
		if err != nil {
			return err
		}
		rows, err := q.QueryContext(ctx, `SELECT id, amp_name, created_us FROM plans
			WHERE shop = ? AND amp_id = ? AND (created_us, id) < (?, ?) ORDER BY created_us DESC, id DESC LIMIT ?`,
			shop, ampID, beforeUS, beforeID, p.Limit+1)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			one := repo.Plan{AmpID: ampID}
			var created int64
			if err := rows.Scan(&one.ID, &one.AmpName, &created); err != nil {
				return err
			}
			one.Created = instant(created)
			plans = append(plans, one)
		}
		plans, next = repo.Turn(plans, p.Limit, func(last *repo.Plan) string { return repo.Since(list, last.Created, last.ID) })
		return rows.Err()
	})
	return plans, next, err
}
