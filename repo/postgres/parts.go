package postgres

import (
	"context"
	"errors"

	"coldrise/domain/part"
	"coldrise/domain/problem"
	"coldrise/repo"
)

// CreatePart stores a part.
func (c calls) CreatePart(ctx context.Context, shop repo.Shop, id string, p part.Part, at repo.Stamp) (repo.Part, error) {
	var made repo.Part
	err := c.in.write(ctx, shop, "create a part", func(tx changer) error {
		if err := repo.StorableRow(id, &p, "part"); err != nil {
			return err
		}
		w, err := newPartWriter(tx, shop, at)
		if err != nil {
			return err
		}
		if err := w.create(id, &p, 0); err != nil {
			return err
		}
		if err := w.send(ctx); err != nil {
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
	err := c.in.write(ctx, shop, "replace a part", func(tx changer) error {
		// Whether the row is there goes first: of an id no row can have, the
		// answer is not_found.
		have, err := partAt(ctx, tx, shop, id, version)
		if err != nil {
			return err
		}
		if err := repo.Storable(&p, "part"); err != nil {
			return err
		}
		w, err := newPartWriter(tx, shop, at)
		if err != nil {
			return err
		}
		if err := w.replace(&have, &p, repo.Replaced, 0); err != nil {
			return err
		}
		if err := w.send(ctx); err != nil {
			return err
		}
		changed, err = onePart(ctx, tx, shop, id)
		return err
	})
	return changed, err
}

// DeletePart removes version.
func (c calls) DeletePart(ctx context.Context, shop repo.Shop, id string, version int64, at repo.Stamp) error {
	return c.in.write(ctx, shop, "delete a part", func(tx changer) error {
		have, err := partAt(ctx, tx, shop, id, version)
		if err != nil {
			return err
		}
		w, err := newPartWriter(tx, shop, at)
		if err != nil {
			return err
		}
		if err := w.remove(&have, repo.Deleted); err != nil {
			return err
		}
		return w.send(ctx)
	})
}

// partAt reads a part that is to be at a version, and locks it.
func partAt(ctx context.Context, tx changer, shop repo.Shop, id string, version int64) (repo.Part, error) {
	if err := atVersion(ctx, tx, "parts", "part", shop, id, version); err != nil {
		return repo.Part{}, err
	}
	return onePart(ctx, tx, shop, id)
}

func onePart(ctx context.Context, q querier, shop repo.Shop, id string) (repo.Part, error) {
	if !repo.IsText(id) {
		return repo.Part{}, repo.NotThere("part", id)
	}
	found, err := queryParts(ctx, q, shop, selectPart+"WHERE p.shop = $1 AND p.id = $2", shop, id)
	if err != nil {
		return repo.Part{}, err
	}
	if len(found) == 0 {
		return repo.Part{}, repo.NotThere("part", id)
	}
	return found[0], nil
}

// LoadCatalogue stores series and parts in one transaction, where the shop
// has no part. Of two that load at once the second waits, and then sees the
// parts of the first.
func (c calls) LoadCatalogue(ctx context.Context, shop repo.Shop, series []part.Series, ids []string, parts []part.Part, at repo.Stamp) (bool, error) {
	loaded := false
	err := c.in.write(ctx, shop, "load a catalogue", func(tx changer) error {
		loaded = false
		if len(ids) != len(parts) {
			return problem.Wrap(errors.New("ids and parts differ in number"), "load a catalogue")
		}
		if err := lockCatalogue(ctx, tx, shop); err != nil {
			return err
		}
		var there bool
		err := tx.QueryRow(ctx, "SELECT EXISTS (SELECT 1 FROM parts WHERE shop = $1)", shop).Scan(&there)
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

// catalogueLock is the class of the locks that order loads and imports of a shop.
const catalogueLock = 1

// lockCatalogue lets one transaction at a time load or import a shop's parts;
// two shops whose names share a hash wait for one another, and no harm done.
func lockCatalogue(ctx context.Context, tx changer, shop repo.Shop) error {
	_, err := tx.Exec(ctx, "SELECT pg_advisory_xact_lock($1::int4, hashtext($2::text))", catalogueLock, shop)
	return err
}

func createAll(ctx context.Context, tx changer, shop repo.Shop, ids []string, parts []part.Part, at repo.Stamp) error {
	w, err := newPartWriter(tx, shop, at)
	if err != nil {
		return err
	}
	for i := range parts {
		if err := repo.StorableRow(ids[i], &parts[i], "part"); err != nil {
			return err
		}
		if err := w.create(ids[i], &parts[i], 0); err != nil {
			return err
		}
		if i%repo.IntakeChunk == repo.IntakeChunk-1 {
			if err := w.send(ctx); err != nil {
				return err
			}
		}
	}
	return w.send(ctx)
}
