package postgres

import (
	"context"
	"encoding/json"
	"time"

	"github.com/jackc/pgx/v5"

	"coldrise/domain/part"
	"coldrise/repo"
)

const (
	insertPart = `INSERT INTO parts (maker, part_number, series, technology, style, capacitance_uf, further_count, tol_minus_pct, tol_plus_pct,
		rated_v, rated_v_ac, safety_class, surge_v, ripple_ma, esr_ohm, leakage_ua, leakage_min, ratings, diameter_mm, length_mm,
		thickness_mm, lead_pitch_mm, note, stock, changed_at, shop, id, created_at, version)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19, $20, $21, $22, $23, $24, $25, $26, $27, $28, 1)`
	updatePart = `UPDATE parts SET maker = $1, part_number = $2, series = $3, technology = $4, style = $5, capacitance_uf = $6, further_count = $7,
		tol_minus_pct = $8, tol_plus_pct = $9, rated_v = $10, rated_v_ac = $11, safety_class = $12, surge_v = $13, ripple_ma = $14, esr_ohm = $15,
		leakage_ua = $16, leakage_min = $17, ratings = $18, diameter_mm = $19, length_mm = $20, thickness_mm = $21, lead_pitch_mm = $22, note = $23,
		stock = $24, changed_at = $25, version = version + $26 WHERE shop = $27 AND id = $28`
	insertSection  = `INSERT INTO part_sections (shop, part_id, place, capacitance_uf) VALUES ($1, $2, $3, $4)`
	deleteSections = `DELETE FROM part_sections WHERE shop = $1 AND part_id = $2`
	insertOffer    = `INSERT INTO part_offers (shop, part_id, place, supplier, sku, currency, pack, min_qty, stock, lead_days, preferred, breaks, price_micro, cheapest)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14)`
	deleteOffers = `DELETE FROM part_offers WHERE shop = $1 AND part_id = $2`
	deletePart   = `DELETE FROM parts WHERE shop = $1 AND id = $2`
	insertChange = `INSERT INTO part_changes (shop, part_id, kind, version, at, actor, import_id, line, before) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`
)

// The columns of the tables that parts are copied into, in the order in which
// the rows below give their values.
var (
	partColumnList = []string{"maker", "part_number", "series", "technology", "style", "capacitance_uf", "further_count", "tol_minus_pct", "tol_plus_pct",
		"rated_v", "rated_v_ac", "safety_class", "surge_v", "ripple_ma", "esr_ohm", "leakage_ua", "leakage_min", "ratings", "diameter_mm", "length_mm",
		"thickness_mm", "lead_pitch_mm", "note", "stock", "changed_at", "shop", "id", "created_at", "version"}
	sectionColumnList = []string{"shop", "part_id", "place", "capacitance_uf"}
	offerColumnList   = []string{"shop", "part_id", "place", "supplier", "sku", "currency", "pack", "min_qty", "stock", "lead_days", "preferred",
		"breaks", "price_micro", "cheapest"}
	changeColumnList = []string{"shop", "part_id", "kind", "version", "at", "actor", "import_id", "line", "before"}
)

// partWriter writes parts, and the record of their changes. Statements are
// gathered, and go to the server at once.
type partWriter struct {
	tx       changer
	shop     repo.Shop
	now      time.Time
	by       string
	importID string
	batch    pgx.Batch
	of       []owner // of each statement
}

// owner is the part that a statement belongs to.
type owner struct {
	id   string
	part *part.Part
	line int
}

func newPartWriter(tx changer, shop repo.Shop, at repo.Stamp) (*partWriter, error) {
	if err := repo.CheckStamp(at); err != nil {
		return nil, err
	}
	return &partWriter{tx: tx, shop: shop, now: repo.Instant(at.At), by: at.By}, nil
}

func (w *partWriter) add(o owner, sql string, args ...any) {
	w.batch.Queue(sql, args...)
	w.of = append(w.of, o)
}

// create stores a part that is not there.
func (w *partWriter) create(id string, p *part.Part, line int) error {
	o := owner{id, p, line}
	columns, err := w.partRow(id, p)
	if err != nil {
		return err
	}
	w.add(o, insertPart, columns[:len(columns)-1]...) // The version stands in the statement.
	if err := w.children(o); err != nil {
		return err
	}
	return w.record(o, repo.Created, 1, nil)
}

// replace puts p in the place of a part that is there, which becomes the
// record of the change.
func (w *partWriter) replace(have *repo.Part, p *part.Part, kind repo.ChangeKind, line int) error {
	if err := w.overwrite(have, p, 1, line); err != nil {
		return err
	}
	return w.record(owner{have.ID, p, line}, kind, have.Version+1, &have.Part)
}

