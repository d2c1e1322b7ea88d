package postgres

import (
	"context"
	"encoding/json"
	"math"
	"strconv"

	"github.com/jackc/pgx/v5"

	"coldrise/domain/part"
	"coldrise/repo"
)

// Changes lists the changes of parts.
func (c calls) Changes(ctx context.Context, shop repo.Shop, f repo.ChangeFilter, p repo.Page) ([]repo.Change, string, error) {
	var changes []repo.Change
	next := ""
	err := c.in.ask(ctx, shop, "list changes", func(q querier) error {
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
		if changes, err = queryChanges(ctx, q, shop, f, after, p.Limit+1); err != nil {
			return err
		}
		changes, next = repo.Turn(changes, p.Limit, func(last *repo.Change) string { return repo.EncodeCursor(list, strconv.FormatInt(last.Seq, 10)) })
		return nil
	})
	return changes, next, err
}

const selectChange = "SELECT c.seq, c.part_id, c.kind, c.version, c.at, c.actor, c.import_id, c.line, c.before FROM part_changes AS c "

// changesPage gives the query of a page of changes; those of an import lie
// between its first and last, where those of others may be as well.
func changesPage(shop repo.Shop, f repo.ChangeFilter, after int64, limit int) (string, []any) {
	var w clauses
	query, order := selectChange, "DESC"
	w.add("c.shop = ?", shop)
	if f.ImportID != "" {
		query, order = query+"JOIN imports AS i ON i.shop = c.shop AND i.id = c.import_id ", "ASC"
		w.add("i.id = ?", f.ImportID)
		w.add("c.seq BETWEEN i.first_seq AND i.last_seq")
		w.add("c.seq > ?", after)
	} else if after == 0 {
		w.add("c.seq < ?", int64(math.MaxInt64))
	} else {
		w.add("c.seq < ?", after)
	}
	if f.PartID != "" {
		w.add("c.part_id = ?", f.PartID)
	}
	w.args = append(w.args, limit)
	return query + "WHERE " + w.text() + " ORDER BY c.seq " + order + w.last(" LIMIT "), w.args
}

func queryChanges(ctx context.Context, q querier, shop repo.Shop, f repo.ChangeFilter, after int64, limit int) ([]repo.Change, error) {
	query, args := changesPage(shop, f, after, limit)
	rows, err := q.Query(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var changes []repo.Change
	for rows.Next() {
		one, err := scanChange(rows)
		if err != nil {
			return nil, err
		}
		changes = append(changes, one)
	}
	return changes, rows.Err()
}

func scanChange(row pgx.Row) (repo.Change, error) {
	var one repo.Change
	var before []byte
	if err := row.Scan(&one.Seq, &one.PartID, &one.Kind, &one.Version, &one.At, &one.By, &one.ImportID, &one.Line, &before); err != nil {
		return repo.Change{}, err
	}
	if before == nil {
		return one, nil
	}
	one.Before = new(part.Part)
	err := json.Unmarshal(before, one.Before)
	repo.DropEmpty(one.Before)
	return one, err
}
