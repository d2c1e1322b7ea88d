package postgres

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"coldrise/domain/part"
	"coldrise/domain/problem"
	"coldrise/repo"
)

const partColumnNames = `p.id, p.version, p.created_at, p.changed_at, p.maker, p.part_number, p.series, p.technology, p.style, p.capacitance_uf, p.further_count,
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

var (
	// errStopped ends a loop that its caller has left.
	errStopped = errors.New("the loop was left")
	// errBegun ends a loop that cannot begin again.
	errBegun = &problem.Error{Code: problem.Busy, Message: "the database is busy; try again"}
)

// EachPart gives all parts of a filter from one snapshot.
func (c calls) EachPart(ctx context.Context, shop repo.Shop, f repo.PartFilter) iter.Seq2[repo.Part, error] {
	return func(yield func(repo.Part, error) bool) {
		begun := false
		err := c.in.read(ctx, shop, "read all parts", func(q querier) error {
			if err := repo.CheckFilter(f); err != nil {
				return err
			}
			if begun {
				return errBegun
			}
			list := repo.PartsList(shop, f)
			for cursor := ""; ; begun = true {
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
	repo.ByChange:      {"parts AS p", "p.changed_at, p.id", "p.changed_at DESC, p.id DESC", "<"},
	repo.ByPrice:       {"part_offers AS c JOIN parts AS p ON p.shop = c.shop AND p.id = c.part_id", "c.price_micro, c.part_id", "c.price_micro, c.part_id", ">"},
}

// partsPage gives the query for the parts of a filter behind the keys of a row.
func partsPage(shop repo.Shop, f repo.PartFilter, after []any, limit int) (string, []any) {
	o := orders[f.Order]
	var w clauses
	w.narrow(shop, f)
	if after != nil {
		if f.Order == repo.ByChange {
			after = append([]any{time.UnixMicro(after[0].(int64)).UTC()}, after[1:]...)
		}
		w.add("("+o.keys+") "+o.past+" (?"+strings.Repeat(", ?", len(after)-1)+")", after...)
	}
	w.args = append(w.args, limit)
	return "SELECT " + partColumnNames + " FROM " + o.from + " WHERE " + w.text() + " ORDER BY " + o.by + w.last(" LIMIT "), w.args
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

func (c *clauses) text() string { return strings.Join(c.where, " AND ") }

// last writes words and the place of the last value behind them.
func (c *clauses) last(words string) string { return fmt.Sprintf("%s$%d", words, len(c.args)) }

// narrow takes the conditions of a filter.
func (c *clauses) narrow(shop repo.Shop, f repo.PartFilter) {
	add := func(narrows bool, condition string, values ...any) {
		if narrows {
			c.add(condition, values...)
		}
	}
	add(f.Order != repo.ByPrice, "p.shop = ?", shop)
	add(f.Order == repo.ByPrice, "c.shop = ? AND c.cheapest AND c.currency = ?", shop, f.Currency)
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
}

// candidateRows finds a window by the indexes on value: one for first
// sections, one for further ones of the parts that the first does not find.
const candidateRows = selectPart + `WHERE p.shop = $1 AND p.technology = ANY ($2::text[]) AND p.capacitance_uf BETWEEN $3 AND $4 AND p.rated_v >= $5
	UNION ALL
	` + selectPart + `WHERE p.shop = $1 AND p.technology = ANY ($2::text[]) AND NOT p.capacitance_uf BETWEEN $3 AND $4 AND p.rated_v >= $5
		AND p.id IN (SELECT part_id FROM part_sections WHERE shop = $1 AND capacitance_uf BETWEEN $3 AND $4)
	ORDER BY maker, part_number`

// Candidates gives the parts in a window.
func (c calls) Candidates(ctx context.Context, shop repo.Shop, w repo.CandidateWindow) ([]repo.Part, error) {
	var parts []repo.Part
	err := c.in.read(ctx, shop, "find candidates", func(q querier) (err error) {
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

// partsByID reads the parts of some ids, in no order.
func partsByID(ctx context.Context, q querier, shop repo.Shop, ids []string) ([]repo.Part, error) {
	return queryParts(ctx, q, shop, selectPart+"WHERE p.shop = $1 AND p.id = ANY ($2::text[])", shop, ids)
}
