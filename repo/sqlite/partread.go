package sqlite

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"iter"
	"strings"

	"coldrise/domain/part"
	"coldrise/repo"
)

const partColumnNames = `p.id, p.version, p.created_us, p.changed_us, p.maker, p.part_number, p.series, p.technology, p.style, p.capacitance_uf, p.further_count,
	p.tol_minus_pct, p.tol_plus_pct, p.rated_v, p.rated_v_ac, p.safety_class, p.surge_v, p.ripple_ma, p.esr_ohm, p.leakage_ua, p.leakage_min,
	p.ratings, p.diameter_mm, p.length_mm, p.thickness_mm, p.lead_pitch_mm, p.note`

const selectPart = "SELECT " + partColumnNames + " FROM parts AS p "

// Parts lists in the order of the filter.
func (c calls) Parts(ctx context.Context, shop repo.Shop, f repo.PartFilter, p repo.Page) ([]repo.Part, string, error) {
	var parts []repo.Part
	next := ""
	err := c.in.read(ctx, shop, "list parts", func(q querier) error {
		if err := repo.CheckFilter(f); err != nil {
			return err
		}
		if err := repo.CheckLimit(p.Limit); err != nil {
			return err
		}
		list := repo.PartsList(shop, f)
		after, err := repo.PartsAfter(list, f, p.After)
		if err != nil {
			return err
		}
		// One row more than the page has says whether there is a next one.
		query, args := partsPage(shop, f, after, p.Limit+1)
		if parts, err = queryParts(ctx, q, shop, query, args...); err != nil {
			return err
		}
		parts, next = repo.Turn(parts, p.Limit, func(last *repo.Part) string { return repo.EncodeCursor(list, repo.PartKeys(f, last)...) })
		return nil
	})
	return parts, next, err
}

// eachChunk is how many parts EachPart reads at once.
const eachChunk = 500

// errStopped ends a loop that its caller has left.
var errStopped = errors.New("the loop was left")

// EachPart gives all parts of a filter from one snapshot.
func (c calls) EachPart(ctx context.Context, shop repo.Shop, f repo.PartFilter) iter.Seq2[repo.Part, error] {
	return func(yield func(repo.Part, error) bool) {
		err := c.in.read(ctx, shop, "read all parts", func(q querier) error {
			if err := repo.CheckFilter(f); err != nil {
				return err
			}
			list := repo.PartsList(shop, f)
			for cursor := ""; ; {
				after, err := repo.PartsAfter(list, f, cursor)
				if err != nil {
					return err
				}
				query, args := partsPage(shop, f, after, eachChunk)
				parts, err := queryParts(ctx, q, shop, query, args...)
				if err != nil {
					return err
				}
				for i := range parts {
					if !yield(parts[i], nil) {
						return errStopped
					}
				}
				if len(parts) < eachChunk {
					return nil
				}
				cursor = repo.EncodeCursor(list, repo.PartKeys(f, &parts[len(parts)-1])...)
			}
		})
		if err != nil && !errors.Is(err, errStopped) {
			yield(repo.Part{}, err)
		}
	}
}

// order is how an order of parts is had: from which tables, by which keys.
type order struct {
	from, keys, by string
	past           string // how the keys of later rows compare
}

var orders = map[repo.PartOrder]order{
	repo.ByNumber:      {"parts AS p", "p.maker, p.part_number", "p.maker, p.part_number", ">"},
	repo.ByCapacitance: {"parts AS p", "p.capacitance_uf, p.rated_v, p.id", "p.capacitance_uf, p.rated_v, p.id", ">"},
	repo.ByRating:      {"parts AS p", "p.rated_v, p.capacitance_uf, p.id", "p.rated_v, p.capacitance_uf, p.id", ">"},
	repo.ByChange:      {"parts AS p", "p.changed_us, p.id", "p.changed_us DESC, p.id DESC", "<"},
	// CROSS JOIN keeps the offers, which are in order, outside.
	repo.ByPrice: {"part_offers AS c CROSS JOIN parts AS p ON p.shop = c.shop AND p.id = c.part_id", "c.price_micro, c.part_id", "c.price_micro, c.part_id", ">"},
}

