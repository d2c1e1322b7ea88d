package pick

import (
	"strconv"

	"coldrise/domain/part"
	"coldrise/domain/problem"
)

// The limits of a job.
const (
	// MaxPieces is the most pieces that all places of a job and its spares take
	// together, each place by the way that takes most.
	MaxPieces = 200_000
	// maxStock is the limit of part.Offer's stock, and of a shelf.
	maxStock = 100_000_000
	// maxSpare is 1000 per cent.
	maxSpare = 100_000
	maxDays  = 100_000
)

// checker finds what Cheapest cannot reckon with.
type checker struct {
	problem.List
	job *Job
	s   *Settings
}

// check looks at the settings, the suppliers, the places and ways, and the
// parts that the ways name.
func check(job *Job, s *Settings) error {
	c := checker{job: job, s: s}
	c.settings()
	for i := range job.Suppliers {
		c.supplier(i)
	}
	pieces := c.places()
	named := make([]bool, len(job.Parts))
	for i := range job.Ways {
		c.way(i, pieces, named)
	}
	c.pieces(pieces)
	for p, is := range named {
		if is {
			c.part(p)
		}
	}
	return c.Err("order")
}

func (c *checker) whole(pointer string, v, least, most int, message string) bool {
	if v >= least && v <= most {
		return true
	}
	c.Add(problem.Fault{Pointer: pointer, Value: strconv.Itoa(v), Limit: strconv.Itoa(least) + " to " + strconv.Itoa(most), Message: message})
	return false
}

func (c *checker) money(pointer, currency string, m part.Money, message string) {
	if m < 0 || m > part.MaxMoney {
		c.Add(problem.Fault{Pointer: pointer, Value: m.String(), Limit: "0 to " + part.MaxMoney.String(), Unit: currency, Message: message})
	}
}

func (c *checker) settings() {
	s := c.s
	c.money("/settings/line_cost", s.Currency, s.LineCost, "the cost of a line is an amount")
	c.whole("/settings/spare", s.Spare, 0, MaxPieces, "the spare pieces are a count")
	c.whole("/settings/spare_basis_points", s.SpareBasisPoints, 0, maxSpare, "the spares are 0 to 1000 per cent")
	c.whole("/settings/max_parts", s.MaxParts, 0, MaxPieces, "the most distinct parts are a count, 0 for any number")
	if s.DueDays != nil {
		c.whole("/settings/due_days", *s.DueDays, 0, maxDays, "the due date is a number of days from now")
	}
	seen := map[string]bool{}
	for i, r := range s.Rates {
		at := "/settings/rates/" + strconv.Itoa(i)
		switch {
		case r.Currency == s.Currency || seen[r.Currency]:
			c.Addf(at+"/currency", "a rate for %s stands already; the order's own currency has none", r.Currency)
		case r.Num < 1 || r.Num > maxRate || r.Den < 1 || r.Den > maxRate:
			c.Addf(at, "a rate is a fraction of whole numbers from 1 to 10^18")
		}
		seen[r.Currency] = true
	}
}

func (c *checker) supplier(i int) {
	s, at := &c.job.Suppliers[i], "/suppliers/"+strconv.Itoa(i)
	for _, before := range c.job.Suppliers[:i] {
		if before.Name == s.Name {
			c.Addf(at+"/name", "%s stands in the list already", s.Name)
			break
		}
	}
	c.money(at+"/carriage", s.Currency, s.Carriage, "carriage is an amount")
	c.money(at+"/minimum", s.Currency, s.Minimum, "the least order is an amount")
	if s.FreeFrom != nil {
		c.money(at+"/free_from", s.Currency, *s.FreeFrom, "carriage is free from an amount")
	}
	c.whole(at+"/lead_days", s.LeadDays, 0, maxDays, "a lead time is a number of days")
	c.currency(at+"/currency", s.Currency)
}

// currency reports a currency without a rate.
func (c *checker) currency(pointer, currency string) {
	if _, ok := c.s.rate(currency); !ok && !c.s.HomeOnly {
		c.Addf(pointer, "there is no rate from %s to %s", currency, c.s.Currency)
	}
}

// rate gives what converts a currency to the order's.
func (s *Settings) rate(currency string) (Rate, bool) {
	if currency == s.Currency {
		return Rate{Currency: currency, Num: 1, Den: 1}, true
	}
	if s.HomeOnly {
		return Rate{}, false
	}
	for _, r := range s.Rates {
		if r.Currency == currency {
			return r, true
		}
	}
	return Rate{}, false
}

