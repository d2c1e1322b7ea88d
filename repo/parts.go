package repo

import (
	"context"
	"iter"
	"time"

	"coldrise/domain/part"
)

// PartFilter narrows a list of parts, and says in which order it comes. Zero
// members do not narrow.
type PartFilter struct {
	Maker         string          `json:"maker"`
	Series        string          `json:"series"`
	Technology    part.Technology `json:"technology"`
	Style         part.Style      `json:"style"`
	MinUF         float64         `json:"min_uf"` // multi-section parts count by any of their sections
	MaxUF         float64         `json:"max_uf"`
	MinRatedV     float64         `json:"min_rated_v"`
	MaxRatedV     float64         `json:"max_rated_v"`
	MaxDiameterMM float64         `json:"max_diameter_mm"` // a part without its size is not within any
	MaxLengthMM   float64         `json:"max_length_mm"`
	Supplier      string          `json:"supplier"` // who offers it
	InStock       bool            `json:"in_stock"` // with any supplier
	Order         PartOrder       `json:"order"`
	// Currency is that of the prices of ByPrice, which lists only the parts that
	// are offered in it; other orders take no notice.
	Currency string `json:"currency"`
}

// PartOrder is an order in which parts are listed. Each is of the whole list:
// equals follow one another by id.
type PartOrder string

// The orders.
const (
	ByNumber      PartOrder = ""            // maker, then part number, byte order
	ByCapacitance PartOrder = "capacitance" // of the first section, then rated volts
	ByRating      PartOrder = "rating"      // rated volts, then capacitance
	ByPrice       PartOrder = "price"       // least price of one piece at an offer's least quantity
	ByChange      PartOrder = "change"      // the last changed first
)

// CandidateWindow asks for the parts worth judging for one position. Multi-section
// parts count by any of their sections. Zero members do not narrow.
type CandidateWindow struct {
	Technologies []part.Technology `json:"technologies"`
	MinUF        float64           `json:"min_uf"`
	MaxUF        float64           `json:"max_uf"`
	MinRatedV    float64           `json:"min_rated_v"`
}

// Parts keeps the catalogue. Every change of a part is recorded.
type Parts interface {
	// CreatePart stores a part. conflict: maker and part number, or id, are there.
	// invalid: the series is not there.
	CreatePart(ctx context.Context, shop Shop, id string, p part.Part, at Stamp) (Part, error)
	// Part gives one part. not_found.
	Part(ctx context.Context, shop Shop, id string) (Part, error)
	// ReplacePart puts p in place of version. not_found; stale: another version is
	// there; conflict: its maker and part number are another part's; invalid: no such series.
	ReplacePart(ctx context.Context, shop Shop, id string, version int64, p part.Part, at Stamp) (Part, error)
	// DeletePart removes version. not_found, stale.
	DeletePart(ctx context.Context, shop Shop, id string, version int64, at Stamp) error
	// Parts lists in the order of the filter, and gives the next page's After, ""
	// at the end. Parts that are there throughout a walk of the pages, and whose
	// place in the order does not change, come exactly once. invalid: a cursor
	// that is not this list's, a limit out of range, no such order, or ByPrice
	// without a currency.
	Parts(ctx context.Context, shop Shop, f PartFilter, p Page) ([]Part, string, error)
	// EachPart gives all parts of a filter in its order, from one snapshot and
	// without gathering them. An error comes last, beside a zero Part; its codes
	// are those of Parts. The loop holds a connection: nothing of the store may be
	// called in it, and the context is to end in time.
	EachPart(ctx context.Context, shop Shop, f PartFilter) iter.Seq2[Part, error]
	// Candidates gives the parts in a window, by maker, then part number.
	Candidates(ctx context.Context, shop Shop, w CandidateWindow) ([]Part, error)
	// Changes lists the changes of parts: those of an import in the order of its
	// lines, others with the last first. The cursor is as for Parts.
	Changes(ctx context.Context, shop Shop, f ChangeFilter, p Page) ([]Change, string, error)

	// LoadCatalogue stores series and parts at once if the shop has no parts at
	// all, and says whether it did. All or nothing. IDs go with the parts.
	LoadCatalogue(ctx context.Context, shop Shop, series []part.Series, ids []string, parts []part.Part, at Stamp) (bool, error)
}

// ChangeFilter narrows a list of changes. Zero members do not narrow.
type ChangeFilter struct {
	PartID   string `json:"part_id"`
	ImportID string `json:"import_id"`
}

// Change is one change of a part.
type Change struct {
	Seq      int64 // ascending with time; unique in the shop
	PartID   string
	Kind     ChangeKind
	Version  int64 // that the part has since; of one that is gone, the last it had
	At       time.Time
	By       string
	ImportID string     // "" where no import made the change
	Line     int        // of the import's file; 0 where it has none
	Before   *part.Part // nil of a creation
}

// ChangeKind is what a change did.
type ChangeKind string

// The kinds of change. The last two are an undone import's, on the parts it had
// changed and on those it had created.
const (
	Created   ChangeKind = "created"
	Replaced  ChangeKind = "replaced"
	Deleted   ChangeKind = "deleted"
	Restored  ChangeKind = "restored"
	Withdrawn ChangeKind = "withdrawn"
)

// SeriesKeeper keeps series.
type SeriesKeeper interface {
	// PutSeries stores or replaces a series by its name, whatever its version.
	PutSeries(ctx context.Context, shop Shop, s part.Series, at Stamp) error
	// CreateSeries stores a series. conflict: the name is there.
	CreateSeries(ctx context.Context, shop Shop, s part.Series, at Stamp) (Series, error)
	// OneSeries gives one series. not_found.
	OneSeries(ctx context.Context, shop Shop, name string) (Series, error)
	// ReplaceSeries puts s in place of version of the series of its name. not_found, stale.
	ReplaceSeries(ctx context.Context, shop Shop, version int64, s part.Series, at Stamp) (Series, error)
	// DeleteSeries removes version. not_found, stale; conflict: parts are of it.
	DeleteSeries(ctx context.Context, shop Shop, name string, version int64) error
	// Series gives all series by name. A shop has tens of them, not thousands.
	Series(ctx context.Context, shop Shop) ([]part.Series, error)
}