// partsPage gives the query for the parts of a filter behind the keys of a row.
func partsPage(shop repo.Shop, f repo.PartFilter, after []any, limit int) (string, []any) {
	o := orders[f.Order]
	where, args := partClauses(shop, f)
	if after != nil {
		where = append(where, "("+o.keys+") "+o.past+" (?"+strings.Repeat(", ?", len(after)-1)+")")
		args = append(args, after...)
	}
	return "SELECT " + partColumnNames + " FROM " + o.from + " WHERE " + strings.Join(where, " AND ") + " ORDER BY " + o.by + " LIMIT ?", append(args, limit)
}

// partClauses gives the conditions of a filter.
func partClauses(shop repo.Shop, f repo.PartFilter) (where []string, args []any) {
	add := func(narrows bool, clause string, values ...any) {
		if narrows {
			where, args = append(where, clause), append(args, values...)
		}
	}
	add(f.Order != repo.ByPrice, "p.shop = ?", shop)
	add(f.Order == repo.ByPrice, "c.shop = ? AND c.cheapest = 1 AND c.currency = ?", shop, f.Currency)
	add(f.Maker != "", "p.maker = ?", f.Maker)
	add(f.Series != "", "p.series = ?", f.Series)
	add(f.Technology != "", "p.technology = ?", f.Technology)
	add(f.Style != "", "p.style = ?", f.Style)
	least, most := repo.Bounds(f.MinUF, f.MaxUF)
	add(f.MinUF != 0 || f.MaxUF != 0, `(p.capacitance_uf BETWEEN ? AND ? OR p.further_count > 0 AND EXISTS (SELECT 1 FROM part_sections AS s
		WHERE s.shop = p.shop AND s.part_id = p.id AND s.capacitance_uf BETWEEN ? AND ?))`, least, most, least, most)
	add(f.MinRatedV != 0, "p.rated_v >= ?", f.MinRatedV)
	add(f.MaxRatedV != 0, "p.rated_v <= ?", f.MaxRatedV)
	add(f.MaxDiameterMM != 0, "p.diameter_mm <= ?", f.MaxDiameterMM)
	add(f.MaxLengthMM != 0, "p.length_mm <= ?", f.MaxLengthMM)
	add(f.Supplier != "", "EXISTS (SELECT 1 FROM part_offers AS o WHERE o.shop = p.shop AND o.part_id = p.id AND o.supplier = ?)", f.Supplier)
	add(f.InStock, "p.stock > 0")
	return where, args
}

// candidateRows finds a window by the indexes on value: one for first
// sections, one for further ones. UNION takes out a can found by both.
const candidateRows = selectPart + `WHERE p.rowid IN (
	SELECT rowid FROM parts
		WHERE shop = ?1 AND technology IN (SELECT value FROM json_each(?2)) AND capacitance_uf BETWEEN ?3 AND ?4 AND rated_v >= ?5
	UNION
	SELECT x.rowid FROM part_sections AS s JOIN parts AS x ON x.shop = s.shop AND x.id = s.part_id
		WHERE s.shop = ?1 AND s.capacitance_uf BETWEEN ?3 AND ?4 AND x.technology IN (SELECT value FROM json_each(?2)) AND x.rated_v >= ?5
	) ORDER BY p.maker, p.part_number`

