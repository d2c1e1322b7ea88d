package sqlite

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"

	"coldrise/domain/part"
	"coldrise/repo"
)

// kin reads what parts have several of, for many parts at once: a query a
// table, however many parts there are.
type kin struct {
	q    querier
	shop repo.Shop
	ids  string // a JSON list
	byID map[string]*repo.Part
}

// addKin gives parts their sections, offers and price breaks.
func addKin(ctx context.Context, q querier, shop repo.Shop, parts []repo.Part) error {
	if len(parts) == 0 {
		return nil
	}
	k := kin{q: q, shop: shop, byID: make(map[string]*repo.Part, len(parts))}
	ids := make([]string, len(parts))
	for i := range parts {
		ids[i] = parts[i].ID
		k.byID[ids[i]] = &parts[i]
	}
	text, err := json.Marshal(ids)
	if err != nil {
		return err
	}
	k.ids = string(text)
	// Breaks come last: they are hung on the offers.
	for _, add := range []func(context.Context) error{k.addSections, k.addOffers, k.addBreaks} {
		if err := add(ctx); err != nil {
			return err
		}
	}
	return nil
}

func (k *kin) addSections(ctx context.Context) error {
	return k.each(ctx, `SELECT part_id, capacitance_uf FROM part_sections
		WHERE shop = ? AND part_id IN (SELECT value FROM json_each(?)) ORDER BY part_id, place`, func(rows *sql.Rows) error {
		var id string
		var uf float64
		if err := rows.Scan(&id, &uf); err != nil {
			return err
		}
		p := k.byID[id]
		p.FurtherSectionsUF = append(p.FurtherSectionsUF, uf)
		return nil
	})
}

func (k *kin) addOffers(ctx context.Context) error {
	return k.each(ctx, `SELECT part_id, supplier, sku, currency, pack, min_qty, stock, lead_days, preferred FROM part_offers
		WHERE shop = ? AND part_id IN (SELECT value FROM json_each(?)) ORDER BY part_id, place`, func(rows *sql.Rows) error {
		var id string
		var o part.Offer
		if err := rows.Scan(&id, &o.Supplier, &o.SKU, &o.Currency, &o.Pack, &o.MinQty, &o.Stock, &o.LeadDays, &o.Preferred); err != nil {
			return err
		}
		p := k.byID[id]
		p.Offers = append(p.Offers, o)
		return nil
	})
}

func (k *kin) addBreaks(ctx context.Context) error {
	return k.each(ctx, `SELECT part_id, offer_place, min_qty, unit_price_micro FROM offer_breaks
		WHERE shop = ? AND part_id IN (SELECT value FROM json_each(?)) ORDER BY part_id, offer_place, place`, func(rows *sql.Rows) error {
		var id string
		var offer int
		var b part.Break
		if err := rows.Scan(&id, &offer, &b.MinQty, &b.UnitPrice); err != nil {
			return err
		}
		p := k.byID[id]
		if offer < 0 || offer >= len(p.Offers) {
			return errors.New("the offers of part " + id + " are not numbered from 0 without a gap")
		}
		p.Offers[offer].Breaks = append(p.Offers[offer].Breaks, b)
		return nil
	})
}

func (k *kin) each(ctx context.Context, query string, scan func(rows *sql.Rows) error) error {
	rows, err := k.q.QueryContext(ctx, query, k.shop, k.ids)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := scan(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}
