package pick_test

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"coldrise/domain/part"
	"coldrise/domain/pick"
)

// program is an instance as an integer program: which part each need takes,
// the packs bought of each price break, and a binary for each break and each
// part in use. It is built from the offers, not from what the package makes of
// them.
type program struct {
	in      instance
	columns []string // in the order of the objective, which is that of the solvers
	price   map[string]part.Money
	rows    []string
	bounds  []string
	binary  []string
	general []string
	takes   map[string][2]int // need and part
	packs   map[string]sale
}

// sale is one price break of an offer, by the pack.
type sale struct{ part, offer, pack int }

// newProgram writes an instance with so many needs left unfilled; with
// unfilled below 0 their count is what is least instead of the total.
func newProgram(in instance, unfilled int) *program {
	p := &program{in: in, price: map[string]part.Money{}, takes: map[string][2]int{}, packs: map[string]sale{}}
	var out []string
	demand := make([][]string, len(in.parts))
	most := make([]int, len(in.parts))
	for i, n := range in.needs {
		left := fmt.Sprintf("u%d", i)
		p.add(left, 0, &p.binary)
		out = append(out, left)
		terms := []string{left}
		for _, q := range slices.Compact(slices.Sorted(slices.Values(n.Options))) {
			x, used := fmt.Sprintf("x%d_%d", i, q), fmt.Sprintf("z%d", q)
			p.add(x, 0, &p.binary)
			p.takes[x] = [2]int{i, q}
			p.row("%s - %s <= 0", x, used)
			terms = append(terms, x)
			demand[q] = append(demand[q], fmt.Sprintf("- %d %s", n.Quantity, x))
			most[q] += n.Quantity
		}
		p.row("%s = 1", strings.Join(terms, " + "))
	}
	for q := range in.parts {
		if len(demand[q]) > 0 {
			p.sell(q, demand[q], most[q]+in.settings.Spare)
		}
	}
	if unfilled < 0 {
		clear(p.price)
		for _, u := range out {
			p.price[u] = 1_000_000
		}
	} else {
		p.row("%s = %d", strings.Join(out, " + "), unfilled)
	}
	return p
}

// sell writes what can be bought of a part; more than most is never wanted.
func (p *program) sell(q int, demand []string, most int) {
	used := fmt.Sprintf("z%d", q)
	p.add(used, 0, &p.binary)
	var bought []string
	for k, o := range p.in.parts[q].Offers {
		var lines []string
		for j, b := range o.Breaks {
			lo, hi := max(o.MinQty, b.MinQty), o.Stock
			if j+1 < len(o.Breaks) {
				hi = min(hi, o.Breaks[j+1].MinQty-1)
			}
			first, last := (lo+o.Pack-1)/o.Pack, min(hi/o.Pack, max((lo+o.Pack-1)/o.Pack, (most+o.Pack-1)/o.Pack))
			if o.Currency != p.in.settings.Currency || first > last {
				continue
			}
			n, y := fmt.Sprintf("n%d_%d_%d", q, k, j), fmt.Sprintf("y%d_%d_%d", q, k, j)
			p.add(n, b.UnitPrice*part.Money(o.Pack), &p.general)
			p.add(y, p.in.settings.LineCost, &p.binary)
			p.packs[n] = sale{part: q, offer: k, pack: o.Pack}
			p.bounds = append(p.bounds, fmt.Sprintf("0 <= %s <= %d", n, last))
			p.row("%s - %d %s >= 0", n, first, y)
			p.row("%s - %d %s <= 0", n, last, y)
			lines = append(lines, y)
			bought = append(bought, fmt.Sprintf("+ %d %s", o.Pack, n))
		}
		if len(lines) > 1 {
			p.row("%s <= 1", strings.Join(lines, " + "))
		}
	}
	p.row("%s %s - %d %s >= 0", strings.Join(bought, " "), strings.Join(demand, " "), p.in.settings.Spare, used)
}

func (p *program) add(name string, price part.Money, kind *[]string) {
	p.columns = append(p.columns, name)
	p.price[name] = price
	*kind = append(*kind, name)
}

func (p *program) row(format string, args ...any) {
	p.rows = append(p.rows, fmt.Sprintf(" r%d: ", len(p.rows))+fmt.Sprintf(format, args...))
}

// text is the program in CPLEX LP format. Lines are kept short, as both solvers ask.
func (p *program) text() string {
	var b strings.Builder
	b.WriteString("Minimize\n cost:\n")
	for _, c := range p.columns {
		fmt.Fprintf(&b, " + %s %s\n", p.price[c], c)
	}
	b.WriteString("Subject To\n")
	for _, r := range p.rows {
		for k, word := range strings.Fields(r) {
			if k > 0 && k%12 == 0 {
				b.WriteString("\n ")
			}
			b.WriteString(" " + word)
		}
		b.WriteString("\n")
	}
	b.WriteString("Bounds\n " + strings.Join(p.bounds, "\n ") + "\n")
	b.WriteString("Binary\n " + strings.Join(p.binary, "\n ") + "\n")
	if len(p.general) > 0 {
		b.WriteString("General\n " + strings.Join(p.general, "\n ") + "\n")
	}
	b.WriteString("End\n")
	return b.String()
}

// order makes an order of a solver's rounded values and prices it in whole
// numbers by the offers alone.
func (p *program) order(value map[string]int) pick.Order {
	o := pick.Order{Choice: make([]int, len(p.in.needs))}
	used := map[int]int{}
	for i := range o.Choice {
		o.Choice[i] = -1
	}
	for x, at := range p.takes {
		if value[x] == 1 {
			o.Choice[at[0]] = at[1]
			used[at[1]] += p.in.needs[at[0]].Quantity
		}
	}
	for i, c := range o.Choice {
		if c < 0 {
			o.Short = append(o.Short, pick.Shortage{Ref: p.in.needs[i].Ref})
		}
	}
	left := maps.Clone(used)
	for _, n := range p.columns {
		s, is := p.packs[n]
		if !is || value[n] == 0 || used[s.part] == 0 {
			continue
		}
		l := pick.Line{Part: s.part, Offer: s.offer, Quantity: s.pack * value[n]}
		l.UnitPrice, _ = priceOf(p.in.parts[s.part].Offers[s.offer], l.Quantity, p.in.settings.Currency)
		l.Total = l.UnitPrice * part.Money(l.Quantity)
		l.ForUse = min(l.Quantity, left[s.part])
		left[s.part] -= l.ForUse
		o.Lines = append(o.Lines, l)
		o.LinesTotal += l.Total
	}
	o.LineCosts = p.in.settings.LineCost * part.Money(len(o.Lines))
	o.Total = o.LinesTotal + o.LineCosts
	return o
}
