package sqlite

import (
	"context"
	"database/sql"
	"errors"

	codes "modernc.org/sqlite/lib"

	"coldrise/repo"
)

// CreateDocument stores a document.
func (c calls) CreateDocument(ctx context.Context, shop repo.Shop, d repo.Document, at repo.Stamp) (repo.Document, error) {
	var made repo.Document
	err := c.in.write(ctx, shop, "create a document", func(tx *sql.Tx) error {
		if err := repo.CheckDocument(&d, at); err != nil {
			return err
		}
		now := micros(at.At)
		_, err := tx.ExecContext(ctx, `INSERT INTO documents (shop, kind, id, version, created_us, changed_us, actor, about, body) VALUES (?, ?, ?, 1, ?, ?, ?, ?, ?)`,
			shop, d.Kind, d.ID, now, now, at.By, d.About, string(d.Body))
		if codeOf(err) == codes.SQLITE_CONSTRAINT_PRIMARYKEY {
			return repo.IDTaken(string(d.Kind), d.ID)
		}
		if err != nil {
			return err
		}
		if err := putDocumentParts(ctx, tx, shop, &d); err != nil {
			return err
		}
		made, err = oneDocument(ctx, tx, shop, d.Kind, d.ID)
		return err
	})
	return made, err
}

// ReplaceDocument puts d in place of the version it names.
func (c calls) ReplaceDocument(ctx context.Context, shop repo.Shop, d repo.Document, at repo.Stamp) (repo.Document, error) {
	var changed repo.Document
	err := c.in.write(ctx, shop, "replace a document", func(tx *sql.Tx) error {
		if err := documentAt(ctx, tx, shop, d.Kind, d.ID, d.Version); err != nil {
			return err
		}
		if err := repo.CheckDocument(&d, at); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, `UPDATE documents SET about = ?, body = ?, actor = ?, changed_us = ?, version = version + 1 WHERE shop = ? AND kind = ? AND id = ?`,
			d.About, string(d.Body), at.By, micros(at.At), shop, d.Kind, d.ID)
		if err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, "DELETE FROM document_parts WHERE shop = ? AND kind = ? AND document_id = ?", shop, d.Kind, d.ID); err != nil {
			return err
		}
		if err := putDocumentParts(ctx, tx, shop, &d); err != nil {
			return err
		}
		changed, err = oneDocument(ctx, tx, shop, d.Kind, d.ID)
		return err
	})
	return changed, err
}

func putDocumentParts(ctx context.Context, tx *sql.Tx, shop repo.Shop, d *repo.Document) error {
	for _, id := range d.Parts {
		if _, err := tx.ExecContext(ctx, "INSERT INTO document_parts (shop, kind, document_id, part_id) VALUES (?, ?, ?, ?)", shop, d.Kind, d.ID, id); err != nil {
			return err
		}
	}
	return nil
}

// Document gives one document.
func (c calls) Document(ctx context.Context, shop repo.Shop, kind repo.Kind, id string) (repo.Document, error) {
	var d repo.Document
	err := c.in.read(ctx, shop, "read a document", func(q querier) (err error) {
		d, err = oneDocument(ctx, q, shop, kind, id)
		return err
	})
	return d, err
}

// DeleteDocument removes version.
func (c calls) DeleteDocument(ctx context.Context, shop repo.Shop, kind repo.Kind, id string, version int64) error {
	return c.in.write(ctx, shop, "delete a document", func(tx *sql.Tx) error {
		if err := documentAt(ctx, tx, shop, kind, id, version); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, "DELETE FROM documents WHERE shop = ? AND kind = ? AND id = ?", shop, kind, id)
		return err
	})
}

func documentAt(ctx context.Context, q querier, shop repo.Shop, kind repo.Kind, id string, version int64) error {
	have, err := oneDocument(ctx, q, shop, kind, id)
	if err == nil && have.Version != version {
		err = repo.Changed(string(kind), id, have.Version, version)
	}
	return err
}