// Candidates gives the parts in a window.
func (c calls) Candidates(ctx context.Context, shop repo.Shop, w repo.CandidateWindow) ([]repo.Part, error) {
	var parts []repo.Part
	err := c.in.read(ctx, shop, "find candidates", func(q querier) error {
		if err := repo.Storable(w, "window"); err != nil {
			return err
		}
		technologies := w.Technologies
		if len(technologies) == 0 {
			technologies = []part.Technology{part.Electrolytic, part.Film, part.SafetyX, part.SafetyY}
		}
		names, err := json.Marshal(technologies)
		if err != nil {
			return err
		}
		least, most := repo.Bounds(w.MinUF, w.MaxUF)
		parts, err = queryParts(ctx, q, shop, candidateRows, shop, string(names), least, most, w.MinRatedV)
		return err
	})
	return parts, err
}

// queryParts reads the parts that a query selects, in its order, with all that
// belongs to them.
func queryParts(ctx context.Context, q querier, shop repo.Shop, query string, args ...any) ([]repo.Part, error) {
	rows, err := q.QueryContext(ctx, query, args...)
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

func (k *kin) scanPart(rows *sql.Rows) error {
	var p repo.Part
	var created, changed, further int64
	var series sql.NullString
	var ratings []byte
	if err := rows.Scan(&p.ID, &p.Version, &created, &changed, &p.Maker, &p.PartNumber, &series, &p.Technology, &p.Style, &p.CapacitanceUF, &further,
		&p.TolMinusPct, &p.TolPlusPct, &p.RatedV, &p.RatedVAC, &p.SafetyClass, &p.SurgeV, &p.RippleMA, &p.ESROhm, &p.LeakageUA, &p.LeakageMin,
		&ratings, &p.DiameterMM, &p.LengthMM, &p.ThicknessMM, &p.LeadPitchMM, &p.Note); err != nil {
		return err
	}
	p.Series, p.Created, p.Changed = series.String, instant(created), instant(changed)
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
		err := k.each(ctx, q, `SELECT part_id, capacitance_uf FROM part_sections
			WHERE shop = ? AND part_id IN (SELECT value FROM json_each(?)) ORDER BY part_id, place`, k.sectioned, func(rows *sql.Rows) error {
			var id string
			var uf float64
			if err := rows.Scan(&id, &uf); err != nil {
				return err
			}
			byID[id].FurtherSectionsUF = append(byID[id].FurtherSectionsUF, uf)
			return nil
		})
		if err != nil {
			return err
		}
	}
	return k.each(ctx, q, `SELECT part_id, supplier, sku, currency, pack, min_qty, stock, lead_days, preferred, breaks FROM part_offers
		WHERE shop = ? AND part_id IN (SELECT value FROM json_each(?)) ORDER BY part_id, place`, ids, func(rows *sql.Rows) error {
		id, o, err := scanOffer(rows)
		if err != nil {
			return err
		}
		byID[id].Offers = append(byID[id].Offers, o)
		return nil
	})
}

func scanOffer(rows *sql.Rows) (id string, o part.Offer, err error) {
	var breaks string
	if err := rows.Scan(&id, &o.Supplier, &o.SKU, &o.Currency, &o.Pack, &o.MinQty, &o.Stock, &o.LeadDays, &o.Preferred, &breaks); err != nil {
		return "", part.Offer{}, err
	}
	o.Breaks, err = repo.DecodeBreaks(breaks)
	return id, o, err
}

// each runs a query for the rows of some parts. Its first value is the shop,
// its second the ids as a JSON list.
func (k *kin) each(ctx context.Context, q querier, query string, ids []string, scan func(rows *sql.Rows) error, more ...any) error {
	list, err := json.Marshal(ids)
	if err != nil {
		return err
	}
	rows, err := q.QueryContext(ctx, query, append([]any{k.shop, string(list)}, more...)...)
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

// partsByID reads the parts of some ids, in no order.
func partsByID(ctx context.Context, q querier, shop repo.Shop, ids []string) ([]repo.Part, error) {
	list, err := json.Marshal(ids)
	if err != nil {
		return nil, err
	}
	return queryParts(ctx, q, shop, "SELECT "+partColumnNames+" FROM json_each(?2) AS k CROSS JOIN parts AS p ON p.shop = ?1 AND p.id = k.value", shop, string(list))
}
