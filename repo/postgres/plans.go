package postgres

import (
	"context"
	"errors"
	"time"

	"github.com/jackc/pgx/v5"

	"coldrise/repo"
)

// SavePlan stores a plan for good.
func (c calls) SavePlan(ctx context.Context, shop repo.Shop, p repo.Plan) error {
	return c.in.write(ctx, shop, "save a plan", func(tx changer) error {
		names := struct {
			AmpID   string `json:"amp_id"`
			AmpName string `json:"amp_name"`
		}{p.AmpID, p.AmpName}
		if err := repo.StorableRow(p.ID, names, "plan"); err != nil {
			return err
		}
		if err := ampThere(ctx, tx, shop, p.AmpID); err != nil {
			return err
		}
		document := p.Document
		if document == nil {
			document = []byte{} // NULL would be another refusal.
		}
		_, err := tx.Exec(ctx, "INSERT INTO plans (shop, id, amp_id, amp_name, created_at, document) VALUES ($1, $2, $3, $4, $5, $6)",
			shop, p.ID, p.AmpID, p.AmpName, repo.Instant(p.Created), document)
		switch {
		case codeOf(err) == uniqueViolation:
			return repo.IDTaken("plan", p.ID)
		case outOfRange(err):
			return repo.OutOfRange("plan", err)
		}
		return err
	})
}

// ampThere refuses a plan of an amplifier that is not there. The row is kept
// from going before the plan is in.
func ampThere(ctx context.Context, tx changer, shop repo.Shop, id string) error {
	if id == "" {
		return nil
	}
	var version int64
	err := tx.QueryRow(ctx, "SELECT version FROM amps WHERE shop = $1 AND id = $2 FOR KEY SHARE", shop, id).Scan(&version)
	if errors.Is(err, pgx.ErrNoRows) {
		return repo.NotThere("amplifier", id)
	}
	return err
}

// Plan gives one plan, its document byte for byte.
func (c calls) Plan(ctx context.Context, shop repo.Shop, id string) (repo.Plan, error) {
	p := repo.Plan{ID: id}
	err := c.in.ask(ctx, shop, "read a plan", func(q querier) error {
		if !repo.IsText(id) {
			return repo.NotThere("plan", id)
		}
		err := q.QueryRow(ctx, "SELECT amp_id, amp_name, created_at, document FROM plans WHERE shop = $1 AND id = $2", shop, id).
			Scan(&p.AmpID, &p.AmpName, &p.Created, &p.Document)
		if errors.Is(err, pgx.ErrNoRows) {
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
	err := c.in.ask(ctx, shop, "list plans", func(q querier) error {
		if err := repo.CheckLimit(p.Limit); err != nil {
			return err
		}
		list := repo.PlansList(shop, ampID)
		beforeUS, beforeID, err := repo.Before(list, p.After)
		if err != nil || !repo.IsText(ampID) {
			return err
		}
		rows, err := q.Query(ctx, `SELECT id, amp_name, created_at FROM plans
			WHERE shop = $1 AND amp_id = $2 AND (created_at, id) < ($3, $4) ORDER BY created_at DESC, id DESC LIMIT $5`,
			shop, ampID, time.UnixMicro(beforeUS).UTC(), beforeID, p.Limit+1)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			one := repo.Plan{AmpID: ampID}
			if err := rows.Scan(&one.ID, &one.AmpName, &one.Created); err != nil {
				return err
			}
			plans = append(plans, one)
		}
		plans, next = repo.Turn(plans, p.Limit, func(last *repo.Plan) string { return repo.Since(list, last.Created, last.ID) })
		return rows.Err()
	})
	return plans, next, err
}
