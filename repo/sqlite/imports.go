package sqlite

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"iter"

	codes "modernc.org/sqlite/lib"

	"coldrise/repo"
)

// ImportParts stores the parts of rows, all of them or none.
func (c calls) ImportParts(ctx context.Context, shop repo.Shop, in repo.Import, rows iter.Seq2[repo.ImportRow, error], at repo.Stamp) (repo.ImportRecord, error) {
	var made repo.ImportRecord
	err := c.in.write(ctx, shop, "import parts", func(tx *sql.Tx) error {
		if err := repo.CheckImport(in, at); err != nil {
			return err
		}
		w, err := newPartWriter(ctx, tx, shop, at)
		if err != nil {
			return err
		}
		defer w.close()
		w.importID = in.ID
		series, err := w.putAllSeries(ctx, in, at)
		if err != nil {
			return err
		}
		first := w.seq + 1
		counts, err := repo.TakeIn(ctx, in, rows, &taker{w, first})
		if err != nil {
			return err
		}
		if err := w.recordImport(ctx, in, counts, series, first); err != nil {
			return err
		}
		made, err = importRecord(ctx, tx, shop, in.ID)
		return err
	})
	return made, err
}

// putAllSeries stores the series of an import, and says which that changed.
func (w *partWriter) putAllSeries(ctx context.Context, in repo.Import, at repo.Stamp) ([]repo.SeriesChange, error) {
	changes := []repo.SeriesChange{}
	for i := range in.Series {
		s := &in.Series[i]
		change := repo.SeriesChange{Name: s.Name, Version: 1}
		switch have, err := oneSeries(ctx, w.tx, w.shop, s.Name); {
		case err == nil && repo.SameSeries(have.Series, *s):
			continue
		case err == nil:
			change.Before, change.Version = &have.Series, have.Version+1
		case !repo.IsNotThere(err):
			return nil, err
		}
		if err := putSeries(ctx, w.tx, w.shop, s, at); err != nil {
			return nil, err
		}
		changes = append(changes, change)
	}
	return changes, nil
}

func (w *partWriter) recordImport(ctx context.Context, in repo.Import, n repo.Counts, series []repo.SeriesChange, first int64) error {
	text, err := json.Marshal(series)
	if err != nil {
		return err
	}
	findings := string(in.Findings)
	if in.Findings == nil {
		findings = "null"
	}
	err = w.exec(ctx, `INSERT INTO imports (shop, id, source, sha256, at_us, actor, created_count, changed_count, unchanged_count,
		first_seq, last_seq, series, findings, undone_by) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, '')`,
		w.shop, in.ID, in.Source, in.SHA256, w.now, w.by, n.Created, n.Changed, n.Unchanged, first, w.seq, string(text), findings)
	if codeOf(err) == codes.SQLITE_CONSTRAINT_PRIMARYKEY {
		return repo.IDTaken("import", in.ID)
	}
	return err
}

// taker is the intake of one import.
type taker struct {
	*partWriter
	first int64 // of the import's changes
}

// Find gives the parts that are there of the keys.
func (t *taker) Find(ctx context.Context, keys []repo.PartKey) ([]repo.FoundPart, error) {
	pairs := make([][2]string, len(keys))
	for i, k := range keys {
		pairs[i] = [2]string{k.Maker, k.PartNumber}
	}
	text, err := json.Marshal(pairs)
	if err != nil {
		return nil, err
	}
	parts, err := queryParts(ctx, t.tx, t.shop, "SELECT "+partColumnNames+` FROM json_each(?2) AS k
		CROSS JOIN parts AS p ON p.shop = ?1 AND p.maker = k.value ->> 0 AND p.part_number = k.value ->> 1`, t.shop, string(text))
	if err != nil || len(parts) == 0 {
		return nil, err
	}
	touched, err := t.touched(ctx, parts)
	if err != nil {
		return nil, err
	}
	found := make([]repo.FoundPart, len(parts))
	for i := range parts {
		found[i] = repo.FoundPart{Part: parts[i], Touched: touched[parts[i].ID]}
	}
	return found, nil
}