// overwrite puts p in the place of a part, further versions on, without a record.
func (w *partWriter) overwrite(have *repo.Part, p *part.Part, further, line int) error {
	o := owner{have.ID, p, line}
	columns, err := partColumns(p, w.now)
	if err != nil {
		return err
	}
	w.add(o, updatePart, append(columns, further, w.shop, have.ID)...)
	if len(have.FurtherSectionsUF) > 0 {
		w.add(o, deleteSections, w.shop, have.ID)
	}
	if len(have.Offers) > 0 {
		w.add(o, deleteOffers, w.shop, have.ID)
	}
	return w.children(o)
}

// remove takes a part away; its sections and offers go with it.
func (w *partWriter) remove(have *repo.Part, kind repo.ChangeKind) error {
	o := owner{id: have.ID, part: &have.Part}
	w.add(o, deletePart, w.shop, have.ID)
	return w.record(o, kind, have.Version, &have.Part)
}

// children adds what a part has several of.
func (w *partWriter) children(o owner) error {
	for _, row := range w.sectionRows(o.id, o.part) {
		w.add(o, insertSection, row...)
	}
	offers, err := w.offerRows(o.id, o.part)
	if err != nil {
		return err
	}
	for _, row := range offers {
		w.add(o, insertOffer, row...)
	}
	return nil
}

// record writes down a change.
func (w *partWriter) record(o owner, kind repo.ChangeKind, version int64, before *part.Part) error {
	var text *string
	if before != nil {
		document, err := json.Marshal(before)
		if err != nil {
			return err
		}
		text = orNull(string(document))
	}
	w.add(o, insertChange, w.shop, o.id, kind, version, w.now, w.by, w.importID, o.line, text)
	return nil
}

// send runs the statements in order. The first that is refused ends it.
func (w *partWriter) send(ctx context.Context) error {
	if len(w.of) == 0 {
		return nil
	}
	results := w.tx.SendBatch(ctx, &w.batch)
	defer results.Close()
	for _, o := range w.of {
		if _, err := results.Exec(); err != nil {
			return w.refused(err, o)
		}
	}
	w.batch, w.of = pgx.Batch{}, w.of[:0]
	return results.Close()
}

// refused says in our words why the schema refused a part.
func (w *partWriter) refused(err error, o owner) error {
	switch code := codeOf(err); {
	case code == uniqueViolation && constraintOf(err) == "parts_pkey":
		err = repo.IDTaken("part", o.id)
	case code == uniqueViolation:
		err = repo.KeyTaken(o.part.Maker, o.part.PartNumber)
	case code == foreignKeyViolation:
		err = repo.NoSeries(o.part.Series)
	case outOfRange(err):
		err = repo.OutOfRange("part", err)
	}
	if w.importID == "" {
		return err
	}
	return repo.AtLine(err, o.line)
}

// partRow gives the values of partColumnList.
func (w *partWriter) partRow(id string, p *part.Part) ([]any, error) {
	columns, err := partColumns(p, w.now)
	return append(columns, w.shop, id, w.now, 1), err
}

func (w *partWriter) sectionRows(id string, p *part.Part) [][]any {
	var rows [][]any
	for i, uf := range p.FurtherSectionsUF {
		rows = append(rows, []any{w.shop, id, i, uf})
	}
	return rows
}

func (w *partWriter) offerRows(id string, p *part.Part) ([][]any, error) {
	columns, err := repo.ColumnsOf(p.Offers)
	if err != nil {
		return nil, repo.OutOfRange("part", err)
	}
	rows := make([][]any, len(p.Offers))
	for i := range p.Offers {
		o, c := &p.Offers[i], &columns[i]
		rows[i] = []any{w.shop, id, i, o.Supplier, o.SKU, o.Currency, o.Pack, o.MinQty, o.Stock, o.LeadDays, o.Preferred, c.Breaks, c.Price, c.Cheapest}
	}
	return rows, nil
}

// partColumns gives the values of insertPart and updatePart, up to the shop and the version.
func partColumns(p *part.Part, now time.Time) ([]any, error) {
	ratings, err := ratingsColumn(&p.Ratings)
	if err != nil {
		return nil, err
	}
	stock := int64(0)
	for _, o := range p.Offers {
		stock += int64(o.Stock)
	}
	return []any{p.Maker, p.PartNumber, orNull(p.Series), p.Technology, p.Style, p.CapacitanceUF, len(p.FurtherSectionsUF),
		p.TolMinusPct, p.TolPlusPct, p.RatedV, p.RatedVAC, p.SafetyClass, p.SurgeV, p.RippleMA, p.ESROhm, p.LeakageUA, p.LeakageMin, ratings,
		p.DiameterMM, p.LengthMM, p.ThicknessMM, p.LeadPitchMM, p.Note, stock, now}, nil
}

// ratingsColumn gives a part's own ratings as a document, NULL where it has none.
func ratingsColumn(r *part.Ratings) (*string, error) {
	text, err := json.Marshal(r)
	if err != nil || string(text) == "{}" {
		return nil, err
	}
	return orNull(string(text)), nil
}

func orNull(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}