const selectDocument = "SELECT kind, id, version, created_us, changed_us, actor, about, body FROM documents WHERE shop = ? AND kind = ? "

func oneDocument(ctx context.Context, q querier, shop repo.Shop, kind repo.Kind, id string) (repo.Document, error) {
	d, err := scanDocument(q.QueryRowContext(ctx, selectDocument+"AND id = ?", shop, kind, id))
	if errors.Is(err, sql.ErrNoRows) {
		return d, repo.NotThere(string(kind), id)
	}
	if err != nil {
		return d, err
	}
	all := []repo.Document{d}
	err = addDocumentParts(ctx, q, shop, all)
	return all[0], err
}

func scanDocument(row scanner) (repo.Document, error) {
	var d repo.Document
	var created, changed int64
	if err := row.Scan(&d.Kind, &d.ID, &d.Version, &created, &changed, &d.By, &d.About, &d.Body); err != nil {
		return repo.Document{}, err
	}
	d.Created, d.Changed = instant(created), instant(changed)
	return d, nil
}

// addDocumentParts gives documents of one kind the parts they rest on.
func addDocumentParts(ctx context.Context, q querier, shop repo.Shop, documents []repo.Document) error {
	if len(documents) == 0 {
		return nil
	}
	ids := make([]string, len(documents))
	byID := map[string]*repo.Document{}
	for i := range documents {
		ids[i] = documents[i].ID
		byID[ids[i]] = &documents[i]
	}
	k := kin{shop: shop}
	return k.each(ctx, q, `SELECT document_id, part_id FROM document_parts
		WHERE shop = ?1 AND kind = ?3 AND document_id IN (SELECT value FROM json_each(?2)) ORDER BY document_id, part_id`, ids, func(rows *sql.Rows) error {
		var id, partID string
		if err := rows.Scan(&id, &partID); err != nil {
			return err
		}
		byID[id].Parts = append(byID[id].Parts, partID)
		return nil
	}, documents[0].Kind)
}

// Documents lists by id.
func (c calls) Documents(ctx context.Context, shop repo.Shop, f repo.DocumentFilter, p repo.Page) ([]repo.Document, string, error) {
	var documents []repo.Document
	next := ""
	err := c.in.read(ctx, shop, "list documents", func(q querier) error {
		if err := repo.CheckLimit(p.Limit); err != nil {
			return err
		}
		list, keys, err := repo.DocumentsAfter(shop, f, p)
		if err != nil {
			return err
		}
		query, args := documentsPage(shop, f, keys)
		if documents, err = queryDocuments(ctx, q, query, append(args, p.Limit+1)...); err != nil {
			return err
		}
		documents, next = repo.Turn(documents, p.Limit, func(last *repo.Document) string { return repo.EncodeCursor(list, last.ID) })
		return addDocumentParts(ctx, q, shop, documents)
	})
	return documents, next, err
}

// documentsPage gives the query of a page, but for its length.
func documentsPage(shop repo.Shop, f repo.DocumentFilter, keys []string) (string, []any) {
	query, args := selectDocument, []any{shop, f.Kind}
	if f.About != "" {
		query, args = query+"AND about = ? ", append(args, f.About)
	}
	past, order := ">", "id"
	if f.LastFirst {
		past, order = "<", "id DESC"
	}
	if keys != nil {
		query, args = query+"AND id "+past+" ? ", append(args, keys[0])
	}
	return query + "ORDER BY " + order + " LIMIT ?", args
}

func queryDocuments(ctx context.Context, q querier, query string, args ...any) ([]repo.Document, error) {
	rows, err := q.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var documents []repo.Document
	for rows.Next() {
		d, err := scanDocument(rows)
		if err != nil {
			return nil, err
		}
		documents = append(documents, d)
	}
	return documents, rows.Err()
}