// touched gives which of the parts an earlier row of the import created or changed.
func (t *taker) touched(ctx context.Context, parts []repo.Part) (map[string]bool, error) {
	ids := make([]string, len(parts))
	for i := range parts {
		ids[i] = parts[i].ID
	}
	touched := map[string]bool{}
	k := kin{shop: t.shop}
	err := k.each(ctx, t.tx, `SELECT k.value FROM json_each(?2) AS k WHERE EXISTS (SELECT 1 FROM part_changes AS c WHERE c.shop = ?1 AND c.part_id = k.value AND c.seq >= ?3)`,
		ids, func(rows *sql.Rows) error {
			var id string
			err := rows.Scan(&id)
			touched[id] = true
			return err
		}, t.first)
	return touched, err
}

// Take does the steps.
func (t *taker) Take(ctx context.Context, steps []repo.IntakeStep) error {
	for i := range steps {
		if err := t.take(ctx, &steps[i]); err != nil {
			return repo.AtLine(err, steps[i].Line)
		}
	}
	return nil
}

func (t *taker) take(ctx context.Context, s *repo.IntakeStep) error {
	switch {
	case s.Have == nil:
		return t.create(ctx, s.ID, &s.Part, s.Line)
	case s.Have.Touched:
		return t.overwrite(ctx, &s.Have.Part, &s.Part, 0)
	}
	return t.replace(ctx, &s.Have.Part, &s.Part, repo.Replaced, s.Line)
}

const selectImport = `SELECT id, source, sha256, at_us, actor, created_count, changed_count, unchanged_count, series, findings, undone_us, undone_by
	FROM imports WHERE shop = ? `

// ImportRecord reads an import back.
func (c calls) ImportRecord(ctx context.Context, shop repo.Shop, id string) (repo.ImportRecord, error) {
	var r repo.ImportRecord
	err := c.in.read(ctx, shop, "read an import", func(q querier) (err error) {
		r, err = importRecord(ctx, q, shop, id)
		return err
	})
	return r, err
}

func importRecord(ctx context.Context, q querier, shop repo.Shop, id string) (repo.ImportRecord, error) {
	r, err := scanImport(q.QueryRowContext(ctx, selectImport+"AND id = ?", shop, id))
	if errors.Is(err, sql.ErrNoRows) {
		return r, repo.NotThere("import", id)
	}
	return r, err
}

func scanImport(row scanner) (repo.ImportRecord, error) {
	var r repo.ImportRecord
	var at int64
	var undone sql.NullInt64
	var series []byte
	if err := row.Scan(&r.ID, &r.Source, &r.SHA256, &at, &r.By, &r.Created, &r.Changed, &r.Unchanged, &series, &r.Findings, &undone, &r.UndoneBy); err != nil {
		return repo.ImportRecord{}, err
	}
	r.At = instant(at)
	if undone.Valid {
		r.UndoneAt = instant(undone.Int64)
	}
	err := json.Unmarshal(series, &r.Series)
	repo.DropEmpty(&r.Series)
	return r, err
}

// ImportRecords lists imports, the last first.
func (c calls) ImportRecords(ctx context.Context, shop repo.Shop, p repo.Page) ([]repo.ImportRecord, string, error) {
	var records []repo.ImportRecord
	next := ""
	err := c.in.read(ctx, shop, "list imports", func(q querier) error {
		if err := repo.CheckLimit(p.Limit); err != nil {
			return err
		}
		list := repo.ImportsList(shop)
		beforeUS, beforeID, err := repo.Before(list, p.After)
		if err != nil {
			return err
		}
		rows, err := q.QueryContext(ctx, selectImport+"AND (at_us, id) < (?, ?) ORDER BY at_us DESC, id DESC LIMIT ?", shop, beforeUS, beforeID, p.Limit+1)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			r, err := scanImport(rows)
			if err != nil {
				return err
			}
			records = append(records, r)
		}
		records, next = repo.Turn(records, p.Limit, func(last *repo.ImportRecord) string { return repo.Since(list, last.At, last.ID) })
		return rows.Err()
	})
	return records, next, err
}
