// Package pick chooses the cheapest whole order: for every position one of
// the parts that pass there, bought at the offers' price breaks, pack
// multiples, least quantities and stock, with a cost per distinct order line.
// The search is exact; where it was stopped early the answer says so and
// gives its bound.
package pick

import "coldrise/domain/part"

// Need is one position to fill.
type Need struct {
	Ref string
	// Options are indices into the parts given to Cheapest, each of which passes here.
	Options []int
	// Quantity is how many of the part the position takes; 1 as a rule.
	Quantity int
}

// Settings of a search. The zero value counts no line cost and searches to the end.
type Settings struct {
	Currency string     // offers in another currency are not used
	LineCost part.Money // cost of each distinct order line
	Spare    int        // further pieces wanted of each part chosen
	MaxNodes int        // stop after this many nodes of the search; 0 is DefaultMaxNodes
}

// Order is the answer.
type Order struct {
	// Choice gives for each need an index into the parts, or -1 where it could not be filled.
	Choice []int
	Lines  []Line
	// Short names the needs that no stock could fill.
	Short []Shortage
	// Total is the sum of the lines and of the line costs.
	LinesTotal, LineCosts, Total part.Money
	// Bound is a proven lower bound on Total for the same needs filled; equal to Total where Proven.
	Bound  part.Money
	Proven bool
	Nodes  int
}

// Line is one line of an order: a quantity of a part from one offer.
type Line struct {
	Part      int // index into the parts
	Offer     int // index into that part's offers
	Quantity  int
	ForUse    int // of these, what the positions take
	UnitPrice part.Money
	Total     part.Money
}

// Shortage is a need without a part in sufficient stock.
type Shortage struct {
	Ref    string
	Reason string
}
