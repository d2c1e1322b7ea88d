package repo

import (
	"context"
	"time"
)

// Kind is a kind of document. The set is closed.
type Kind string

// The kinds of documents. What is in them is their users' business.
const (
	ColumnMap     Kind = "column_map"     // which column of a supplier's file is what
	SheetMap      Kind = "sheet_map"      // where an order goes in the shop's own sheet
	SupplierTerms Kind = "supplier_terms" // a supplier's currency, carriage and free threshold
	Rates         Kind = "rates"          // exchange rates
	PolicyRules   Kind = "policy"         // a named derating policy
	Run           Kind = "run"            // a production run
	Order         Kind = "order"
	BenchRecord   Kind = "bench_record" // as fitted, as measured
	Setting       Kind = "setting"      // of the shop: markup, tax, rounding
)

// Kinds are all kinds.
var Kinds = []Kind{ColumnMap, SheetMap, SupplierTerms, Rates, PolicyRules, Run, Order, BenchRecord, Setting}

// Document is a stored document.
type Document struct {
	Meta
	By    string // who changed it last
	Kind  Kind
	About string   // id of what it is about, such as an order's plan; "" where there is none
	Parts []string // ids of the parts it rests on, ascending, each once; an import that made one is not undone
	Body  []byte   // JSON; given back byte for byte
}

// Documents keeps JSON documents that are read whole and found by kind, id and
// subject alone. An id is unique within its kind, and may be a name.
type Documents interface {
	// CreateDocument stores a document under d's Kind and ID; of d's other Meta
	// it takes no notice. conflict: the id is there. invalid: no such kind, or
	// the body is no JSON; too_large: it is longer than MaxBody.
	CreateDocument(ctx context.Context, shop Shop, d Document, at Stamp) (Document, error)
	// Document gives one document. not_found.
	Document(ctx context.Context, shop Shop, kind Kind, id string) (Document, error)
	// ReplaceDocument puts d in place of the version it names. not_found, stale;
	// invalid, too_large as for CreateDocument.
	ReplaceDocument(ctx context.Context, shop Shop, d Document, at Stamp) (Document, error)
	// DeleteDocument removes version. not_found, stale.
	DeleteDocument(ctx context.Context, shop Shop, kind Kind, id string, version int64) error
	// Documents lists by id, ascending or, where the filter says so, the last
	// first. invalid as for Parts.
	Documents(ctx context.Context, shop Shop, f DocumentFilter, p Page) ([]Document, string, error)
}

// MaxBody is the longest body of a document, in bytes.
const MaxBody = 8 << 20

// DocumentFilter says which documents are listed. About does not narrow where it is "".
type DocumentFilter struct {
	Kind      Kind   `json:"kind"`
	About     string `json:"about"`
	LastFirst bool   `json:"last_first"`
}

// File is a stored file, such as a shop's workbook.
type File struct {
	ID        string
	Name      string
	MediaType string
	Created   time.Time
	By        string
	Content   []byte
}

// MaxFile is the longest file, in bytes.
const MaxFile = 32 << 20

// Files keeps files as they are. One that changes is another file.
type Files interface {
	// SaveFile stores a file. conflict: the id is there. too_large: its content
	// is longer than MaxFile.
	SaveFile(ctx context.Context, shop Shop, f File) error
	// File gives one file. not_found.
	File(ctx context.Context, shop Shop, id string) (File, error)
	// DeleteFile removes a file. not_found.
	DeleteFile(ctx context.Context, shop Shop, id string) error
}

// Claim is a request that may come again, by the name its sender gave it.
type Claim struct {
	Operation   string    // what is asked for; names of two operations are apart
	Name        string    // the sender's, such as an Idempotency-Key
	Fingerprint string    // of the request: the same name with another one is a mistake
	Expires     time.Time // after which the name may be used anew
}

// Claims makes an effect happen once, however often it is asked for: the claim
// is stored in the transaction of its effect.
type Claims interface {
	// Claim takes a name for the transaction. Where it was taken before and has
	// not expired at at, it gives the answer of then and true, and the caller does
	// nothing more. Of two transactions with one name the second waits for the
	// first. invalid: the request of then had another fingerprint.
	Claim(ctx context.Context, shop Shop, c Claim, at Stamp) (answer []byte, again bool, err error)
	// Settle stores the answer to a claim of this transaction. not_found.
	Settle(ctx context.Context, shop Shop, operation, name string, answer []byte) error
}
