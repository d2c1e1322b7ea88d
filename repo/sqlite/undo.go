package sqlite

import (
	"context"
	"database/sql"

	"coldrise/domain/problem"
	"coldrise/repo"
)

// UndoImport takes an import back.
func (c calls) UndoImport(ctx context.Context, shop repo.Shop, id string, at repo.Stamp) (repo.ImportRecord, error) {
	var r repo.ImportRecord
	err := c.in.write(ctx, shop, "undo an import", func(tx *sql.Tx) (err error) {
		if r, err = importRecord(ctx, tx, shop, id); err != nil {
			return err
		}
		if !r.UndoneAt.IsZero() {
			return repo.Reasons(id, []problem.Fault{{Message: "it is undone already"}}, 1)
		}
		w, err := newPartWriter(ctx, tx, shop, at)
		if err != nil {
			return err
		}
		defer w.close()
		w.importID = id
		if err := w.refuseUndo(ctx, &r); err != nil {
			return err
		}
		if err := w.takeBack(ctx, &r, at); err != nil {
			return err
		}
		if err := w.exec(ctx, "UPDATE imports SET undone_us = ?, undone_by = ? WHERE shop = ? AND id = ?", w.now, w.by, shop, id); err != nil {
			return err
		}
		r, err = importRecord(ctx, tx, shop, id)
		return err
	})
	if err != nil {
		return repo.ImportRecord{}, err
	}
	return r, nil
}

const (
	// changesOf are the changes an import made, its parts beside them.
	changesOf = `FROM imports AS i CROSS JOIN part_changes AS c ON c.shop = i.shop AND c.seq BETWEEN i.first_seq AND i.last_seq AND c.import_id = i.id
		LEFT JOIN parts AS p ON p.shop = c.shop AND p.id = c.part_id `
	changedSince = `SELECT c.seq, c.part_id, coalesce(p.maker, ''), coalesce(p.part_number, ''), '', '' ` + changesOf + `WHERE i.shop = ?1 AND i.id = ?2
		AND EXISTS (SELECT 1 FROM part_changes AS d WHERE d.shop = c.shop AND d.part_id = c.part_id AND d.seq > c.seq
			AND NOT EXISTS (SELECT 1 FROM imports AS x WHERE x.shop = d.shop AND x.id = d.import_id AND x.undone_us IS NOT NULL))`
	usedSince = `SELECT c.seq, c.part_id, coalesce(p.maker, ''), coalesce(p.part_number, ''), u.kind, u.document_id ` + changesOf + `
		JOIN document_parts AS u ON u.shop = c.shop AND u.part_id = c.part_id WHERE i.shop = ?1 AND i.id = ?2 AND c.kind = 'created'`
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
	rows, err := w.tx.QueryContext(ctx, changedSince+" UNION ALL "+usedSince+" ORDER BY 1", w.shop, r.ID)
	if err != nil {
		return err
	}
	defer rows.Close()
	for ; rows.Next(); all++ {
		var seq int64
		var id, maker, number, kind, document string
		if err := rows.Scan(&seq, &id, &maker, &number, &kind, &document); err != nil {
			return err
		}
		switch {
		case all > repo.MaxReasons: // Counted alone.
		case kind == "":
			reasons = append(reasons, repo.PartChanged(id, maker, number))
		default:
			reasons = append(reasons, repo.PartUsed(id, maker, number, repo.Kind(kind), document))
		}
	}
	if err := rows.Err(); err != nil || all == 0 {
		return err
	}
	return repo.Reasons(r.ID, reasons, all)
}

// seriesReason says what keeps a series from going back to what it was.
func (w *partWriter) seriesReason(ctx context.Context, importID string, s repo.SeriesChange) (*problem.Fault, error) {
	have, err := oneSeries(ctx, w.tx, w.shop, s.Name)
	if repo.IsNotThere(err) || err == nil && have.Version != s.Version {
		reason := repo.SeriesChanged(s.Name)
		return &reason, nil
	}
	if err != nil || s.Before != nil {
		return nil, err
	}
	var others bool
	err = w.tx.QueryRowContext(ctx, `SELECT EXISTS (SELECT 1 FROM parts AS p WHERE p.shop = ?1 AND p.series = ?2
		AND NOT EXISTS (SELECT 1 FROM part_changes AS c WHERE c.shop = p.shop AND c.part_id = p.id AND c.import_id = ?3))`, w.shop, s.Name, importID).Scan(&others)
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
		changes, err := w.someChanges(ctx, r.ID, after)
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
		if err := w.exec(ctx, "DELETE FROM series WHERE shop = ? AND name = ?", w.shop, s.Name); err != nil {
			return err
		}
	}
	return nil
}

func (w *partWriter) someChanges(ctx context.Context, importID string, after int64) ([]repo.Change, error) {
	query, args := changesPage(w.shop, repo.ChangeFilter{ImportID: importID}, after)
	rows, err := w.tx.QueryContext(ctx, query, append(args, repo.IntakeChunk)...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var changes []repo.Change
	for rows.Next() {
		one, err := scanChange(rows)
		if err != nil {
			return nil, err
		}
		changes = append(changes, one)
	}
	return changes, rows.Err()
}

func (w *partWriter) takeBackSome(ctx context.Context, changes []repo.Change) error {
	parts, err := partsOf(ctx, w.tx, w.shop, changes)
	if err != nil {
		return err
	}
	for i := range changes {
		have := parts[changes[i].PartID]
		if changes[i].Before == nil {
			err = w.remove(ctx, have, repo.Withdrawn)
		} else {
			err = w.replace(ctx, have, changes[i].Before, repo.Restored, 0)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// partsOf reads the parts that changes are of. All of them are there: nothing
// has changed them since.
func partsOf(ctx context.Context, q querier, shop repo.Shop, changes []repo.Change) (map[string]*repo.Part, error) {
	ids := make([]string, len(changes))
	for i := range changes {
		ids[i] = changes[i].PartID
	}
	found, err := partsByID(ctx, q, shop, ids)
	if err != nil {
		return nil, err
	}
	parts := make(map[string]*repo.Part, len(found))
	for i := range found {
		parts[found[i].ID] = &found[i]
	}
	return parts, nil
}
