package pick

import "coldrise/domain/part"

// market is how parts are bought: what each can be had from, and what the
// suppliers ask beside.
type market struct {
	job     *Job
	s       *Settings
	scale   cost
	line    cost // of one order line: its cost, and one line
	sellers []seller
	at      []int // by supplier of the job its seller, or none
	tolls   int   // sources that belong to sellers
}

// seller is a supplier with terms of its own. An order there falls into the
// last band that its goods reach, and pays that band's charge; below the first
// nothing is sold.
type seller struct {
	supplier int
	bands    []band     // ascending in from, falling in charge
	full     part.Money // from of the last band, in the supplier's currency
	ceiling  cost       // the largest stake that keeps every credit within its price: see bounder.reprice
}

// band is a carriage that holds from an amount of goods up.
type band struct {
	from   part.Money // in the supplier's currency
	own    part.Money // carriage, likewise
	home   part.Money // carriage in the order's
	charge cost
}

func newMarket(job *Job, s *Settings) *market {
	m := &market{job: job, s: s, scale: scaleFor(mostLines(job)), at: make([]int, len(job.Suppliers))}
	m.line = m.cost(s.LineCost).plus(1)
	for i := range job.Suppliers {
		m.at[i] = none
		rate, ok := s.rate(job.Suppliers[i].Currency)
		if bands := m.bands(&job.Suppliers[i], rate); ok && len(bands) > 0 {
			m.at[i] = len(m.sellers)
			m.sellers = append(m.sellers, seller{supplier: i, bands: bands, full: bands[len(bands)-1].from, ceiling: never})
		}
	}
	return m
}

// bands gives what a supplier asks; none where that is nothing.
func (m *market) bands(s *Supplier, rate Rate) []band {
	home, _ := rate.convert(s.Carriage)
	paid := band{from: s.Minimum, own: s.Carriage, home: home, charge: m.cost(home)}
	free := band{from: s.Minimum}
	switch {
	case s.Carriage == 0 || s.FreeFrom != nil && *s.FreeFrom <= s.Minimum:
		if s.Minimum == 0 {
			return nil
		}
		return []band{free}
	case s.FreeFrom == nil:
		return []band{paid}
	}
	free.from = *s.FreeFrom
	return []band{paid, free}
}

// cost is an amount as orders are compared by.
func (m *market) cost(amount part.Money) cost { return cost(amount).times(int(m.scale)) }

// mostLines is past what any order can have in lines: every offer of every
// part that a way takes, or for each place those of its richest way.
func mostLines(job *Job) int {
	used, places := make([]bool, len(job.Parts)), make([]int, len(job.Places))
	all := 0
	for _, w := range job.Ways {
		lines := 0
		for _, t := range w.Pieces {
			offers := len(job.Parts[t.Part].Offers)
			lines += offers
			if !used[t.Part] {
				used[t.Part] = true
				all += offers
			}
		}
		for _, k := range w.Places {
			places[k] = max(places[k], lines)
		}
	}
	sum := 0
	for _, n := range places {
		sum += n
	}
	return min(all, sum)
}

// sources gives what can be bought of a part: its offers that can be paid in
// the order's currency and come by the due date, and the shelf where its
// pieces count something. Free gives the shelf's pieces where they don't.
func (m *market) sources(p *Part) (all []source, free int) {
	for i := range p.Offers {
		o := &p.Offers[i]
		rate, ok := m.s.rate(o.Currency)
		if !ok || !m.intime(o) {
			continue
		}
		steps := m.cut(o, rate)
		if len(steps) == 0 {
			continue
		}
		s := source{offer: i, seller: none, toll: none, pack: o.Pack, line: m.line, steps: steps}
		if j := m.job.supplier(o.Supplier); j >= 0 && m.at[j] >= 0 {
			s.seller, s.toll = m.at[j], m.tolls
			m.tolls++
		}
		all = append(all, s)
	}
	if p.Shelf > 0 && p.Book > 0 {
		all = append(all, source{offer: shelf, seller: none, toll: none, pack: 1,
			steps: []step{{lo: 1, hi: p.Shelf, own: p.Book, unit: p.Book, price: m.cost(p.Book)}}})
		return all, 0
	}
	return all, p.Shelf
}

func (m *market) intime(o *part.Offer) bool {
	return m.s.DueDays == nil || m.days(o) <= *m.s.DueDays
}

// days is how long an offer takes in all.
func (m *market) days(o *part.Offer) int {
	days := o.LeadDays
	if j := m.job.supplier(o.Supplier); j >= 0 {
		days += m.job.Suppliers[j].LeadDays
	}
	return days
}

// shop is how one part is bought, at the levels of use that a search weighs:
// level l stands for l times a number of pieces.
type shop struct {
	sources []source
	free    int       // pieces on the shelf that count nothing
	need    []int     // by level, the pieces to buy
	listed  []cost    // by level, the least cost where no seller asks anything
	single  [][]lot   // by source and level, the cheapest lot that suffices alone; quantity 0 where none does
	pool    [][][]lot // by level, purchases of several lots that were the cheapest some time
	tolled  bool      // some source belongs to a seller
	split   bool      // a purchase of several lots may be the cheapest, where sellers ask something
}