// places gives scratch for the most pieces that each place takes.
func (c *checker) places() []int {
	for i, p := range c.job.Places {
		c.whole("/places/"+strconv.Itoa(i)+"/count", p.Count, 1, MaxPieces, "a place is wanted at least once")
	}
	return make([]int, len(c.job.Places))
}

func (c *checker) way(i int, pieces []int, named []bool) {
	w, at := &c.job.Ways[i], "/ways/"+strconv.Itoa(i)
	if len(w.Places) == 0 {
		c.Addf(at+"/places", "a way fills at least one place")
	}
	c.money(at+"/extra", c.s.Currency, w.Extra, "what a way costs beside its pieces is an amount")
	takes := 0
	for j, t := range w.Pieces {
		here := at + "/pieces/" + strconv.Itoa(j)
		if c.whole(here+"/part", t.Part, 0, len(named)-1, "a piece is of a part, by its index") {
			named[t.Part] = true
		}
		if c.whole(here+"/count", t.Count, 1, MaxPieces, "a way takes at least one piece of each part it names") {
			takes = min(takes+t.Count, MaxPieces+1)
		}
	}
	for j, k := range w.Places {
		here := at + "/places/" + strconv.Itoa(j)
		if !c.whole(here, k, 0, len(pieces)-1, "a place is named by its index") {
			continue
		}
		pieces[k] = max(pieces[k], takes)
		for _, before := range w.Places[:j] {
			if before == k {
				c.Addf(here, "a way fills a place once")
				break
			}
		}
		if first := w.Places[0]; first >= 0 && first < len(pieces) && c.job.Places[k].Count != c.job.Places[first].Count {
			c.Addf(here, "the places of one way are wanted equally often")
		}
	}
}

func (c *checker) pieces(pieces []int) {
	total := 0
	for k, n := range pieces {
		if count := c.job.Places[k].Count; count > 0 && count <= MaxPieces && total <= MaxPieces {
			total += n * count
		}
	}
	if total <= MaxPieces && c.s.Spare >= 0 && c.s.Spare <= MaxPieces && c.s.SpareBasisPoints >= 0 && c.s.SpareBasisPoints <= maxSpare {
		total = c.s.required(total)
	}
	if total > MaxPieces {
		c.Add(problem.Fault{Pointer: "/places", Limit: strconv.Itoa(MaxPieces), Message: "the places and the spares take more pieces than an order can have"})
	}
}

// required is the pieces wanted of a part of which so many are used.
func (s *Settings) required(used int) int {
	if used == 0 {
		return 0
	}
	return used + (used*s.SpareBasisPoints+9_999)/10_000 + s.Spare
}

func (c *checker) part(p int) {
	at := "/parts/" + strconv.Itoa(p)
	c.whole(at+"/shelf", c.job.Parts[p].Shelf, 0, maxStock, "the shelf holds a number of pieces")
	c.money(at+"/book", c.s.Currency, c.job.Parts[p].Book, "a book value is an amount")
	for i := range c.job.Parts[p].Offers {
		c.offer(at+"/offers/"+strconv.Itoa(i), &c.job.Parts[p].Offers[i])
	}
}

func (c *checker) offer(at string, o *part.Offer) {
	if _, ok := c.s.rate(o.Currency); !ok && c.s.HomeOnly {
		return
	}
	c.currency(at+"/currency", o.Currency)
	if s := c.job.supplier(o.Supplier); s >= 0 && c.job.Suppliers[s].Currency != o.Currency {
		c.Addf(at+"/currency", "%s asks in %s, and this offer of theirs in %s", o.Supplier, c.job.Suppliers[s].Currency, o.Currency)
	}
	if o.Pack < 1 {
		c.Add(problem.Fault{Pointer: at + "/pack", Value: strconv.Itoa(o.Pack), Limit: "1", Message: "a pack has at least one piece"})
	}
	if o.Stock > maxStock {
		c.Add(problem.Fault{Pointer: at + "/stock", Value: strconv.Itoa(o.Stock), Limit: strconv.Itoa(maxStock), Message: "a stock within the limit of an offer"})
	}
	for j, b := range o.Breaks {
		c.money(at+"/breaks/"+strconv.Itoa(j)+"/unit_price", o.Currency, b.UnitPrice, "a price is not negative and not beyond the limit")
	}
}

// supplier gives the index of a supplier by its name, or −1.
func (j *Job) supplier(name string) int {
	for i := range j.Suppliers {
		if j.Suppliers[i].Name == name {
			return i
		}
	}
	return -1
}
