package pick

import "coldrise/domain/part"

// Job is what is to be built, the ways to build it, and what can be had for it.
type Job struct {
	Places    []Place
	Ways      []Way
	Parts     []Part
	Suppliers []Supplier
}

// Place is one place to fill: a position of one amplifier. Count is how many
// of that amplifier the run has; they are all built alike.
type Place struct {
	Ref   string // as the answer names it, such as "Saltmarsh 40 C12"
	Count int
}

// Way is a construction that fills one or several places at once: a part by
// itself, a stack of n alike with its balancing resistors, a parallel pair, a
// can whose sections serve several places. Each place is filled by exactly one
// chosen way, so that a can and its discrete set are a way over all the places
// and ways over each.
type Way struct {
	Places []int    // indices into Job.Places, all of the same Count
	Pieces []Pieces // what it takes, each time it is built; may be empty
	// Extra is what it costs beside its pieces, each time it is built: a
	// bracket, work. In the order's currency.
	Extra part.Money
}

// Pieces is a number of pieces of one part.
type Pieces struct{ Part, Count int } // index into Job.Parts

// Part is anything that can be ordered, a capacitor or a balancing resistor.
type Part struct {
	Maker      string
	PartNumber string
	Offers     []part.Offer
	// Shelf is how many the shop has itself, and Book what each of them counts,
	// in the order's currency. The shelf is one more place to buy, without a line
	// cost: at a Book of 0 it is used first, at a higher one it competes.
	Shelf int
	Book  part.Money
}

// Supplier is what a supplier asks beside its offers' prices. An offer names
// it; one that is not among Job.Suppliers asks nothing.
type Supplier struct {
	Name     string
	Currency string // of the amounts here and of all its offers
	// Carriage is asked once of an order that buys anything here, unless the
	// goods come to FreeFrom or more; nil where it is never waived.
	Carriage part.Money
	FreeFrom *part.Money
	// Minimum is the least that the goods of an order here must come to.
	Minimum part.Money
	// LeadDays is added to that of each offer.
	LeadDays int
}

// Rate says that one unit of Currency is Num/Den units of the order's currency.
type Rate struct {
	Currency string
	Num, Den int64
}

// Settings of a search. The zero value but for Currency counts no line cost,
// wants no spares, sets no limits and searches to the end.
type Settings struct {
	Currency string
	// Rates convert the other currencies. Each unit price, carriage and book
	// value is converted by itself, exactly, and rounded to the nearest millionth,
	// half up; sums are then exact. An offer in a currency without a rate is a
	// fault, unless HomeOnly leaves such offers out.
	Rates    []Rate
	HomeOnly bool
	LineCost part.Money // cost of each distinct order line
	// Of each part used, spare pieces are wanted beyond what the places take over
	// the whole run: SpareBasisPoints hundredths of a per cent of that, rounded up
	// to whole pieces, and Spare more.
	SpareBasisPoints int
	Spare            int
	MaxParts         int  // most distinct parts, those from the shelf too; 0 is any number
	DueDays          *int // offers that take longer are not used; nil is no date
	MaxNodes         int  // stop after this many nodes of the search; 0 is DefaultMaxNodes
	// Progress, where not nil, is told now and then how far the search is.
	Progress func(Progress)
}

// Progress is how far a search is.
type Progress struct {
	Found bool       // whether there is an order yet
	Best  part.Money // total of the best order found
	Bound part.Money // proven lower bound on every order's total
	Nodes int
	// Share is the part of the space that is settled, in thousandths; never falling.
	Share int
}
