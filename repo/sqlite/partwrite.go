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
		diameter_mm = ?, length_mm = ?, thickness_mm = ?, lead_pitch_mm = ?, note = ?, stock = ?, changed_us = ?, version = version + 1
		WHERE shop = ? AND id = ?`
	insertSection = `INSERT INTO part_sections (shop, part_id, place, capacitance_uf) VALUES (?, ?, ?, ?)`
	insertOffer   = `INSERT INTO part_offers (shop, part_id, place, supplier, sku, currency, pack, min_qty, stock, lead_days, preferred)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`
	insertBreak = `INSERT INTO offer_breaks (shop, part_id, offer_place, place, min_qty, unit_price_micro) VALUES (?, ?, ?, ?, ?, ?)`
)

// partWriter writes parts in one transaction with statements prepared once.
type partWriter struct {
	tx                               *sql.Tx
	part, section, offer, priceBreak *sql.Stmt
}

func prepareParts(ctx context.Context, tx *sql.Tx) (*partWriter, error) {
	w := &partWriter{tx: tx}
	for _, p := range []struct {
		stmt **sql.Stmt
		text string
	}{{&w.part, insertPart}, {&w.section, insertSection}, {&w.offer, insertOffer}, {&w.priceBreak, insertBreak}} {
		stmt, err := tx.PrepareContext(ctx, p.text)
		if err != nil {
			w.close()
			return nil, err
		}
		*p.stmt = stmt
	}
	return w, nil
}

func (w *partWriter) close() {
	for _, stmt := range []*sql.Stmt{w.part, w.section, w.offer, w.priceBreak} {
		if stmt != nil {
			stmt.Close()
		}
	}
}

func (w *partWriter) insert(ctx context.Context, shop repo.Shop, id string, p *part.Part, nowUS int64) error {
	columns, err := partColumns(p, nowUS)
	if err != nil {
		return err
	}
	if _, err := w.part.ExecContext(ctx, append(columns, shop, id, nowUS)...); err != nil {
		return refusedPart(err, id, p)
	}
	return w.children(ctx, shop, id, p)
}

func (w *partWriter) replace(ctx context.Context, shop repo.Shop, id string, p *part.Part, nowUS int64) error {
	columns, err := partColumns(p, nowUS)
	if err != nil {
		return err
	}
	if _, err := w.tx.ExecContext(ctx, updatePart, append(columns, shop, id)...); err != nil {
		return refusedPart(err, id, p)
	}
	for _, table := range []string{"part_sections", "part_offers"} {
		if _, err := w.tx.ExecContext(ctx, "DELETE FROM "+table+" WHERE shop = ? AND part_id = ?", shop, id); err != nil {
			return err
		}
	}
	return w.children(ctx, shop, id, p)
}

// children writes what a part has several of.
func (w *partWriter) children(ctx context.Context, shop repo.Shop, id string, p *part.Part) error {
	for i, uf := range p.FurtherSectionsUF {
		if _, err := w.section.ExecContext(ctx, shop, id, i, uf); err != nil {
			return refusedPart(err, id, p)
		}
	}
	for i := range p.Offers {
		o := &p.Offers[i]
		if _, err := w.offer.ExecContext(ctx, shop, id, i, o.Supplier, o.SKU, o.Currency, o.Pack, o.MinQty, o.Stock, o.LeadDays, o.Preferred); err != nil {
			return refusedPart(err, id, p)
		}
		for j, b := range o.Breaks {
			if _, err := w.priceBreak.ExecContext(ctx, shop, id, i, j, b.MinQty, int64(b.UnitPrice)); err != nil {
				return refusedPart(err, id, p)
			}
		}
	}
	return nil
}

// partColumns gives the values of insertPart and updatePart, up to the shop.
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
