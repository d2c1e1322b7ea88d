package postgres

import (
	"context"
	"errors"

	"github.com/jackc/pgx/v5"

	"coldrise/repo"
)

// CreateDocument stores a document.
func (c calls) CreateDocument(ctx context.Context, shop repo.Shop, d repo.Document, at repo.Stamp) (repo.Document, error) {
	var made repo.Document
	err := c.in.write(ctx, shop, "create a document", func(tx changer) error {
		if err := repo.CheckDocument(&d, at); err != nil {
			return err
		}
		_, err := tx.Exec(ctx, `INSERT INTO documents (shop, kind, id, version, created_at, changed_at, actor, about, body) VALUES ($1, $2, $3, 1, $4, $4, $5, $6, $7)`,
			shop, d.Kind, d.ID, repo.Instant(at.At), at.By, d.About, string(d.Body))
		switch {
		case codeOf(err) == uniqueViolation:
			return repo.IDTaken(string(d.Kind), d.ID)
		case outOfRange(err):
			return repo.OutOfRange("document", err)
		case err != nil:
			return err
		}
		if err := putDocumentParts(ctx, tx, shop, &d); err != nil {
			return err
		}
		made, err = oneDocument(ctx, tx, shop, d.Kind, d.ID, "")
		return err
	})
	return made, err
}

// ReplaceDocument puts d in place of the version it names.
func (c calls) ReplaceDocument(ctx context.Context, shop repo.Shop, d repo.Document, at repo.Stamp) (repo.Document, error) {
	var changed repo.Document
	err := c.in.write(ctx, shop, "replace a document", func(tx changer) error {
		if err := documentAt(ctx, tx, shop, d.Kind, d.ID, d.Version); err != nil {
			return err
		}
		if err := repo.CheckDocument(&d, at); err != nil {
			return err
		}
		_, err := tx.Exec(ctx, `UPDATE documents SET about = $1, body = $2, actor = $3, changed_at = $4, version = version + 1 WHERE shop = $5 AND kind = $6 AND id = $7`,
			d.About, string(d.Body), at.By, repo.Instant(at.At), shop, d.Kind, d.ID)
		if outOfRange(err) {
			return repo.OutOfRange("document", err)
		}
		if err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, "DELETE FROM document_parts WHERE shop = $1 AND kind = $2 AND document_id = $3", shop, d.Kind, d.ID); err != nil {
			return err
		}
		if err := putDocumentParts(ctx, tx, shop, &d); err != nil {
			return err
		}
		changed, err = oneDocument(ctx, tx, shop, d.Kind, d.ID, "")
		return err
	})
	return changed, err
}

// putDocumentParts writes down what a document rests on. An import that is
// being undone has its parts locked: it goes first, or finds the document.
func putDocumentParts(ctx context.Context, tx changer, shop repo.Shop, d *repo.Document) error {
	if len(d.Parts) == 0 {
		return nil
	}
	if _, err := tx.Exec(ctx, "SELECT 1 FROM parts WHERE shop = $1 AND id = ANY ($2::text[]) ORDER BY id FOR KEY SHARE", shop, d.Parts); err != nil {
		return err
	}
	_, err := tx.Exec(ctx, "INSERT INTO document_parts (shop, kind, document_id, part_id) SELECT $1, $2, $3, id FROM unnest($4::text[]) AS id", shop, d.Kind, d.ID, d.Parts)
	return err
}

// Document gives one document.
func (c calls) Document(ctx context.Context, shop repo.Shop, kind repo.Kind, id string) (repo.Document, error) {
	var d repo.Document
	err := c.in.ask(ctx, shop, "read a document", func(q querier) (err error) {
		d, err = oneDocument(ctx, q, shop, kind, id, "")
		return err
	})
	return d, err
}

// DeleteDocument removes version.
func (c calls) DeleteDocument(ctx context.Context, shop repo.Shop, kind repo.Kind, id string, version int64) error {
	return c.in.write(ctx, shop, "delete a document", func(tx changer) error {
		if err := documentAt(ctx, tx, shop, kind, id, version); err != nil {
			return err
		}
		_, err := tx.Exec(ctx, "DELETE FROM documents WHERE shop = $1 AND kind = $2 AND id = $3", shop, kind, id)
		return err
	})
}

// documentAt refuses where a document is not at a version, and locks it.
func documentAt(ctx context.Context, tx changer, shop repo.Shop, kind repo.Kind, id string, version int64) error {
	have, err := oneDocument(ctx, tx, shop, kind, id, forUpdate)
	if err == nil && have.Version != version {
		err = repo.Changed(string(kind), id, have.Version, version)
	}
	return err
}

// selectDocument reads documents with the parts they rest on.
const selectDocument = `SELECT d.kind, d.id, d.version, d.created_at, d.changed_at, d.actor, d.about, d.body,
	ARRAY (SELECT u.part_id FROM document_parts AS u WHERE u.shop = d.shop AND u.kind = d.kind AND u.document_id = d.id ORDER BY u.part_id)
	FROM documents AS d WHERE `

func oneDocument(ctx context.Context, q querier, shop repo.Shop, kind repo.Kind, id, lock string) (repo.Document, error) {
	if !repo.IsText(id) || !repo.IsText(string(kind)) {
		return repo.Document{}, repo.NotThere(string(kind), id)
	}
	d, err := scanDocument(q.QueryRow(ctx, selectDocument+"d.shop = $1 AND d.kind = $2 AND d.id = $3"+lock, shop, kind, id))
	if errors.Is(err, pgx.ErrNoRows) {
		return d, repo.NotThere(string(kind), id)
	}
	return d, err
}

func scanDocument(row pgx.Row) (repo.Document, error) {
	var d repo.Document
	if err := row.Scan(&d.Kind, &d.ID, &d.Version, &d.Created, &d.Changed, &d.By, &d.About, &d.Body, &d.Parts); err != nil {
		return repo.Document{}, err
	}
	if len(d.Parts) == 0 {
		d.Parts = nil
	}
	return d, nil
}

// Documents lists by id.
func (c calls) Documents(ctx context.Context, shop repo.Shop, f repo.DocumentFilter, p repo.Page) ([]repo.Document, string, error) {
	var documents []repo.Document
	next := ""
	err := c.in.ask(ctx, shop, "list documents", func(q querier) error {
		if err := repo.CheckLimit(p.Limit); err != nil {
			return err
		}
		list, keys, err := repo.DocumentsAfter(shop, f, p)
		if err != nil {
			return err
		}
		query, args := documentsPage(shop, f, keys, p.Limit+1)
		rows, err := q.Query(ctx, query, args...)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			d, err := scanDocument(rows)
			if err != nil {
				return err
			}
			documents = append(documents, d)
		}
		documents, next = repo.Turn(documents, p.Limit, func(last *repo.Document) string { return repo.EncodeCursor(list, last.ID) })
		return rows.Err()
	})
	return documents, next, err
}

func documentsPage(shop repo.Shop, f repo.DocumentFilter, keys []string, limit int) (string, []any) {
	var w clauses
	w.add("d.shop = ? AND d.kind = ?", shop, f.Kind)
	if f.About != "" {
		w.add("d.about = ?", f.About)
	}
	past, order := ">", "d.id"
	if f.LastFirst {
		past, order = "<", "d.id DESC"
	}
	if keys != nil {
		w.add("d.id "+past+" ?", keys[0])
	}
	w.args = append(w.args, limit)
	return selectDocument + w.text() + " ORDER BY " + order + w.last(" LIMIT "), w.args
}
