package postgres

import (
	"context"
	"errors"

	"coldrise/domain/part"
	"coldrise/domain/problem"
	"coldrise/repo"
)

// CreatePart stores a part.
func (s *Store) CreatePart(ctx context.Context, shop repo.Shop, id string, p part.Part, at repo.Stamp) (repo.Part, error) {
	var made repo.Part
	err := s.write(ctx, shop, "create a part", func(tx changer) error {
		if err := repo.StorableRow(id, &p, "part"); err != nil {
			return err
		}
		b := newPartBatch(shop, at)
		if err := b.insert(id, &p); err != nil {
			return err
		}
		if err := b.send(ctx, tx); err != nil {
			return err
		}
		var err error
		made, err = onePart(ctx, tx, shop, id)
		return err
	})
	return made, err
}

// Part gives one part.
func (s *Store) Part(ctx context.Context, shop repo.Shop, id string) (repo.Part, error) {
	var p repo.Part
	err := s.read(ctx, shop, "read a part", func(q querier) (err error) {
		p, err = onePart(ctx, q, shop, id)
		return err
	})
	return p, err
}

// ReplacePart puts p in place of version.
func (s *Store) ReplacePart(ctx context.Context, shop repo.Shop, id string, version int64, p part.Part, at repo.Stamp) (repo.Part, error) {
	var changed repo.Part
	err := s.write(ctx, shop, "replace a part", func(tx changer) error {
		// Whether the row is there goes first: of an id no row can have, the
		// answer is not_found.
		if err := atVersion(ctx, tx, "parts", "part", shop, id, version); err != nil {
			return err
		}
		if err := repo.Storable(&p, "part"); err != nil {
			return err
		}
		b := newPartBatch(shop, at)
		if err := b.replace(id, &p); err != nil {
			return err
		}
		if err := b.send(ctx, tx); err != nil {
			return err
		}
		var err error
		changed, err = onePart(ctx, tx, shop, id)
		return err
	})
	return changed, err
}

// DeletePart removes version; its sections and offers go with it.
func (s *Store) DeletePart(ctx context.Context, shop repo.Shop, id string, version int64) error {
	return s.write(ctx, shop, "delete a part", func(tx changer) error {
		if err := atVersion(ctx, tx, "parts", "part", shop, id, version); err != nil {
			return err
		}
		_, err := tx.Exec(ctx, "DELETE FROM parts WHERE shop = $1 AND id = $2", shop, id)
		return err
	})
}

func onePart(ctx context.Context, q querier, shop repo.Shop, id string) (repo.Part, error) {
	if !repo.IsText(id) {
		return repo.Part{}, repo.NotThere("part", id)
	}
	found, err := queryParts(ctx, q, shop, selectPart+"WHERE shop = $1 AND id = $2", shop, id)
	if err != nil {
		return repo.Part{}, err
	}
	if len(found) == 0 {
		return repo.Part{}, repo.NotThere("part", id)
	}
	return found[0], nil
}

// loadChunk is how many parts go to the server at once.
const loadChunk = 500

// LoadCatalogue stores series and parts in one transaction, where the shop
// has no part. Of two that load at once the second waits, and then sees the
// parts of the first.
func (s *Store) LoadCatalogue(ctx context.Context, shop repo.Shop, series []part.Series, ids []string, parts []part.Part, at repo.Stamp) (bool, error) {
	loaded := false
	err := s.write(ctx, shop, "load a catalogue", func(tx changer) error {
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
		return insertAll(ctx, tx, shop, ids, parts, at)
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

func insertAll(ctx context.Context, tx changer, shop repo.Shop, ids []string, parts []part.Part, at repo.Stamp) error {
	b := newPartBatch(shop, at)
	for i := range parts {
		if err := repo.StorableRow(ids[i], &parts[i], "part"); err != nil {
			return err
		}
		if err := b.insert(ids[i], &parts[i]); err != nil {
			return err
		}
		if i%loadChunk == loadChunk-1 {
			if err := b.send(ctx, tx); err != nil {
				return err
			}
		}
	}
	return b.send(ctx, tx)
}
