package postgres

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"

	"github.com/jackc/pgx/v5"

	"coldrise/domain/part"
	"coldrise/repo"
)

const partColumnNames = `id, version, created_at, changed_at, maker, part_number, series, technology, style, capacitance_uf, further_count,
	tol_minus_pct, tol_plus_pct, rated_v, rated_v_ac, safety_class, surge_v, ripple_ma, esr_ohm, leakage_ua, leakage_min,
	ratings, diameter_mm, length_mm, thickness_mm, lead_pitch_mm, note`

const selectPart = "SELECT " + partColumnNames + " FROM parts "

// Parts lists by maker, then part number.
func (s *Store) Parts(ctx context.Context, shop repo.Shop, f repo.PartFilter, p repo.Page) ([]repo.Part, string, error) {
	var parts []repo.Part
	next := ""
	err := s.read(ctx, shop, "list parts", func(q querier) error {
		if err := repo.Storable(f, "filter"); err != nil {
			return err
		}
		list := repo.PartsList(shop, f)
		where, args, err := partsPage(shop, list, f, p)
		if err != nil {
			return err
		}
		if parts, err = queryParts(ctx, q, shop, selectPart+where, args...); err != nil {
			return err
		}
		if len(parts) > p.Limit {
			parts = parts[:p.Limit]
			last := &parts[p.Limit-1]
			next = repo.EncodeCursor(list, last.Maker, last.PartNumber)
		}
		return nil
	})
	return parts, next, err
}

// partsPage gives the clauses of one page, and of one row more: that one says
// whether there is a next page.
func partsPage(shop repo.Shop, list string, f repo.PartFilter, p repo.Page) (string, []any, error) {
	if err := repo.CheckLimit(p.Limit); err != nil {
		return "", nil, err
	}
	keys, err := repo.DecodeCursor(list, p.After, 2)
	if err != nil {
		return "", nil, err
	}
	var c clauses
	c.add("shop = ?", shop)
	c.narrow(f)
	if keys != nil {
		c.add("(maker, part_number) > (?, ?)", keys[0], keys[1])
	}
	where := "WHERE " + strings.Join(c.where, " AND ") + fmt.Sprintf(" ORDER BY maker, part_number LIMIT $%d", len(c.args)+1)
	return where, append(c.args, p.Limit+1), nil
}

// clauses are conditions and their values.
type clauses struct {
	where []string
	args  []any
}

// add takes a condition, each ? of which is one of the values.
func (c *clauses) add(condition string, values ...any) {
	for _, v := range values {
		c.args = append(c.args, v)
		condition = strings.Replace(condition, "?", fmt.Sprintf("$%d", len(c.args)), 1)
	}
	c.where = append(c.where, condition)
}

// narrow takes the conditions of a filter.
func (c *clauses) narrow(f repo.PartFilter) {
	add := func(narrows bool, condition string, values ...any) {
		if narrows {
			c.add(condition, values...)
		}
	}
	add(f.Maker != "", "maker = ?", f.Maker)
	add(f.Series != "", "series = ?", f.Series)
	add(f.Technology != "", "technology = ?", f.Technology)
	add(f.Style != "", "style = ?", f.Style)
	least, most := repo.Bounds(f.MinUF, f.MaxUF)
	add(f.MinUF != 0 || f.MaxUF != 0, `(capacitance_uf BETWEEN ? AND ? OR further_count > 0 AND EXISTS (SELECT 1 FROM part_sections AS s
		WHERE s.shop = parts.shop AND s.part_id = parts.id AND s.capacitance_uf BETWEEN ? AND ?))`, least, most, least, most)
	add(f.MinRatedV != 0, "rated_v >= ?", f.MinRatedV)
	add(f.InStock, "stock > 0")
}

// candidateRows finds a window by the indexes on value: one for first
// sections, one for further ones of the parts that the first does not find.
const candidateRows = selectPart + `WHERE shop = $1 AND technology = ANY ($2::text[]) AND capacitance_uf BETWEEN $3 AND $4 AND rated_v >= $5
	UNION ALL
	` + selectPart + `WHERE shop = $1 AND technology = ANY ($2::text[]) AND NOT capacitance_uf BETWEEN $3 AND $4 AND rated_v >= $5
		AND id IN (SELECT part_id FROM part_sections WHERE shop = $1 AND capacitance_uf BETWEEN $3 AND $4)
	ORDER BY maker, part_number`

