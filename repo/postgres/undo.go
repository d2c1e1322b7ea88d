package postgres

import (
	"context"

	"github.com/jackc/pgx/v5"

	"coldrise/domain/problem"
	"coldrise/repo"
)

// UndoImport takes an import back. Its parts and series are locked ahead of
// looking for reasons against it, so that none comes up meanwhile.
func (c calls) UndoImport(ctx context.Context, shop repo.Shop, id string, at repo.Stamp) (repo.ImportRecord, error) {
	var r repo.ImportRecord
	err := c.in.write(ctx, shop, "undo an import", func(tx changer) (err error) {
		w, err := newPartWriter(tx, shop, at)
		if err != nil {
			return err
		}
		w.importID = id
		if err := w.begin(ctx); err != nil {
			return err
		}
		if r, err = importRecord(ctx, tx, shop, id, forUpdate); err != nil {
			return err
		}
		if !r.UndoneAt.IsZero() {
			return repo.Reasons(id, []problem.Fault{{Message: "it is undone already"}}, 1)
		}
		if _, err := tx.Exec(ctx, lockChanged, shop, id); err != nil {
			return err
		}
		if err := w.refuseUndo(ctx, &r); err != nil {
			return err
		}
		if err := w.takeBack(ctx, &r, at); err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, "UPDATE imports SET undone_at = $1, undone_by = $2 WHERE shop = $3 AND id = $4", w.now, w.by, shop, id); err != nil {
			return err
		}
		r, err = importRecord(ctx, tx, shop, id, "")
		return err
	})
	if err != nil {
		return repo.ImportRecord{}, err
	}
	return r, nil
}

const (
	// changesOf are the changes an import made.
	changesOf   = `FROM imports AS i JOIN part_changes AS c ON c.shop = i.shop AND c.seq BETWEEN i.first_seq AND i.last_seq AND c.import_id = i.id `
	lockChanged = `SELECT 1 FROM parts WHERE shop = $1 AND id IN (SELECT c.part_id ` + changesOf + `WHERE i.shop = $1 AND i.id = $2) ORDER BY id FOR UPDATE`

	withParts    = changesOf + `LEFT JOIN parts AS p ON p.shop = c.shop AND p.id = c.part_id `
	changedSince = `SELECT c.seq, c.part_id, coalesce(p.maker, ''), coalesce(p.part_number, ''), '', '' ` + withParts + `WHERE i.shop = $1 AND i.id = $2
		AND EXISTS (SELECT 1 FROM part_changes AS d WHERE d.shop = c.shop AND d.part_id = c.part_id AND d.seq > c.seq
			AND NOT EXISTS (SELECT 1 FROM imports AS x WHERE x.shop = d.shop AND x.id = d.import_id AND x.undone_at IS NOT NULL))`
	usedSince = `SELECT c.seq, c.part_id, coalesce(p.maker, ''), coalesce(p.part_number, ''), u.kind, u.document_id ` + withParts + `
		JOIN document_parts AS u ON u.shop = c.shop AND u.part_id = c.part_id WHERE i.shop = $1 AND i.id = $2 AND c.kind = 'created'`
)

// refuseUndo gives the reasons for which an import cannot be undone.
func (w *partWriter) refuseUndo(ctx context.Context, r *repo.ImportRecord) error {
	var reasons []problem.Fault
	for _, s := range r.Series {
		reason, err := w.seriesReason(ctx, r.ID, s)
		if err != nil {
			return err
		}
		if reason != nil {
			reasons = append(reasons, *reason)
		}
	}
	all := len(reasons)
	rows, err := w.tx.Query(ctx, changedSince+" UNION ALL "+usedSince+" ORDER BY 1", w.shop, r.ID)
	if err != nil {
		return err
	}
	var seq int64
	var id, maker, number, kind, document string
	_, err = pgx.ForEachRow(rows, []any{&seq, &id, &maker, &number, &kind, &document}, func() error {
		switch {
		case all > repo.MaxReasons: // Counted alone.
		case kind == "":
			reasons = append(reasons, repo.PartChanged(id, maker, number))
		default:
			reasons = append(reasons, repo.PartUsed(id, maker, number, repo.Kind(kind), document))
		}
		all++
		return nil
	})
	if err != nil || all == 0 {
		return err
	}
	return repo.Reasons(r.ID, reasons, all)
}

// seriesReason says what keeps a series from going back to what it was.
func (w *partWriter) seriesReason(ctx context.Context, importID string, s repo.SeriesChange) (*problem.Fault, error) {
	have, err := oneSeries(ctx, w.tx, w.shop, s.Name, forUpdate)
	if repo.IsNotThere(err) || err == nil && have.Version != s.Version {
		reason := repo.SeriesChanged(s.Name)
		return &reason, nil
	}
	if err != nil || s.Before != nil {
		return nil, err
	}
	var others bool
	err = w.tx.QueryRow(ctx, `SELECT EXISTS (SELECT 1 FROM parts AS p WHERE p.shop = $1 AND p.series = $2
		AND NOT EXISTS (SELECT 1 FROM part_changes AS c WHERE c.shop = p.shop AND c.part_id = p.id AND c.import_id = $3))`, w.shop, s.Name, importID).Scan(&others)
	if err != nil || !others {
		return nil, err
	}
	reason := repo.SeriesUsed(s.Name)
	return &reason, nil
}

// takeBack withdraws what an import created and restores what it changed. The
// series it created go last, since the parts refer to them.
func (w *partWriter) takeBack(ctx context.Context, r *repo.ImportRecord, at repo.Stamp) error {
	for _, s := range r.Series {
		if s.Before == nil {
			continue
		}
		if err := putSeries(ctx, w.tx, w.shop, s.Before, at); err != nil {
			return err
		}
	}
	for after := int64(0); ; {
		changes, err := queryChanges(ctx, w.tx, w.shop, repo.ChangeFilter{ImportID: r.ID}, after, repo.IntakeChunk)
		if err != nil {
			return err
		}
		if len(changes) == 0 {
			break
		}
		if err := w.takeBackSome(ctx, changes); err != nil {
			return err
		}
		after = changes[len(changes)-1].Seq
	}
	for _, s := range r.Series {
		if s.Before != nil {
			continue
		}
		if _, err := w.tx.Exec(ctx, "DELETE FROM series WHERE shop = $1 AND name = $2", w.shop, s.Name); err != nil {
			return err
		}
	}
	return nil
}

// takeBackSome takes back some changes, whose parts are all there: nothing has
// changed them since.
func (w *partWriter) takeBackSome(ctx context.Context, changes []repo.Change) error {
	ids := make([]string, len(changes))
	for i := range changes {
		ids[i] = changes[i].PartID
	}
	found, err := partsByID(ctx, w.tx, w.shop, ids)
	if err != nil {
		return err
	}
	parts := make(map[string]*repo.Part, len(found))
	for i := range found {
		parts[found[i].ID] = &found[i]
	}
	for i := range changes {
		have := parts[changes[i].PartID]
		if changes[i].Before == nil {
			err = w.remove(have, repo.Withdrawn)
		} else {
			err = w.replace(have, changes[i].Before, repo.Restored, 0)
		}
		if err != nil {
			return err
		}
	}
	return w.send(ctx)
}
