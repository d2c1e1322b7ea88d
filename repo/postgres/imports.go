package postgres

import (
	"context"
	"encoding/json"
	"errors"
	"iter"
	"time"

	"github.com/jackc/pgx/v5"

	"coldrise/repo"
)

// ImportParts stores the parts of rows, all of them or none.
func (c calls) ImportParts(ctx context.Context, shop repo.Shop, in repo.Import, rows iter.Seq2[repo.ImportRow, error], at repo.Stamp) (repo.ImportRecord, error) {
	var made repo.ImportRecord
	err := c.in.write(ctx, shop, "import parts", func(tx changer) error {
		if err := repo.CheckImport(in, at); err != nil {
			return err
		}
		w, err := newPartWriter(tx, shop, at)
		if err != nil {
			return err
		}
		w.importID = in.ID
		if err := w.begin(ctx); err != nil {
			return err
		}
		series, err := w.putAllSeries(ctx, in, at)
		if err != nil {
			return err
		}
		first, err := w.number(ctx)
		if err != nil {
			return err
		}
		counts, err := repo.TakeIn(ctx, in, rows, &taker{w, first})
		if err != nil {
			return err
		}
		if err := w.recordImport(ctx, in, counts, series, first); err != nil {
			return err
		}
		made, err = importRecord(ctx, tx, shop, in.ID, "")
		return err
	})
	return made, err
}

// begin orders imports, and takes away the limits that are for shorter work:
// the caller's context bounds this one.
func (w *partWriter) begin(ctx context.Context) error {
	if err := lockCatalogue(ctx, w.tx, w.shop); err != nil {
		return err
	}
	_, err := w.tx.Exec(ctx, "SET LOCAL statement_timeout = 0; SET LOCAL idle_in_transaction_session_timeout = 0")
	return err
}

// number gives a number that lies behind those of all changes so far, and
// before those of all to come.
func (w *partWriter) number(ctx context.Context) (int64, error) {
	var n int64
	err := w.tx.QueryRow(ctx, "SELECT nextval(pg_get_serial_sequence('part_changes', 'seq'))").Scan(&n)
	return n, err
}