// Candidates gives the parts in a window.
func (s *Store) Candidates(ctx context.Context, shop repo.Shop, w repo.CandidateWindow) ([]repo.Part, error) {
	var parts []repo.Part
	err := s.read(ctx, shop, "find candidates", func(q querier) (err error) {
		if err := repo.Storable(w, "window"); err != nil {
			return err
		}
		technologies := w.Technologies
		if len(technologies) == 0 {
			technologies = []part.Technology{part.Electrolytic, part.Film, part.SafetyX, part.SafetyY}
		}
		names := make([]string, len(technologies))
		for i, t := range technologies {
			names[i] = string(t)
		}
		least, most := repo.Bounds(w.MinUF, w.MaxUF)
		parts, err = queryParts(ctx, q, shop, candidateRows, shop, names, least, most, w.MinRatedV)
		return err
	})
	return parts, err
}

// queryParts reads the parts that a query selects, in its order, with all that
// belongs to them.
func queryParts(ctx context.Context, q querier, shop repo.Shop, query string, args ...any) ([]repo.Part, error) {
	rows, err := q.Query(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	k := kin{shop: shop}
	for rows.Next() {
		if err := k.scanPart(rows); err != nil {
			return nil, err
		}
	}
	if err := rows.Err(); err != nil {
		return nil, err
	}
	return k.parts, k.add(ctx, q)
}

// kin gathers parts and what they have several of: a query a table, however
// many parts there are.
type kin struct {
	shop      repo.Shop
	parts     []repo.Part
	sectioned []string // ids of the parts with further sections
}

func (k *kin) scanPart(rows pgx.Rows) error {
	var p repo.Part
	var further int64
	var series *string
	var ratings []byte
	if err := rows.Scan(&p.ID, &p.Version, &p.Created, &p.Changed, &p.Maker, &p.PartNumber, &series, &p.Technology, &p.Style, &p.CapacitanceUF, &further,
		&p.TolMinusPct, &p.TolPlusPct, &p.RatedV, &p.RatedVAC, &p.SafetyClass, &p.SurgeV, &p.RippleMA, &p.ESROhm, &p.LeakageUA, &p.LeakageMin, &ratings,
		&p.DiameterMM, &p.LengthMM, &p.ThicknessMM, &p.LeadPitchMM, &p.Note); err != nil {
		return err
	}
	if series != nil {
		p.Series = *series
	}
	if ratings != nil {
		if err := json.Unmarshal(ratings, &p.Ratings); err != nil {
			return err
		}
		repo.DropEmpty(&p.Ratings)
	}
	k.parts = append(k.parts, p)
	if further > 0 {
		k.sectioned = append(k.sectioned, p.ID)
	}
	return nil
}

// add gives the parts their sections and offers.
func (k *kin) add(ctx context.Context, q querier) error {
	if len(k.parts) == 0 {
		return nil
	}
	ids := make([]string, len(k.parts))
	byID := make(map[string]*repo.Part, len(k.parts))
	for i := range k.parts {
		ids[i] = k.parts[i].ID
		byID[ids[i]] = &k.parts[i]
	}
	if len(k.sectioned) > 0 {
		if err := k.addSections(ctx, q, byID); err != nil {
			return err
		}
	}
	return k.addOffers(ctx, q, ids, byID)
}

func (k *kin) addSections(ctx context.Context, q querier, byID map[string]*repo.Part) error {
	rows, err := q.Query(ctx, "SELECT part_id, capacitance_uf FROM part_sections WHERE shop = $1 AND part_id = ANY ($2::text[]) ORDER BY part_id, place",
		k.shop, k.sectioned)
	if err != nil {
		return err
	}
	var id string
	var uf float64
	_, err = pgx.ForEachRow(rows, []any{&id, &uf}, func() error {
		byID[id].FurtherSectionsUF = append(byID[id].FurtherSectionsUF, uf)
		return nil
	})
	return err
}

func (k *kin) addOffers(ctx context.Context, q querier, ids []string, byID map[string]*repo.Part) error {
	rows, err := q.Query(ctx, `SELECT part_id, supplier, sku, currency, pack, min_qty, stock, lead_days, preferred, breaks FROM part_offers
		WHERE shop = $1 AND part_id = ANY ($2::text[]) ORDER BY part_id, place`, k.shop, ids)
	if err != nil {
		return err
	}
	var id, breaks string
	var o part.Offer
	_, err = pgx.ForEachRow(rows, []any{&id, &o.Supplier, &o.SKU, &o.Currency, &o.Pack, &o.MinQty, &o.Stock, &o.LeadDays, &o.Preferred, &breaks}, func() (err error) {
		if o.Breaks, err = repo.DecodeBreaks(breaks); err != nil {
			return err
		}
		byID[id].Offers = append(byID[id].Offers, o)
		return nil
	})
	return err
}
