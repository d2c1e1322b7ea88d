package sqlite

import (
	"context"
	"database/sql"
	"errors"

	codes "modernc.org/sqlite/lib"

	"coldrise/domain/part"
	"coldrise/domain/problem"
	"coldrise/repo"
)

// CreatePart stores a part.
func (c calls) CreatePart(ctx context.Context, shop repo.Shop, id string, p part.Part, at repo.Stamp) (repo.Part, error) {
	var made repo.Part
	err := c.in.write(ctx, shop, "create a part", func(tx *sql.Tx) error {
		if err := repo.StorableRow(id, &p, "part"); err != nil {
			return err
		}
		w, err := newPartWriter(ctx, tx, shop, at)
		if err != nil {
			return err
		}
		defer w.close()
		if err := w.create(ctx, id, &p, 0); err != nil {
			return err
		}
		made, err = onePart(ctx, tx, shop, id)
		return err
	})
	return made, err
}

// Part gives one part.
func (c calls) Part(ctx context.Context, shop repo.Shop, id string) (repo.Part, error) {
	var p repo.Part
	err := c.in.read(ctx, shop, "read a part", func(q querier) (err error) {
		p, err = onePart(ctx, q, shop, id)
		return err
	})
	return p, err
}

// ReplacePart puts p in place of version.
func (c calls) ReplacePart(ctx context.Context, shop repo.Shop, id string, version int64, p part.Part, at repo.Stamp) (repo.Part, error) {
	var changed repo.Part
	err := c.in.write(ctx, shop, "replace a part", func(tx *sql.Tx) error {
		// Whether the row is there goes first: of an id no row can have, the
		// answer is not_found.
		have, err := partAt(ctx, tx, shop, id, version)
		if err != nil {
			return err
		}
		if err := repo.Storable(&p, "part"); err != nil {
			return err
		}
		w, err := newPartWriter(ctx, tx, shop, at)
		if err != nil {
			return err
		}
		defer w.close()
		if err := w.replace(ctx, &have, &p, repo.Replaced, 0); err != nil {
			return err
		}
		changed, err = onePart(ctx, tx, shop, id)
		return err
	})
	return changed, err
}

// DeletePart removes version.
func (c calls) DeletePart(ctx context.Context, shop repo.Shop, id string, version int64, at repo.Stamp) error {
	return c.in.write(ctx, shop, "delete a part", func(tx *sql.Tx) error {
		have, err := partAt(ctx, tx, shop, id, version)
		if err != nil {
			return err
		}
		w, err := newPartWriter(ctx, tx, shop, at)
		if err != nil {
			return err
		}
		defer w.close()
		return w.remove(ctx, &have, repo.Deleted)
	})
}

// partAt reads a part that is to be at a version.
func partAt(ctx context.Context, tx *sql.Tx, shop repo.Shop, id string, version int64) (repo.Part, error) {
	have, err := onePart(ctx, tx, shop, id)
	if err == nil && have.Version != version {
		err = repo.Changed("part", id, have.Version, version)
	}
	return have, err
}

// atVersion refuses where the row of a table is not there, or is at another
// version. Inside a transaction of the writer the answer holds to its end.
func atVersion(ctx context.Context, q querier, table, what string, shop repo.Shop, id string, version int64) error {
	var have int64
	err := q.QueryRowContext(ctx, "SELECT version FROM "+table+" WHERE shop = ? AND id = ?", shop, id).Scan(&have)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return repo.NotThere(what, id)
	case err == nil && have != version:
		return repo.Changed(what, id, have, version)
	}
	return err
}

func onePart(ctx context.Context, q querier, shop repo.Shop, id string) (repo.Part, error) {
	found, err := queryParts(ctx, q, shop, selectPart+"WHERE p.shop = ? AND p.id = ?", shop, id)
	if err != nil {
		return repo.Part{}, err
	}
	if len(found) == 0 {
		return repo.Part{}, repo.NotThere("part", id)
	}
	return found[0], nil
}

// refusedPart says in our words why the schema refused a part.
func refusedPart(err error, id string, p *part.Part) error {
	switch code := codeOf(err); {
	case code == codes.SQLITE_CONSTRAINT_PRIMARYKEY:
		return repo.IDTaken("part", id)
	case code == codes.SQLITE_CONSTRAINT_UNIQUE:
		return repo.KeyTaken(p.Maker, p.PartNumber)
	case code == codes.SQLITE_CONSTRAINT_FOREIGNKEY:
		return repo.NoSeries(p.Series)
	case outOfRange(err):
		return repo.OutOfRange("part", err)
	}
	return err
}

// LoadCatalogue stores series and parts in one transaction, where the shop
// has no part. The transaction is immediate: of two processes the second
// waits, and then sees the parts of the first.
func (c calls) LoadCatalogue(ctx context.Context, shop repo.Shop, series []part.Series, ids []string, parts []part.Part, at repo.Stamp) (bool, error) {
	loaded := false
	err := c.in.write(ctx, shop, "load a catalogue", func(tx *sql.Tx) error {
		if len(ids) != len(parts) {
			return problem.Wrap(errors.New("ids and parts differ in number"), "load a catalogue")
		}
		var there bool
		err := tx.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM parts WHERE shop = ?)", shop).Scan(&there)
		if err != nil || there {
			return err
		}
		for i := range series {
			if err := putSeries(ctx, tx, shop, &series[i], at); err != nil {
				return err
			}
		}
		loaded = true
		return createAll(ctx, tx, shop, ids, parts, at)
	})
	return loaded && err == nil, err
}

func createAll(ctx context.Context, tx *sql.Tx, shop repo.Shop, ids []string, parts []part.Part, at repo.Stamp) error {
	w, err := newPartWriter(ctx, tx, shop, at)
	if err != nil {
		return err
	}
	defer w.close()
	for i := range parts {
		if err := repo.StorableRow(ids[i], &parts[i], "part"); err != nil {
			return err
		}
		if err := w.create(ctx, ids[i], &parts[i], 0); err != nil {
			return err
		}
	}
	return nil
}
