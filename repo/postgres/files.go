package postgres

import (
	"context"
	"errors"

	"github.com/jackc/pgx/v5"

	"coldrise/repo"
)

// SaveFile stores a file.
func (c calls) SaveFile(ctx context.Context, shop repo.Shop, f repo.File) error {
	return c.in.write(ctx, shop, "save a file", func(tx changer) error {
		if err := repo.CheckFile(f); err != nil {
			return err
		}
		content := f.Content
		if content == nil {
			content = []byte{} // NULL is none.
		}
		_, err := tx.Exec(ctx, "INSERT INTO files (shop, id, created_at, actor, name, media_type, content) VALUES ($1, $2, $3, $4, $5, $6, $7)",
			shop, f.ID, repo.Instant(f.Created), f.By, f.Name, f.MediaType, content)
		switch {
		case codeOf(err) == uniqueViolation:
			return repo.IDTaken("file", f.ID)
		case outOfRange(err):
			return repo.OutOfRange("file", err)
		}
		return err
	})
}

// File gives one file.
func (c calls) File(ctx context.Context, shop repo.Shop, id string) (repo.File, error) {
	f := repo.File{ID: id}
	err := c.in.ask(ctx, shop, "read a file", func(q querier) error {
		if !repo.IsText(id) {
			return repo.NotThere("file", id)
		}
		err := q.QueryRow(ctx, "SELECT created_at, actor, name, media_type, content FROM files WHERE shop = $1 AND id = $2", shop, id).
			Scan(&f.Created, &f.By, &f.Name, &f.MediaType, &f.Content)
		if errors.Is(err, pgx.ErrNoRows) {
			return repo.NotThere("file", id)
		}
		return err
	})
	if err != nil {
		return repo.File{}, err
	}
	return f, nil
}

// DeleteFile removes a file.
func (c calls) DeleteFile(ctx context.Context, shop repo.Shop, id string) error {
	return c.in.write(ctx, shop, "delete a file", func(tx changer) error {
		if !repo.IsText(id) {
			return repo.NotThere("file", id)
		}
		done, err := tx.Exec(ctx, "DELETE FROM files WHERE shop = $1 AND id = $2", shop, id)
		if err == nil && done.RowsAffected() == 0 {
			return repo.NotThere("file", id)
		}
		return err
	})
}

// Claim takes a name for the transaction. Of two that insert it at once the
// second waits for the end of the first.
func (t *shared) Claim(ctx context.Context, shop repo.Shop, c repo.Claim, at repo.Stamp) (answer []byte, again bool, err error) {
	err = t.write(ctx, shop, "claim", func(tx changer) error {
		if err := repo.CheckClaim(c); err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, "DELETE FROM claims WHERE shop = $1 AND expires_at <= $2", shop, repo.Instant(at.At)); err != nil {
			return err
		}
		done, err := tx.Exec(ctx, `INSERT INTO claims (shop, operation, name, fingerprint, expires_at) VALUES ($1, $2, $3, $4, $5) ON CONFLICT DO NOTHING`,
			shop, c.Operation, c.Name, c.Fingerprint, repo.Instant(c.Expires))
		if err != nil || done.RowsAffected() == 1 {
			return err
		}
		again = true
		var fingerprint string
		err = tx.QueryRow(ctx, "SELECT fingerprint, answer FROM claims WHERE shop = $1 AND operation = $2 AND name = $3", shop, c.Operation, c.Name).
			Scan(&fingerprint, &answer)
		if err == nil && fingerprint != c.Fingerprint {
			return repo.OtherRequest(c.Name)
		}
		return err
	})
	if err != nil {
		return nil, false, err
	}
	return answer, again, nil
}

// Settle stores the answer to a claim.
func (t *shared) Settle(ctx context.Context, shop repo.Shop, operation, name string, answer []byte) error {
	return t.write(ctx, shop, "settle a claim", func(tx changer) error {
		if !repo.IsText(operation) || !repo.IsText(name) {
			return repo.NotThere("claim", name)
		}
		done, err := tx.Exec(ctx, "UPDATE claims SET answer = $1 WHERE shop = $2 AND operation = $3 AND name = $4", answer, shop, operation, name)
		if err == nil && done.RowsAffected() == 0 {
			return repo.NotThere("claim", name)
		}
		return err
	})
}
