package sqlite

import (
	"context"
	"database/sql"
	"encoding/json"
	"time"

	"coldrise/domain/part"
	"coldrise/repo"
)

const (
	insertPart = `INSERT INTO parts (maker, part_number, series, technology, style, capacitance_uf, further_count, tol_minus_pct, tol_plus_pct,
		rated_v, rated_v_ac, safety_class, surge_v, ripple_ma, esr_ohm, leakage_ua, leakage_min, ratings, diameter_mm, length_mm,
		thickness_mm, lead_pitch_mm, note, stock, changed_us, shop, id, created_us, version)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, 1)`
	updatePart = `UPDATE parts SET maker = ?, part_number = ?, series = ?, technology = ?, style = ?, capacitance_uf = ?, further_count = ?, tol_minus_pct = ?,
		tol_plus_pct = ?, rated_v = ?, rated_v_ac = ?, safety_class = ?, surge_v = ?, ripple_ma = ?, esr_ohm = ?, leakage_ua = ?, leakage_min = ?, ratings = ?,
		diameter_mm = ?, length_mm = ?, thickness_mm = ?, lead_pitch_mm = ?, note = ?, stock = ?, changed_us = ?, version = version + ?
		WHERE shop = ? AND id = ?`
	insertSection  = `INSERT INTO part_sections (shop, part_id, place, capacitance_uf) VALUES (?, ?, ?, ?)`
	deleteSections = `DELETE FROM part_sections WHERE shop = ? AND part_id = ?`
	insertOffer    = `INSERT INTO part_offers (shop, part_id, place, supplier, sku, currency, pack, min_qty, stock, lead_days, preferred, breaks, price_micro, cheapest)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`
	deleteOffers = `DELETE FROM part_offers WHERE shop = ? AND part_id = ?`
	deletePart   = `DELETE FROM parts WHERE shop = ? AND id = ?`
	insertChange = `INSERT INTO part_changes (shop, seq, part_id, kind, version, at_us, actor, import_id, line, before) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`
)

// partWriter writes parts, and the record of their changes, in one transaction
// with each statement prepared once.
type partWriter struct {
	tx       *sql.Tx
	shop     repo.Shop
	now      int64 // µs
	by       string
	importID string
	seq      int64 // of the last change
	prepared map[string]*sql.Stmt
}

func newPartWriter(ctx context.Context, tx *sql.Tx, shop repo.Shop, at repo.Stamp) (*partWriter, error) {
	if err := repo.CheckStamp(at); err != nil {
		return nil, err
	}
	w := &partWriter{tx: tx, shop: shop, now: micros(at.At), by: at.By, prepared: map[string]*sql.Stmt{}}
	// There is one writer, so nothing comes between this and the next number.
	err := tx.QueryRowContext(ctx, "SELECT coalesce(max(seq), 0) FROM part_changes WHERE shop = ?", shop).Scan(&w.seq)
	return w, err
}

func (w *partWriter) close() {
	for _, stmt := range w.prepared {
		stmt.Close()
	}
}

func (w *partWriter) exec(ctx context.Context, query string, args ...any) error {
	stmt := w.prepared[query]
	if stmt == nil {
		var err error
		if stmt, err = w.tx.PrepareContext(ctx, query); err != nil {
			return err
		}
		w.prepared[query] = stmt
	}
	_, err := stmt.ExecContext(ctx, args...)
	return err
}

// create stores a part that is not there.
func (w *partWriter) create(ctx context.Context, id string, p *part.Part, line int) error {
	columns, err := partColumns(p, w.now)
	if err != nil {
		return err
	}
	if err := w.exec(ctx, insertPart, append(columns, w.shop, id, w.now)...); err != nil {
		return refusedPart(err, id, p)
	}
	if err := w.sections(ctx, id, p); err != nil {
		return err
	}
	if err := w.offers(ctx, id, p); err != nil {
		return err
	}
	return w.record(ctx, id, repo.Created, 1, line, nil)
}

// replace puts p in the place of a part that is there, which becomes the
// record of the change.
func (w *partWriter) replace(ctx context.Context, have *repo.Part, p *part.Part, kind repo.ChangeKind, line int) error {
	if err := w.overwrite(ctx, have, p, 1); err != nil {
		return err
	}
	return w.record(ctx, have.ID, kind, have.Version+1, line, &have.Part)
}

