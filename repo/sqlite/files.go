package sqlite

import (
	"context"
	"database/sql"
	"errors"

	codes "modernc.org/sqlite/lib"

	"coldrise/repo"
)

// SaveFile stores a file.
func (c calls) SaveFile(ctx context.Context, shop repo.Shop, f repo.File) error {
	return c.in.write(ctx, shop, "save a file", func(tx *sql.Tx) error {
		if err := repo.CheckFile(f); err != nil {
			return err
		}
		content := f.Content
		if content == nil {
			content = []byte{} // NULL is none.
		}
		_, err := tx.ExecContext(ctx, "INSERT INTO files (shop, id, created_us, actor, name, media_type, content) VALUES (?, ?, ?, ?, ?, ?, ?)",
			shop, f.ID, micros(f.Created), f.By, f.Name, f.MediaType, content)
		if codeOf(err) == codes.SQLITE_CONSTRAINT_PRIMARYKEY {
			return repo.IDTaken("file", f.ID)
		}
		return err
	})
}

// File gives one file.
func (c calls) File(ctx context.Context, shop repo.Shop, id string) (repo.File, error) {
	f := repo.File{ID: id}
	err := c.in.read(ctx, shop, "read a file", func(q querier) error {
		var created int64
		err := q.QueryRowContext(ctx, "SELECT created_us, actor, name, media_type, content FROM files WHERE shop = ? AND id = ?", shop, id).
			Scan(&created, &f.By, &f.Name, &f.MediaType, &f.Content)
		f.Created = instant(created)
		if errors.Is(err, sql.ErrNoRows) {
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
	return c.in.write(ctx, shop, "delete a file", func(tx *sql.Tx) error {
		done, err := tx.ExecContext(ctx, "DELETE FROM files WHERE shop = ? AND id = ?", shop, id)
		if err != nil {
			return err
		}
		if n, err := done.RowsAffected(); err != nil || n == 0 {
			return errors.Join(err, repo.NotThere("file", id))
		}
		return nil
	})
}

// Claim takes a name for the transaction.
func (t *shared) Claim(ctx context.Context, shop repo.Shop, c repo.Claim, at repo.Stamp) (answer []byte, again bool, err error) {
	err = t.write(ctx, shop, "claim", func(tx *sql.Tx) error {
		if err := repo.CheckClaim(c); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, "DELETE FROM claims WHERE shop = ? AND expires_us <= ?", shop, micros(at.At)); err != nil {
			return err
		}
		var fingerprint string
		err := tx.QueryRowContext(ctx, "SELECT fingerprint, answer FROM claims WHERE shop = ? AND operation = ? AND name = ?", shop, c.Operation, c.Name).
			Scan(&fingerprint, &answer)
		switch {
		case err == nil && fingerprint != c.Fingerprint:
			return repo.OtherRequest(c.Name)
		case err == nil:
			again = true
			return nil
		case !errors.Is(err, sql.ErrNoRows):
			return err
		}
		_, err = tx.ExecContext(ctx, "INSERT INTO claims (shop, operation, name, fingerprint, expires_us) VALUES (?, ?, ?, ?, ?)",
			shop, c.Operation, c.Name, c.Fingerprint, micros(c.Expires))
		return err
	})
	if err != nil {
		return nil, false, err
	}
	return answer, again, nil
}

// Settle stores the answer to a claim.
func (t *shared) Settle(ctx context.Context, shop repo.Shop, operation, name string, answer []byte) error {
	return t.write(ctx, shop, "settle a claim", func(tx *sql.Tx) error {
		done, err := tx.ExecContext(ctx, "UPDATE claims SET answer = ? WHERE shop = ? AND operation = ? AND name = ?", answer, shop, operation, name)
		if err != nil {
			return err
		}
		if n, err := done.RowsAffected(); err != nil || n == 0 {
			return errors.Join(err, repo.NotThere("claim", name))
		}
		return nil
	})
}
