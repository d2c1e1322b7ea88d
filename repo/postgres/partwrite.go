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
		stock = $24, changed_at = $25, version = version + 1 WHERE shop = $26 AND id = $27`
	insertSection = `INSERT INTO part_sections (shop, part_id, place, capacitance_uf) VALUES ($1, $2, $3, $4)`
	insertOffer   = `INSERT INTO part_offers (shop, part_id, place, supplier, sku, currency, pack, min_qty, stock, lead_days, preferred, breaks)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12)`
)

// partBatch gathers the statements that write parts, and sends them at once.
type partBatch struct {
	shop  repo.Shop
	now   time.Time
	batch pgx.Batch
	of    []owner // of each statement
}

// owner is the part that a statement belongs to.
type owner struct {
	id   string
	part *part.Part
}

func newPartBatch(shop repo.Shop, at repo.Stamp) *partBatch {
	return &partBatch{shop: shop, now: repo.Instant(at.At)}
}

func (b *partBatch) add(id string, p *part.Part, sql string, args ...any) {
	b.batch.Queue(sql, args...)
	b.of = append(b.of, owner{id, p})
}

func (b *partBatch) insert(id string, p *part.Part) error {
	columns, err := partColumns(p, b.now)
	if err != nil {
		return err
	}
	b.add(id, p, insertPart, append(columns, b.shop, id, b.now)...)
	return b.children(id, p)
}

func (b *partBatch) replace(id string, p *part.Part) error {
	columns, err := partColumns(p, b.now)
	if err != nil {
		return err
	}
	b.add(id, p, updatePart, append(columns, b.shop, id)...)
	for _, table := range []string{"part_sections", "part_offers"} {
		b.add(id, p, "DELETE FROM "+table+" WHERE shop = $1 AND part_id = $2", b.shop, id)
	}
	return b.children(id, p)
}

// children adds what a part has several of.
func (b *partBatch) children(id string, p *part.Part) error {
	for i, uf := range p.FurtherSectionsUF {
		b.add(id, p, insertSection, b.shop, id, i, uf)
	}
	for i := range p.Offers {
		o := &p.Offers[i]
		breaks, err := repo.EncodeBreaks(o.Breaks)
		if err != nil {
			return repo.OutOfRange("part", err)
		}
		b.add(id, p, insertOffer, b.shop, id, i, o.Supplier, o.SKU, o.Currency, o.Pack, o.MinQty, o.Stock, o.LeadDays, o.Preferred, breaks)
	}
	return nil
}

// send runs the statements in order. The first that is refused ends it.
func (b *partBatch) send(ctx context.Context, tx changer) error {
	if len(b.of) == 0 {
		return nil
	}
	results := tx.SendBatch(ctx, &b.batch)
	defer results.Close()
	for _, o := range b.of {
		if _, err := results.Exec(); err != nil {
			return refusedPart(err, o.id, o.part)
		}
	}
	b.batch, b.of = pgx.Batch{}, b.of[:0]
	return results.Close()
}

// partColumns gives the values of insertPart and updatePart, up to the shop.
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

// refusedPart says in our words why the schema refused a part.
func refusedPart(err error, id string, p *part.Part) error {
	switch code := codeOf(err); {
	case code == uniqueViolation && constraintOf(err) == "parts_pkey":
		return repo.IDTaken("part", id)
	case code == uniqueViolation:
		return repo.KeyTaken(p.Maker, p.PartNumber)
	case code == foreignKeyViolation:
		return repo.NoSeries(p.Series)
	case outOfRange(err):
		return repo.OutOfRange("part", err)
	}
	return err
}
