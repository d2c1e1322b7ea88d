package sqlite

import (
	"context"
	"database/sql"
	"encoding/json"
	"math"
	"strconv"

	"coldrise/domain/part"
	"coldrise/repo"
)

// Changes lists the changes of parts.
func (c calls) Changes(ctx context.Context, shop repo.Shop, f repo.ChangeFilter, p repo.Page) ([]repo.Change, string, error) {
	var changes []repo.Change
	next := ""
	err := c.in.read(ctx, shop, "list changes", func(q querier) error {
		if err := repo.Storable(f, "filter"); err != nil {
			return err
		}
		if err := repo.CheckLimit(p.Limit); err != nil {
			return err
		}
		list := repo.ChangesList(shop, f)
		after, err := repo.AfterCount(list, p.After)
		if err != nil {
			return err
		}
		query, args := changesPage(shop, f, after)
		rows, err := q.QueryContext(ctx, query, append(args, p.Limit+1)...)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			one, err := scanChange(rows)
			if err != nil {
				return err
			}
			changes = append(changes, one)
		}
		changes, next = repo.Turn(changes, p.Limit, func(last *repo.Change) string { return repo.EncodeCursor(list, strconv.FormatInt(last.Seq, 10)) })
		return rows.Err()
	})
	return changes, next, err
}

const selectChange = "SELECT c.seq, c.part_id, c.kind, c.version, c.at_us, c.actor, c.import_id, c.line, c.before FROM part_changes AS c "

// changesPage gives the query of a page of changes, but for its length; those
// of an import lie between its first and last.
func changesPage(shop repo.Shop, f repo.ChangeFilter, after int64) (string, []any) {
	if f.ImportID != "" {
		query, args := selectChange+`JOIN imports AS i ON i.shop = c.shop AND i.id = c.import_id
			WHERE c.shop = ? AND i.id = ? AND c.seq BETWEEN i.first_seq AND i.last_seq AND c.seq > ?`, []any{shop, f.ImportID, after}
		if f.PartID != "" {
			query, args = query+" AND c.part_id = ?", append(args, f.PartID)
		}
		return query + " ORDER BY c.seq LIMIT ?", args
	}
	if after == 0 {
		after = math.MaxInt64
	}
	if f.PartID != "" {
		return selectChange + "WHERE c.shop = ? AND c.part_id = ? AND c.seq < ? ORDER BY c.seq DESC LIMIT ?", []any{shop, f.PartID, after}
	}
	return selectChange + "WHERE c.shop = ? AND c.seq < ? ORDER BY c.seq DESC LIMIT ?", []any{shop, after}
}

func scanChange(rows *sql.Rows) (repo.Change, error) {
	var one repo.Change
	var at int64
	var before []byte
	if err := rows.Scan(&one.Seq, &one.PartID, &one.Kind, &one.Version, &at, &one.By, &one.ImportID, &one.Line, &before); err != nil {
		return repo.Change{}, err
	}
	one.At = instant(at)
	if before == nil {
		return one, nil
	}
	one.Before = new(part.Part)
	err := json.Unmarshal(before, one.Before)
	repo.DropEmpty(one.Before)
	return one, err
}
