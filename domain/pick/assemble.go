package pick

import (
	"coldrise/domain/part"
	"coldrise/domain/problem"
)

// assemble writes the order out.
func (c *compiler) assemble(f found) (Order, error) {
	o := Order{Status: f.status, Nodes: f.nodes, Bound: f.bound.money(c.scale), Chosen: f.chosen(len(c.job.Places))}
	used := make([]int, len(c.job.Parts))
	for k, w := range o.Chosen {
		if w == none {
			o.Short = append(o.Short, Shortage{Place: k, Ref: c.job.Places[k].Ref, Reason: c.reason(k)})
		}
	}
	counted := make([]bool, len(c.job.Ways))
	for _, w := range o.Chosen {
		if w == none || len(c.job.Ways[w].Places) > 1 && counted[w] {
			continue
		}
		counted[w] = true
		o.Extras += c.job.Ways[w].Extra.Times(c.job.Places[c.job.Ways[w].Places[0]].Count)
		for _, t := range c.takes(w) {
			used[t.Part] += t.Count
		}
	}
	lots := c.lots(f)
	for p, n := range used {
		if n > 0 {
			o.Parts++
			c.write(&o, p, n, lots[p])
		}
	}
	c.freight(&o)
	for _, l := range o.Lines {
		o.Goods += l.Total
	}
	for _, d := range o.Drawn {
		o.ShelfValue += d.Value
	}
	for _, s := range o.Carriage {
		o.Freight += s.Asked
	}
	o.LineCosts = c.s.LineCost.Times(len(o.Lines))
	o.Total = o.Goods + o.LineCosts + o.Freight + o.Extras + o.ShelfValue
	if o.Total > part.MaxMoney {
		return Order{}, problem.New(problem.Invalid, "the cheapest order passes %s, the largest amount there is", part.MaxMoney)
	}
	if f.status == Proven {
		o.Bound = o.Total
	}
	return o, nil
}

func (c *compiler) reason(k int) string {
	if c.why[k] != "" {
		return c.why[k]
	}
	return "the stock of its parts does not reach for this position beside the others"
}

// chosen gives each place's way: a group's places in their order take the
// group's ways in theirs.
func (f *found) chosen(n int) []int {
	chosen := make([]int, n)
	for i := range chosen {
		chosen[i] = none
	}
	for i := range f.g.groups {
		at := 0
		for _, w := range f.g.groups[i].ways {
			x := &f.g.ways[w]
			for range f.best.x[w] {
				if len(x.cover) > 1 {
					chosen[f.g.groups[i].places[0]] = x.from[0]
				} else if x.from != nil {
					chosen[f.g.groups[i].places[at]] = x.from[at]
				}
				at++
			}
		}
	}
	return chosen
}

// lots gives by part what is bought.
func (c *compiler) lots(f found) [][]lot {
	all := make([][]lot, len(c.job.Parts))
	load := make([]int, len(f.g.goods))
	for w, n := range f.best.x {
		for _, t := range f.g.ways[w].takes {
			load[t.good] += n * t.units
		}
	}
	var t table
	for d := range f.g.goods {
		g := &f.g.goods[d]
		if load[d] == 0 || g.part == none {
			continue
		}
		all[g.part] = f.best.lots[d]
		if !f.g.tolled(d) {
			by := listed(g.shop.sources)
			t.fill(g.shop.sources, by, g.shop.need[load[d]])
			all[g.part] = t.trace(g.shop.sources, by, g.shop.need[load[d]])
		}
	}
	return all
}

// write adds the lines and the drawings of one part to the order.
func (c *compiler) write(o *Order, p, used int, lots []lot) {
	h := c.shops[p]
	want := c.s.required(used)
	spare := want - used
	drawn := min(h.free, want)
	for _, l := range lots {
		if s := &h.sources[l.source]; s.offer == shelf {
			drawn += l.quantity
		}
	}
	if drawn > 0 {
		o.Drawn = append(o.Drawn, Drawn{Part: p, Quantity: drawn, Value: c.job.Parts[p].Book.Times(drawn)})
		fromUse := min(drawn, used)
		used, spare = used-fromUse, spare-(drawn-fromUse)
	}
	for _, l := range lots {
		s := &h.sources[l.source]
		if s.offer == shelf {
			continue
		}
		x := Line{Part: p, Offer: s.offer, Quantity: l.quantity, UnitPrice: s.steps[l.step].own,
			OwnTotal: s.steps[l.step].own.Times(l.quantity), Total: s.steps[l.step].unit.Times(l.quantity)}
		x.ForUse = min(used, x.Quantity)
		x.ForSpare = min(max(0, spare), x.Quantity-x.ForUse)
		used, spare = used-x.ForUse, spare-x.ForSpare
		o.Lines = append(o.Lines, x)
	}
}

// freight works out what each supplier with terms asks of the order's lines.
func (c *compiler) freight(o *Order) {
	goods := make([]part.Money, len(c.sellers))
	bought := make([]bool, len(c.sellers))
	for _, l := range o.Lines {
		if j := c.job.supplier(c.job.Parts[l.Part].Offers[l.Offer].Supplier); j >= 0 && c.market.at[j] >= 0 {
			goods[c.market.at[j]] += l.OwnTotal
			bought[c.market.at[j]] = true
		}
	}
	for i := range c.sellers {
		if !bought[i] {
			continue
		}
		s := Carriage{Supplier: c.sellers[i].supplier, Goods: goods[i]}
		for _, b := range c.sellers[i].bands {
			if goods[i] >= b.from {
				s.OwnAsked, s.Asked = b.own, b.home
			}
		}
		o.Carriage = append(o.Carriage, s)
	}
}
