package pick

import "coldrise/domain/part"

// Status says how a search ended.
type Status string

// The statuses. Every one but Infeasible comes with an order.
const (
	Proven     Status = "proven"     // no order costs less
	NodeLimit  Status = "node_limit" // MaxNodes stopped it: see Bound
	Cancelled  Status = "cancelled"  // the context ended: the best order so far
	Infeasible Status = "infeasible" // no order keeps the limits: see Cures
)

// Order is the answer.
type Order struct {
	Status Status
	// Chosen gives for each place an index into the ways, or −1 where it could not be filled.
	Chosen []int
	// Alternates gives for each place another way over the same places whose first
	// part is another maker's, or −1: in stock before out of stock, then from a
	// supplier that the chosen part is not bought from, then the cheapest by itself.
	Alternates []int
	Lines      []Line
	Drawn      []Drawn    // from the shelf
	Carriage   []Carriage // by supplier with terms of its own that is bought from
	Short      []Shortage // the places that could not be filled
	Cures      []Cure     // the least changes that would fill more, or make the job feasible
	Parts      int        // distinct parts used

	// Total is the sum of the five before it, all in the order's currency.
	Goods, LineCosts, Freight, Extras, ShelfValue, Total part.Money
	// Bound is a proven lower bound on Total with the same places filled; equal to it where Proven.
	Bound part.Money
	Nodes int
}

// Gap is how far the total may be above the least one; 0 where that is proven.
func (o *Order) Gap() part.Money { return o.Total - o.Bound }

// Line is one line of an order: a quantity of a part from one offer.
type Line struct {
	Part     int // index into the parts
	Offer    int // index into that part's offers
	Quantity int
	ForUse   int // of these, what the places take
	ForSpare int // of these, the spares asked for; what is then left was cheaper to buy than not
	// UnitPrice and OwnTotal are in the offer's currency, Total in the order's.
	UnitPrice, OwnTotal, Total part.Money
	Second                     *Second // nil where there is none
}

// Second is a second source for a line: a part that passes in the line's stead
// at every place the line serves, from another maker where there is one, else
// from another supplier.
type Second struct {
	Part, Offer int
	OtherMaker  bool
	InStock     bool // the offer's stock, by the due date if there is one, covers the line's use and spares
}

// Drawn is a number of pieces taken from the shelf.
type Drawn struct {
	Part, Quantity int
	Value          part.Money
}

// Carriage is what one supplier asks for an order.
type Carriage struct {
	Supplier int        // index into Job.Suppliers
	Goods    part.Money // in the supplier's currency
	OwnAsked part.Money // likewise
	Asked    part.Money // in the order's currency; 0 where waived
}

// Shortage is a place without a way that could be built.
type Shortage struct {
	Place  int // index into the places
	Ref    string
	Reason string
}

// CureKind is what a Cure changes.
type CureKind string

// The kinds of cure.
const (
	MoreDays  CureKind = "more_days"  // a later due date
	MorePiece CureKind = "more_stock" // more pieces of some parts
	MoreParts CureKind = "more_parts" // more distinct parts
)

// Cure is the least change of one kind that mends what it says.
type Cure struct {
	Kind   CureKind
	Days   int      // MoreDays: the least due date
	Parts  int      // MoreParts: the least number of distinct parts
	Pieces []Pieces // MorePiece: further pieces by part
	Places []int    // the places it fills
	Text   string
}