// levels fills a shop for levels up to most; those that are not to be had cost never.
func (h *shop) levels(m *market, unit, most int, t *table) {
	h.need = make([]int, most+1)
	for l := 1; l <= most; l++ {
		h.need[l] = max(0, m.s.required(l*unit)-h.free)
	}
	by := listed(h.sources)
	t.fill(h.sources, by, h.need[most])
	last := t.rows[len(h.sources)]
	h.listed = make([]cost, most+1)
	for l, r := range h.need {
		h.listed[l] = last[r]
	}
	for k := range h.sources {
		h.tolled = h.tolled || h.sources[k].seller != none
	}
	if !h.tolled {
		return
	}
	h.pool = make([][][]lot, most+1)
	for k := range h.sources {
		h.single = append(h.single, h.alone(m, k))
	}
	for l := 1; l <= most; l++ {
		h.split = h.split || h.splits(m, l)
	}
	if h.split {
		h.learn(by, t, h.cheapest(by, make([]cost, most+1)))
	}
}

// cheapest fills curve with the least cost by level by a tariff, of the single
// lots and of the pool; learn tells where there is less.
func (h *shop) cheapest(by tariff, curve []cost) []cost {
	for l := 1; l < len(curve); l++ {
		curve[l] = never
		if h.need[l] == 0 {
			curve[l] = 0
		}
	}
	for k := range h.single {
		entry, price := by.entry[k], by.price[k]
		if entry >= never {
			continue
		}
		for l, s := range h.single[k][:len(curve)] {
			if s.quantity > 0 {
				curve[l] = min(curve[l], entry+price[s.step]*cost(s.quantity))
			}
		}
	}
	for l, pool := range h.pool[:len(curve)] {
		for _, lots := range pool {
			curve[l] = min(curve[l], by.sum(lots))
		}
	}
	for l := len(curve) - 2; l > 0; l-- {
		curve[l] = min(curve[l], curve[l+1])
	}
	return curve
}

// sum is what lots cost by a tariff.
func (t tariff) sum(lots []lot) cost {
	total := cost(0)
	for _, x := range lots {
		if t.entry[x.source] >= never {
			return never
		}
		total += t.entry[x.source] + t.price[x.source][x.step]*cost(x.quantity)
	}
	return total
}

// bought gives the lots behind curve[l] as cheapest filled it.
func (h *shop) bought(by tariff, curve []cost, l int) []lot {
	for ; ; l++ {
		if h.need[l] == 0 {
			return nil
		}
		for k := range h.single {
			if s := h.single[k][l : l+1]; s[0].quantity > 0 && by.sum(s) == curve[l] {
				return s
			}
		}
		for _, lots := range h.pool[l] {
			if by.sum(lots) == curve[l] {
				return lots
			}
		}
	}
}

// alone gives by level the lot of one source that suffices most cheaply.
func (h *shop) alone(m *market, k int) []lot {
	lots := make([]lot, len(h.need))
	s := &h.sources[k]
	for l, r := range h.need {
		least := never
		for j := range s.steps {
			st := &s.steps[j]
			if r == 0 || r > st.hi {
				continue
			}
			q := st.atLeast(r, s.pack)
			switch c := st.price.times(q); {
			case c >= weighable:
			case c+m.slack(q) < least:
				least = c
				lots[l] = lot{source: k, step: j, quantity: q}
			case c < least+m.slack(q):
				// As good as the same: which is the cheaper may hang on how a credit is rounded.
				h.pool[l] = append(h.pool[l], []lot{{source: k, step: j, quantity: q}})
			}
		}
	}
	return lots
}

// slack is more than rounding can shift between two ways to buy so many pieces:
// of each piece a millionth in conversion, and one in its credit.
func (m *market) slack(pieces int) cost { return (2*m.scale + 2).times(pieces) }

// splits says whether at a level several lots may cost less than one, whatever
// the sellers ask. They do not where each source alone costs at most a line
// more than the level's pieces at the best price of a lot no larger: of the
// lots in a split, take the one whose source has the best such price at the
// time. The others' lines alone pay for buying all of it there.
func (h *shop) splits(m *market, l int) bool {
	r := h.need[l]
	if r == 0 {
		return false
	}
	for k := range h.sources {
		s := &h.sources[k]
		if s.offer == shelf {
			return true
		}
		best := never
		for j := range s.steps {
			if s.steps[j].lo <= r {
				best = min(best, s.steps[j].price)
			}
		}
		if best >= never {
			continue
		}
		one := h.single[k][l]
		if one.quantity == 0 || s.steps[one.step].price.times(one.quantity)+m.slack(one.quantity) > best.times(r)+m.line {
			return true
		}
	}
	return false
}

// learn adds to the pool what the table, filled by a tariff, has cheaper than
// curve, where that takes several lots.
func (h *shop) learn(by tariff, t *table, curve []cost) {
	last := t.rows[len(h.sources)]
	for l := range curve {
		r := h.need[l]
		if r == 0 || last[r] >= curve[l] {
			continue
		}
		h.pool[l] = append(h.pool[l], t.trace(h.sources, by, r))
	}
}