// putAllSeries stores the series of an import, and says which that changed.
func (w *partWriter) putAllSeries(ctx context.Context, in repo.Import, at repo.Stamp) ([]repo.SeriesChange, error) {
	changes := []repo.SeriesChange{}
	for i := range in.Series {
		s := &in.Series[i]
		change := repo.SeriesChange{Name: s.Name, Version: 1}
		switch have, err := oneSeries(ctx, w.tx, w.shop, s.Name, forUpdate); {
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
	last, err := w.number(ctx)
	if err != nil {
		return err
	}
	text, err := json.Marshal(series)
	if err != nil {
		return err
	}
	findings := string(in.Findings)
	if in.Findings == nil {
		findings = "null"
	}
	_, err = w.tx.Exec(ctx, `INSERT INTO imports (shop, id, source, sha256, at, actor, created_count, changed_count, unchanged_count,
		first_seq, last_seq, series, findings, undone_by) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, '')`,
		w.shop, in.ID, in.Source, in.SHA256, w.now, w.by, n.Created, n.Changed, n.Unchanged, first, last, string(text), findings)
	if codeOf(err) == uniqueViolation {
		return repo.IDTaken("import", in.ID)
	}
	return err
}

// taker is the intake of one import.
type taker struct {
	*partWriter
	first int64 // lies before the import's changes
}

// Find gives the parts that are there of the keys, and locks them.
func (t *taker) Find(ctx context.Context, keys []repo.PartKey) ([]repo.FoundPart, error) {
	makers, numbers := make([]string, len(keys)), make([]string, len(keys))
	for i, k := range keys {
		makers[i], numbers[i] = k.Maker, k.PartNumber
	}
	parts, err := queryParts(ctx, t.tx, t.shop, "SELECT "+partColumnNames+` FROM unnest($2::text[], $3::text[]) AS k (maker, part_number)
		JOIN parts AS p ON p.shop = $1 AND p.maker = k.maker AND p.part_number = k.part_number FOR UPDATE OF p`, t.shop, makers, numbers)
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

// touched gives which of the parts an earlier row of the import created or
// changed. Nobody else's change has a later number: the parts are locked.
func (t *taker) touched(ctx context.Context, parts []repo.Part) (map[string]bool, error) {
	ids := make([]string, len(parts))
	for i := range parts {
		ids[i] = parts[i].ID
	}
	rows, err := t.tx.Query(ctx, `SELECT k.id FROM unnest($2::text[]) AS k (id)
		WHERE EXISTS (SELECT 1 FROM part_changes AS c WHERE c.shop = $1 AND c.part_id = k.id AND c.seq > $3 AND c.import_id = $4)`,
		t.shop, ids, t.first, t.importID)
	if err != nil {
		return nil, err
	}
	touched := map[string]bool{}
	var id string
	_, err = pgx.ForEachRow(rows, []any{&id}, func() error { touched[id] = true; return nil })
	return touched, err
}

// Take does the steps: new parts are copied into their tables, which is by far
// the fastest way in, the others go one by one.
func (t *taker) Take(ctx context.Context, steps []repo.IntakeStep) error {
	var made, changed []repo.IntakeStep
	for _, s := range steps {
		if s.Have == nil {
			made = append(made, s)
		} else {
			changed = append(changed, s)
		}
	}
	if err := t.create(ctx, made); err != nil {
		return err
	}
	for i := range changed {
		s := &changed[i]
		var err error
		if s.Have.Touched {
			err = t.overwrite(&s.Have.Part, &s.Part, 0, s.Line)
		} else {
			err = t.replace(&s.Have.Part, &s.Part, repo.Replaced, s.Line)
		}
		if err != nil {
			return repo.AtLine(err, s.Line)
		}
	}
	return t.send(ctx)
}

// create copies new parts. A copy that is refused says nothing of the row at
// fault; so it is undone, and the parts are inserted one by one up to that row.
func (t *taker) create(ctx context.Context, steps []repo.IntakeStep) error {
	if len(steps) == 0 {
		return nil
	}
	mark, err := t.tx.Begin(ctx)
	if err != nil {
		return err
	}
	err = t.copyParts(ctx, mark, steps)
	if err == nil {
		return mark.Commit(ctx)
	}
	if err := mark.Rollback(ctx); err != nil || ctx.Err() != nil {
		return errors.Join(ctx.Err(), err)
	}
	for i := range steps {
		if err := t.partWriter.create(steps[i].ID, &steps[i].Part, steps[i].Line); err != nil {
			return repo.AtLine(err, steps[i].Line)
		}
	}
	return t.send(ctx)
}

// copyParts copies new parts, what belongs to them and their record.
func (t *taker) copyParts(ctx context.Context, tx changer, steps []repo.IntakeStep) error {
	parts, changes := make([][]any, 0, len(steps)), make([][]any, 0, len(steps))
	var sections, offers [][]any
	for i := range steps {
		id, p := steps[i].ID, &steps[i].Part
		row, err := t.partRow(id, p)
		if err != nil {
			return err
		}
		more, err := t.offerRows(id, p)
		if err != nil {
			return err
		}
		parts, sections, offers = append(parts, row), append(sections, t.sectionRows(id, p)...), append(offers, more...)
		changes = append(changes, []any{t.shop, id, repo.Created, 1, t.now, t.by, t.importID, steps[i].Line, nil})
	}
	for _, table := range []struct {
		name    string
		columns []string
		rows    [][]any
	}{{"parts", partColumnList, parts}, {"part_sections", sectionColumnList, sections}, {"part_offers", offerColumnList, offers}, {"part_changes", changeColumnList, changes}} {
		if len(table.rows) == 0 {
			continue
		}
		if _, err := tx.CopyFrom(ctx, pgx.Identifier{table.name}, table.columns, pgx.CopyFromRows(table.rows)); err != nil {
			return err
		}
	}
	return nil
}

const selectImport = `SELECT id, source, sha256, at, actor, created_count, changed_count, unchanged_count, series, findings, undone_at, undone_by
	FROM imports WHERE shop = $1 `

// ImportRecord reads an import back.
func (c calls) ImportRecord(ctx context.Context, shop repo.Shop, id string) (repo.ImportRecord, error) {
	var r repo.ImportRecord
	err := c.in.ask(ctx, shop, "read an import", func(q querier) (err error) {
		r, err = importRecord(ctx, q, shop, id, "")
		return err
	})
	return r, err
}

func importRecord(ctx context.Context, q querier, shop repo.Shop, id, lock string) (repo.ImportRecord, error) {
	if !repo.IsText(id) {
		return repo.ImportRecord{}, repo.NotThere("import", id)
	}
	r, err := scanImport(q.QueryRow(ctx, selectImport+"AND id = $2"+lock, shop, id))
	if errors.Is(err, pgx.ErrNoRows) {
		return r, repo.NotThere("import", id)
	}
	return r, err
}

func scanImport(row pgx.Row) (repo.ImportRecord, error) {
	var r repo.ImportRecord
	var undone *time.Time
	var series []byte
	if err := row.Scan(&r.ID, &r.Source, &r.SHA256, &r.At, &r.By, &r.Created, &r.Changed, &r.Unchanged, &series, &r.Findings, &undone, &r.UndoneBy); err != nil {
		return repo.ImportRecord{}, err
	}
	if undone != nil {
		r.UndoneAt = *undone
	}
	err := json.Unmarshal(series, &r.Series)
	repo.DropEmpty(&r.Series)
	return r, err
}

// ImportRecords lists imports, the last first.
func (c calls) ImportRecords(ctx context.Context, shop repo.Shop, p repo.Page) ([]repo.ImportRecord, string, error) {
	var records []repo.ImportRecord
	next := ""
	err := c.in.ask(ctx, shop, "list imports", func(q querier) error {
		if err := repo.CheckLimit(p.Limit); err != nil {
			return err
		}
		list := repo.ImportsList(shop)
		beforeUS, beforeID, err := repo.Before(list, p.After)
		if err != nil {
			return err
		}
		rows, err := q.Query(ctx, selectImport+"AND (at, id) < ($2, $3) ORDER BY at DESC, id DESC LIMIT $4", shop, time.UnixMicro(beforeUS).UTC(), beforeID, p.Limit+1)
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