// overwrite puts p in the place of a part, further versions on, without a record.
func (w *partWriter) overwrite(ctx context.Context, have *repo.Part, p *part.Part, further int) error {
	columns, err := partColumns(p, w.now)
	if err != nil {
		return err
	}
	if err := w.exec(ctx, updatePart, append(columns, further, w.shop, have.ID)...); err != nil {
		return refusedPart(err, have.ID, p)
	}
	if len(have.FurtherSectionsUF) > 0 {
		if err := w.exec(ctx, deleteSections, w.shop, have.ID); err != nil {
			return err
		}
	}
	if err := w.sections(ctx, have.ID, p); err != nil {
		return err
	}
	if len(have.Offers) > 0 {
		if err := w.exec(ctx, deleteOffers, w.shop, have.ID); err != nil {
			return err
		}
	}
	return w.offers(ctx, have.ID, p)
}

// remove takes a part away; its sections and offers go with it.
func (w *partWriter) remove(ctx context.Context, have *repo.Part, kind repo.ChangeKind) error {
	if err := w.exec(ctx, deletePart, w.shop, have.ID); err != nil {
		return err
	}
	return w.record(ctx, have.ID, kind, have.Version, 0, &have.Part)
}

func (w *partWriter) sections(ctx context.Context, id string, p *part.Part) error {
	for i, uf := range p.FurtherSectionsUF {
		if err := w.exec(ctx, insertSection, w.shop, id, i, uf); err != nil {
			return refusedPart(err, id, p)
		}
	}
	return nil
}

func (w *partWriter) offers(ctx context.Context, id string, p *part.Part) error {
	columns, err := repo.ColumnsOf(p.Offers)
	if err != nil {
		return repo.OutOfRange("part", err)
	}
	for i := range p.Offers {
		o, c := &p.Offers[i], &columns[i]
		err := w.exec(ctx, insertOffer, w.shop, id, i, o.Supplier, o.SKU, o.Currency, o.Pack, o.MinQty, o.Stock, o.LeadDays, o.Preferred, c.Breaks, c.Price, c.Cheapest)
		if err != nil {
			return refusedPart(err, id, p)
		}
	}
	return nil
}

// record writes down a change.
func (w *partWriter) record(ctx context.Context, id string, kind repo.ChangeKind, version int64, line int, before *part.Part) error {
	var text any
	if before != nil {
		document, err := json.Marshal(before)
		if err != nil {
			return err
		}
		text = string(document)
	}
	w.seq++
	return w.exec(ctx, insertChange, w.shop, w.seq, id, kind, version, w.now, w.by, w.importID, line, text)
}

// partColumns gives the values of insertPart and updatePart, up to the version.
func partColumns(p *part.Part, nowUS int64) ([]any, error) {
	ratings, err := ratingsColumn(&p.Ratings)
	if err != nil {
		return nil, err
	}
	stock := int64(0)
	for _, o := range p.Offers {
		stock += int64(o.Stock)
	}
	return []any{p.Maker, p.PartNumber, sql.NullString{String: p.Series, Valid: p.Series != ""}, p.Technology, p.Style, p.CapacitanceUF, len(p.FurtherSectionsUF),
		p.TolMinusPct, p.TolPlusPct, p.RatedV, p.RatedVAC, p.SafetyClass, p.SurgeV, p.RippleMA, p.ESROhm, p.LeakageUA, p.LeakageMin, ratings,
		p.DiameterMM, p.LengthMM, p.ThicknessMM, p.LeadPitchMM, p.Note, stock, nowUS}, nil
}

// ratingsColumn gives a part's own ratings as a document, NULL where it has none.
func ratingsColumn(r *part.Ratings) (any, error) {
	text, err := json.Marshal(r)
	if err != nil || string(text) == "{}" {
		return nil, err
	}
	return string(text), nil
}

// micros gives an instant as the schema keeps it, cut to whole microseconds.
func micros(t time.Time) int64 { return t.UnixMicro() }

func instant(us int64) time.Time { return time.UnixMicro(us).UTC() }
