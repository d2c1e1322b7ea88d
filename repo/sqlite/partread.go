package sqlite

import (
	"context"
	"database/sql"
	"encoding/json"
	"strings"

	"coldrise/domain/part"
	"coldrise/repo"
)

const selectPart = `SELECT id, version, created_us, changed_us, maker, part_number, series, technology, style, capacitance_uf, tol_minus_pct,
	tol_plus_pct, rated_v, rated_v_ac, safety_class, surge_v, ripple_ma, esr_ohm, leakage_ua, leakage_min, ratings, diameter_mm, length_mm, thickness_mm,
	lead_pitch_mm, note FROM parts `

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
		if parts, err = queryParts(ctx, q, shop, where, args...); err != nil {
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
	where, args := partClauses(f)
	where = append([]string{"shop = ?"}, where...)
	args = append([]any{shop}, args...)
	if keys != nil {
		where = append(where, "(maker, part_number) > (?, ?)")
		args = append(args, keys[0], keys[1])
	}
	return "WHERE " + strings.Join(where, " AND ") + " ORDER BY maker, part_number LIMIT ?", append(args, p.Limit+1), nil
}

// partClauses gives the conditions of a filter.
func partClauses(f repo.PartFilter) (where []string, args []any) {
	add := func(narrows bool, clause string, values ...any) {
		if narrows {
			where, args = append(where, clause), append(args, values...)
		}
	}
	add(f.Maker != "", "maker = ?", f.Maker)
	add(f.Series != "", "series = ?", f.Series)
	add(f.Technology != "", "technology = ?", f.Technology)
	add(f.Style != "", "style = ?", f.Style)
	least, most := repo.Bounds(f.MinUF, f.MaxUF)
	add(f.MinUF != 0 || f.MaxUF != 0, `(capacitance_uf BETWEEN ? AND ? OR further_count > 0 AND EXISTS (SELECT 1 FROM part_sections
		WHERE part_sections.shop = parts.shop AND part_id = id AND part_sections.capacitance_uf BETWEEN ? AND ?))`, least, most, least, most)
	add(f.MinRatedV != 0, "rated_v >= ?", f.MinRatedV)
	add(f.InStock, "stock > 0")
	return where, args
}

// candidateRows finds a window by the indexes on value: one for first
// sections, one for further ones. UNION takes out a can found by both.
const candidateRows = `WHERE rowid IN (
	SELECT rowid FROM parts
		WHERE shop = ?1 AND technology IN (SELECT value FROM json_each(?2)) AND capacitance_uf BETWEEN ?3 AND ?4 AND rated_v >= ?5
	UNION
	SELECT p.rowid FROM part_sections AS s JOIN parts AS p ON p.shop = s.shop AND p.id = s.part_id
		WHERE s.shop = ?1 AND s.capacitance_uf BETWEEN ?3 AND ?4 AND p.technology IN (SELECT value FROM json_each(?2)) AND p.rated_v >= ?5
	) ORDER BY maker, part_number`

// Candidates gives the parts in a window.
func (s *Store) Candidates(ctx context.Context, shop repo.Shop, w repo.CandidateWindow) ([]repo.Part, error) {
	var parts []repo.Part
	err := s.read(ctx, shop, "find candidates", func(q querier) error {
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

// queryParts reads the parts that the clauses select, in their order, with
// all that belongs to them.
func queryParts(ctx context.Context, q querier, shop repo.Shop, clauses string, args ...any) ([]repo.Part, error) {
	rows, err := q.QueryContext(ctx, selectPart+clauses, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var parts []repo.Part
	for rows.Next() {
		p, err := scanPart(rows)
		if err != nil {
			return nil, err
		}
		parts = append(parts, p)
	}
	if err := rows.Err(); err != nil {
		return nil, err
	}
	return parts, addKin(ctx, q, shop, parts)
}

func scanPart(rows *sql.Rows) (repo.Part, error) {
	var p repo.Part
	var created, changed int64
	var series sql.NullString
	var ratings []byte
	err := rows.Scan(&p.ID, &p.Version, &created, &changed, &p.Maker, &p.PartNumber, &series, &p.Technology, &p.Style, &p.CapacitanceUF,
		&p.TolMinusPct, &p.TolPlusPct, &p.RatedV, &p.RatedVAC, &p.SafetyClass, &p.SurgeV, &p.RippleMA, &p.ESROhm, &p.LeakageUA, &p.LeakageMin, &ratings,
		&p.DiameterMM, &p.LengthMM, &p.ThicknessMM, &p.LeadPitchMM, &p.Note)
	if err != nil {
		return repo.Part{}, err
	}
	p.Series, p.Created, p.Changed = series.String, instant(created), instant(changed)
	if ratings != nil {
		if err := json.Unmarshal(ratings, &p.Ratings); err != nil {
			return repo.Part{}, err
		}
		repo.DropEmpty(&p.Ratings)
	}
	return p, nil
}
