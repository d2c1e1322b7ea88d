// Package repo is the seam between coldrise and its database. Store is the
// contract; repotest proves it of an engine; sqlite is the embedded default.
//
// Only domain values and *problem.Error cross it. Every row belongs to a
// shop, and no method works without one: a row of another shop is not found.
// Callers own what they are given, and may change it.
//
// The store is made of small interfaces, one for each thing that is kept. A
// caller that needs two methods declares its own.
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

// Series is a stored series; its ID is its name.
type Series struct {
	Meta
	part.Series
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

// Stamp is who makes a change and when; the time is the caller's, so that
// stores have no clock. It is cut to whole microseconds.
type Stamp struct {
	At time.Time
	By string // "" where nobody asked who it is
}

// Store keeps all that a shop has. All methods may be called from many
// goroutines. Besides the codes named, any may return cancelled, busy or
// internal. Any that stores or filters may return invalid for a value that no
// engine can keep: a number that is not finite or far beyond the domain's
// limits, a word of no closed set, text that is not UTF-8 or holds a NUL, an
// empty id.
type Store interface {
	Keeper

	// Update runs fn in one transaction: all that fn does through tx is stored
	// where fn returns nil, and none of it otherwise. A change that tx refused
	// spoils the transaction, whatever fn returns: its error is then Update's.
	// fn may be called again, where the database ends the transaction in favour
	// of another, so it must do the same each time; it may use nothing of the
	// store but tx, and tx only until it returns. Codes: those of what fn does.
	Update(ctx context.Context, fn func(tx Tx) error) error

	// Ready reads and, at most every few seconds, writes; an error means the store can't serve.
	Ready(ctx context.Context) error
	// Close lets go of the database. The store is not usable after it.
	Close() error
}

// Tx is a store within one transaction.
type Tx interface {
	Keeper
	Claims
}

// Keeper is all that can be kept and read, at once or within a transaction.
type Keeper interface {
	Parts
	SeriesKeeper
	Imports
	Amps
	Plans
	Documents
	Files
}

// Amps keeps amplifiers.
type Amps interface {
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
}

// Plans keeps plans. A plan holds the ratings it was made with: its document
// is never touched again.
type Plans interface {
	// SavePlan stores a plan for good. conflict: the id is there. not_found: AmpID
	// is set and there is no such amplifier.
	SavePlan(ctx context.Context, shop Shop, p Plan) error
	// Plan gives one plan, its document byte for byte. not_found.
	Plan(ctx context.Context, shop Shop, id string) (Plan, error)
	// Plans lists the plans of an amplifier, newest first, without documents. invalid as for Parts.
	Plans(ctx context.Context, shop Shop, ampID string, p Page) ([]Plan, string, error)
}
