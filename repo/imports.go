package repo

import (
	"context"
	"iter"
	"time"

	"coldrise/domain/part"
)

// Imports fills the catalogue from files.
type Imports interface {
	// ImportParts stores the parts of rows by maker and part number, all of them
	// or none, and gives the record of it. A part that is there is replaced, and
	// keeps its id; one that is there and the same stays as it is, version and
	// all. The offers of the suppliers a row names take the place of theirs, and
	// other suppliers' stay. One part may be in several rows, for several
	// suppliers: its figures are then the same in each; of two rows for one
	// supplier the later one holds.
	//
	// Rows are taken in as they come, so memory does not grow with them. They are
	// to have been checked before: an error among them ends the import and is
	// returned. The store owns each row. Inside Update, rows may be ranged over
	// again. invalid: a series that is neither there nor given, a part whose
	// figures differ from those of an earlier row, a value no engine can keep;
	// conflict: an id that is there. Such a fault points at /rows/LINE.
	ImportParts(ctx context.Context, shop Shop, in Import, rows iter.Seq2[ImportRow, error], at Stamp) (ImportRecord, error)
	// ImportRecord reads an import back. Its rows are Changes of its id. not_found.
	ImportRecord(ctx context.Context, shop Shop, id string) (ImportRecord, error)
	// ImportRecords lists imports, the last first. invalid as for Parts.
	ImportRecords(ctx context.Context, shop Shop, p Page) ([]ImportRecord, string, error)
	// UndoImport takes an import back: parts it created are withdrawn, parts and
	// series it changed are restored, with a new version. Later imports that were
	// undone themselves do not stand in the way. not_found; conflict, with a fault
	// for each reason, MaxReasons at most: it is undone already; a part or series
	// has been changed since; a part it created is one a document rests on; a
	// series it created has parts of others.
	UndoImport(ctx context.Context, shop Shop, id string, at Stamp) (ImportRecord, error)
}

// MaxReasons is how many reasons a refusal names; the last then says how many
// there are besides.
const MaxReasons = 100

// Import is what an import is, ahead of its rows.
type Import struct {
	ID     string // given by the caller, time-ordered
	Source string // the file's name, as its owner calls it
	SHA256 string // of the file, in hexadecimal digits; "" where there is none
	// Series are stored or replaced ahead of the parts.
	Series []part.Series
	// Findings is a JSON document on the rows that is kept beside the record; nil is null.
	Findings []byte
	// NewID gives an id for a part that is not there yet.
	NewID func() string
	// Progress is told now and then how many rows have been taken in, if it is set.
	Progress func(rows int)
}

// ImportRow is one row of a file.
type ImportRow struct {
	Line int // in the file, for errors and the record; 0 where it has none
	Part part.Part
}

// ImportRecord is what an import did.
type ImportRecord struct {
	ID     string
	Source string
	SHA256 string
	At     time.Time
	By     string
	// Each row counts once.
	Created, Changed, Unchanged int
	Series                      []SeriesChange // those it created or changed
	Findings                    []byte         // JSON
	UndoneAt                    time.Time      // zero while it holds
	UndoneBy                    string
}

// SeriesChange is a series as an import found and as it left it.
type SeriesChange struct {
	Name    string       `json:"name"`
	Version int64        `json:"version"` // that it has since
	Before  *part.Series `json:"before"`  // nil where it was not there
}
