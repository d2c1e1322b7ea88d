// Package repo is the seam between coldrise and its database. Store is the
// contract; repotest proves it of an engine; sqlite is the embedded default.
//
// Only domain values and *problem.Error cross it. Every row belongs to a
// shop, and no method works without one: a row of another shop is not found.
// Callers own what they are given, and may change it.
//
// What was stored comes back bit for bit, but for three things: a list that
// is empty comes back nil, an instant comes back in UTC and whole
// microseconds, and the sign of a zero may be lost. Lists of rows are nil
// where there are none.
package repo

import (
	"context"
	"time"

	"coldrise/domain/amp"
	"coldrise/domain/part"
)

// Shop names whose rows are meant.
type Shop string

// Bench is the shop of an installation that has only one.
const Bench Shop = "bench"

// Meta is what the store keeps beside a row.
type Meta struct {
	ID      string    // given by the caller at creation, time-ordered
	Version int64     // 1 at creation, one more with every change
	Created time.Time // UTC, whole microseconds
	Changed time.Time
}

// Part is a stored part.
type Part struct {
	Meta
	part.Part
}

// Amp is a stored amplifier.
type Amp struct {
	Meta
	amp.Amplifier
}

// Plan is a stored plan: the document as it was answered, byte for byte.
type Plan struct {
	ID       string
	AmpID    string // "" where the amplifier was not stored
	AmpName  string
	Created  time.Time
	Document []byte // JSON; given back unchanged
}

// Page asks for part of a list. Lists are in the order of their method's comment.
type Page struct {
	Limit int    // 1 to MaxPage
	After string // the Next of the page before; "" for the first
}

// MaxPage is the longest page.
const MaxPage = 200

// PartFilter narrows a list of parts. Zero members do not narrow.
type PartFilter struct {
	Maker      string          `json:"maker"`
	Series     string          `json:"series"`
	Technology part.Technology `json:"technology"`
	Style      part.Style      `json:"style"`
	MinUF      float64         `json:"min_uf"` // multi-section parts count by any of their sections
	MaxUF      float64         `json:"max_uf"`
	MinRatedV  float64         `json:"min_rated_v"`
	InStock    bool            `json:"in_stock"` // with any supplier
}

// CandidateWindow asks for the parts worth judging for one position. Multi-section
// parts count by any of their sections. Zero members do not narrow.
type CandidateWindow struct {
	Technologies []part.Technology `json:"technologies"`
	MinUF        float64           `json:"min_uf"`
	MaxUF        float64           `json:"max_uf"`
	MinRatedV    float64           `json:"min_rated_v"`
}

// Stamp is who makes a change and when; the time is the caller's, so that
// stores have no clock. It is cut to whole microseconds.
type Stamp struct {
	At time.Time
}

// Store keeps a shop's catalogue, amplifiers and plans. All methods may be
// called from many goroutines. Besides the codes named, any may return
// cancelled, busy or internal. Any that stores or filters may return invalid
// for a value that no engine can keep: a number that is not finite or far
// beyond the domain's limits, a word of no closed set, text that is not UTF-8
// or holds a NUL, an empty id.
type Store interface {
	// CreatePart stores a part. conflict: maker and part number, or id, are there.
	// invalid: the series is not there.
	CreatePart(ctx context.Context, shop Shop, id string, p part.Part, at Stamp) (Part, error)
	// Part gives one part. not_found.
	Part(ctx context.Context, shop Shop, id string) (Part, error)
	// ReplacePart puts p in place of version. not_found; stale: another version is
	// there; conflict: its maker and part number are another part's; invalid: no such series.
	ReplacePart(ctx context.Context, shop Shop, id string, version int64, p part.Part, at Stamp) (Part, error)
	// DeletePart removes version. not_found, stale.
	DeletePart(ctx context.Context, shop Shop, id string, version int64) error
	// Parts lists by maker, then part number (byte order), and gives the next
	// page's After, "" at the end. invalid: a cursor that is not this list's, or a limit out of range.
	Parts(ctx context.Context, shop Shop, f PartFilter, p Page) ([]Part, string, error)
	// Candidates gives the parts in a window, by maker, then part number.
	Candidates(ctx context.Context, shop Shop, w CandidateWindow) ([]Part, error)

	// PutSeries stores or replaces a series by its name.
	PutSeries(ctx context.Context, shop Shop, s part.Series, at Stamp) error
	// Series gives all series by name. A shop has tens of them, not thousands.
	Series(ctx context.Context, shop Shop) ([]part.Series, error)

	// LoadCatalogue stores series and parts at once if the shop has no parts at
	// all, and says whether it did. All or nothing. IDs go with the parts.
	LoadCatalogue(ctx context.Context, shop Shop, series []part.Series, ids []string, parts []part.Part, at Stamp) (bool, error)

	// CreateAmp stores an amplifier. conflict: the id is there.
	CreateAmp(ctx context.Context, shop Shop, id string, a amp.Amplifier, at Stamp) (Amp, error)
	// Amp gives one amplifier. not_found.
	Amp(ctx context.Context, shop Shop, id string) (Amp, error)
	// ReplaceAmp puts a in place of version. not_found, stale.
	ReplaceAmp(ctx context.Context, shop Shop, id string, version int64, a amp.Amplifier, at Stamp) (Amp, error)
	// DeleteAmp removes version. Plans made for it stay. not_found, stale.
	DeleteAmp(ctx context.Context, shop Shop, id string, version int64) error
	// Amps lists by id, which is by time of creation. invalid as for Parts.
	Amps(ctx context.Context, shop Shop, p Page) ([]Amp, string, error)

	// SavePlan stores a plan for good. conflict: the id is there. not_found: AmpID
	// is set and there is no such amplifier.
	SavePlan(ctx context.Context, shop Shop, p Plan) error
	// Plan gives one plan, its document byte for byte. not_found.
	Plan(ctx context.Context, shop Shop, id string) (Plan, error)
	// Plans lists the plans of an amplifier, newest first, without documents. invalid as for Parts.
	Plans(ctx context.Context, shop Shop, ampID string, p Page) ([]Plan, string, error)

	// Ready reads and, at most every few seconds, writes; an error means the store can't serve.
	Ready(ctx context.Context) error
	// Close lets go of the database. The store is not usable after it.
	Close() error
}
