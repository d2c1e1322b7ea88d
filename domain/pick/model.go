package pick

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"coldrise/domain/problem"
)

// model is the choice in its barest form. Places that can be filled in just the
// same ways are one group, and the search decides how often each way is built.
// What a good (a part, as the model has it) then costs is a curve over the
// units used of it, all ways together, and what sellers ask beside.
type model struct {
	groups  []group
	ways    []way
	goods   []good
	sellers []seller
	limit   int         // most goods in use; 0 is any number
	halted  func() bool // whether to make do with what there is
	splits  int         // takes beyond the first of their way
	tolls   int
}

// group is alike places.
type group struct {
	places []int // of the job, ascending
	ways   []int
}

// way is a way to fill one place of each group that it covers. Where it covers
// several, each of those groups is one place.
type way struct {
	cover []int
	takes []take
	extra cost
	from  []int // ways of the job, one for each place of a single group, else one
}

// take is the units of a good that a way uses. The first is the way's own: the
// bound charges the way there, and the others by a split, see bounder.
type take struct{ good, units, split int }

// good is a part, or nothing at all for ways without pieces.
type good struct {
	part  int // of the job, or none
	unit  int // pieces in a unit
	items []item
	curve []cost // by units, where no seller asks anything
	shop  *shop  // nil where the curve is all there is to know
}

// item is one way's use of a good.
type item struct{ way, units, split int }

// counts says whether a good is among the distinct parts.
func (g *good) counts() bool { return g.part != none }

// compiler makes a model of a job.
type compiler struct {
	market
	shops  []*shop  // by part; nil where no way names it
	have   []int    // by part, the pieces to be had
	ways   [][]int  // by place, the ways that can be built by themselves
	why    []string // by place without any, the reason
	g      *model
	goodOf []int // by part its good
}

// newModel compiles a job. Why gives for each place that no way can fill the
// reason, and "" for the others.
func newModel(ctx context.Context, job *Job, s *Settings) (*model, *compiler, error) {
	c := &compiler{market: *newMarket(job, s), why: make([]string, len(job.Places))}
	c.stock()
	c.sift()
	c.g = &model{limit: s.MaxParts, halted: func() bool { return ctx.Err() != nil }}
	c.group()
	c.link()
	var t table
	for i := range c.g.goods {
		if c.g.halted() {
			return nil, nil, cancelled()
		}
		d := &c.g.goods[i]
		if d.part == none {
			d.curve = make([]cost, c.g.demand(i)+1)
			continue
		}
		d.shop = c.shops[d.part]
		d.shop.levels(&c.market, d.unit, c.g.demand(i), &t)
		d.curve = d.shop.listed
	}
	c.sell()
	// Stock was looked at before: what is never to be had now is past every amount.
	for w := range c.g.ways {
		for _, t := range c.g.ways[w].takes {
			if c.g.goods[t.good].curve[t.units] >= weighable {
				return nil, nil, tooLarge()
			}
		}
	}
	return c.g, c, nil
}

func tooLarge() error {
	return problem.New(problem.Invalid, "the order's amounts are too large to weigh")
}

// stock looks at what can be had of each part that a way names.
func (c *compiler) stock() {
	c.shops, c.have = make([]*shop, len(c.job.Parts)), make([]int, len(c.job.Parts))
	for _, w := range c.job.Ways {
		for _, t := range w.Pieces {
			if c.shops[t.Part] != nil {
				continue
			}
			h := &shop{}
			h.sources, h.free = c.sources(&c.job.Parts[t.Part])
			c.shops[t.Part] = h
			c.have[t.Part] = h.free
			for k := range h.sources {
				steps := h.sources[k].steps
				c.have[t.Part] += steps[len(steps)-1].hi
			}
		}
	}
}

// takes gives the pieces that a way takes for all units of its places, by
// part, each part once, in the order of the way.
func (c *compiler) takes(w int) []Pieces {
	var takes []Pieces
	count := c.job.Places[c.job.Ways[w].Places[0]].Count
next:
	for _, t := range c.job.Ways[w].Pieces {
		for i := range takes {
			if takes[i].Part == t.Part {
				takes[i].Count += t.Count * count
				continue next
			}
		}
		takes = append(takes, Pieces{Part: t.Part, Count: t.Count * count})
	}
	return takes
}

// sift leaves out the ways that stock cannot make by themselves.
func (c *compiler) sift() {
	c.ways = make([][]int, len(c.job.Places))
	named := make([]bool, len(c.job.Places))
	for w := range c.job.Ways {
		lack := c.lack(w)
		for _, k := range c.job.Ways[w].Places {
			named[k] = true
			if lack == "" {
				c.ways[k] = append(c.ways[k], w)
			} else if c.why[k] == "" {
				c.why[k] = lack
			}
		}
	}
	for k := range c.ways {
		if len(c.ways[k]) > 0 {
			c.why[k] = ""
		} else if !named[k] {
			c.why[k] = "no part passes here"
		}
	}
}

// lack says what a way wants that is not to be had; "" where nothing.
func (c *compiler) lack(w int) string {
	for _, t := range c.takes(w) {
		if want := c.s.required(t.Count); c.have[t.Part] < want {
			return c.missing(t.Part, want)
		}
	}
	return ""
}

// group gathers places that are alike: wanted equally often, and filled by
// single-place ways of the same pieces and cost. A place that a way over
// several covers is a group by itself.
func (c *compiler) group() {
	at := map[string]int{}
	groupOf := make([]int, len(c.job.Places))
	for k, list := range c.ways {
		if len(list) == 0 {
			groupOf[k] = none
			continue
		}
		key, ways := c.likeness(k, list)
		i, known := at[key]
		if !known {
			i = len(c.g.groups)
			at[key] = i
			c.g.groups = append(c.g.groups, group{})
			for range ways {
				c.g.groups[i].ways = append(c.g.groups[i].ways, len(c.g.ways))
				c.g.ways = append(c.g.ways, way{cover: []int{i}})
			}
		}
		gr := &c.g.groups[i]
		gr.places = append(gr.places, k)
		for j, w := range ways {
			x := &c.g.ways[gr.ways[j]]
			x.from = append(x.from, w)
		}
		groupOf[k] = i
	}
	for w := range c.job.Ways {
		c.spread(w, groupOf)
	}
}

// spread adds a way over several places, where all of them want filling and it
// can be built.
func (c *compiler) spread(w int, groupOf []int) {
	places := c.job.Ways[w].Places
	if len(places) < 2 || !slices.Contains(c.ways[places[0]], w) {
		return
	}
	x := way{from: []int{w}}
	for _, k := range places {
		x.cover = append(x.cover, groupOf[k])
	}
	slices.Sort(x.cover)
	for _, i := range x.cover {
		c.g.groups[i].ways = append(c.g.groups[i].ways, len(c.g.ways))
	}
	c.g.ways = append(c.g.ways, x)
}

// likeness gives a key that alike places share, and the place's single-place
// ways in an order that goes by what they are; of two that are the same the
// first is kept.
func (c *compiler) likeness(k int, list []int) (key string, ways []int) {
	takes := map[int][]Pieces{}
	for _, w := range list {
		if len(c.job.Ways[w].Places) > 1 {
			key = fmt.Sprint("place ", k)
			continue
		}
		takes[w] = c.takes(w)
		slices.SortFunc(takes[w], byPart)
		ways = append(ways, w)
	}
	like := func(a, b int) int {
		return cmp.Or(slices.CompareFunc(takes[a], takes[b], byPart), cmp.Compare(c.job.Ways[a].Extra, c.job.Ways[b].Extra))
	}
	slices.SortStableFunc(ways, like)
	ways = slices.CompactFunc(ways, func(a, b int) bool { return like(a, b) == 0 })
	if key != "" {
		return key, ways
	}
	var all strings.Builder
	fmt.Fprint(&all, c.job.Places[k].Count)
	for _, w := range ways {
		fmt.Fprint(&all, takes[w], c.job.Ways[w].Extra)
	}
	return all.String(), ways
}

func byPart(a, b Pieces) int {
	return cmp.Or(cmp.Compare(a.Part, b.Part), cmp.Compare(a.Count, b.Count))
}

// link gives the ways their takes, and makes the goods.
func (c *compiler) link() {
	c.goodOf = make([]int, len(c.job.Parts))
	for p := range c.goodOf {
		c.goodOf[p] = none
	}
	nothing := none
	for w := range c.g.ways {
		x := &c.g.ways[w]
		x.extra = c.cost(c.job.Ways[x.from[0]].Extra).times(c.count(x))
		takes := c.takes(x.from[0])
		slices.SortStableFunc(takes, func(a, b Pieces) int { return cmp.Compare(c.usual(b), c.usual(a)) })
		for _, t := range takes {
			if c.goodOf[t.Part] == none {
				c.goodOf[t.Part] = c.g.add(t.Part)
			}
			c.g.take(w, c.goodOf[t.Part], t.Count)
		}
		if len(takes) == 0 {
			if nothing == none {
				nothing = c.g.add(none)
			}
			c.g.take(w, nothing, 1)
		}
	}
	c.g.scale()
}

// count is how often each filling of a way's places is built.
func (c *compiler) count(x *way) int {
	return c.job.Places[c.job.Ways[x.from[0]].Places[0]].Count
}

// usual is about what pieces cost: at the best price of any source.
func (c *compiler) usual(t Pieces) cost {
	least := never
	for _, s := range c.shops[t.Part].sources {
		for _, st := range s.steps {
			least = min(least, st.price)
		}
	}
	if least >= never {
		return 0
	}
	return least.times(t.Count)
}

func (g *model) add(part int) int {
	g.goods = append(g.goods, good{part: part})
	return len(g.goods) - 1
}

// take adds a use of a good, in pieces until scale is called.
func (g *model) take(w, d, pieces int) {
	x := &g.ways[w]
	split := none
	if len(x.takes) > 0 {
		split = g.splits
		g.splits++
	}
	x.takes = append(x.takes, take{good: d, units: pieces, split: split})
	g.goods[d].items = append(g.goods[d].items, item{way: w, units: pieces, split: split})
	g.goods[d].unit = gcd(g.goods[d].unit, pieces)
}

// scale turns pieces into units, of each good the greatest common divisor of its uses.
func (g *model) scale() {
	for i := range g.goods {
		for j := range g.goods[i].items {
			g.goods[i].items[j].units /= g.goods[i].unit
		}
	}
	for w := range g.ways {
		for j := range g.ways[w].takes {
			t := &g.ways[w].takes[j]
			t.units /= g.goods[t.good].unit
		}
	}
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// most is how often a way can be built.
func (g *model) most(w int) int { return len(g.groups[g.ways[w].cover[0]].places) }

// demand is past the units of a good that any order uses: at each group all
// places by the way that takes most of it, and each way over several.
func (g *model) demand(d int) int {
	units := 0
	most := map[int]int{}
	for _, x := range g.goods[d].items {
		if cover := g.ways[x.way].cover; len(cover) > 1 {
			units += x.units
		} else if i := cover[0]; most[i] < x.units {
			units += (x.units - most[i]) * len(g.groups[i].places)
			most[i] = x.units
		}
	}
	return units
}

// sell gives the model the sellers that are left, and to each the largest
// stake that keeps every credit within its price.
func (c *compiler) sell() {
	g := c.g
	g.sellers, g.tolls = c.sellers, c.tolls
	for i := range g.goods {
		if g.goods[i].shop == nil {
			continue
		}
		for _, s := range g.goods[i].shop.sources {
			if s.seller == none {
				continue
			}
			w := &g.sellers[s.seller]
			for _, st := range s.steps {
				if st.own > 0 && w.full > 0 {
					w.ceiling = min(w.ceiling, mulDiv(st.price, cost(w.full), cost(st.own), false))
				}
			}
		}
	}
	for i := range g.sellers {
		if g.sellers[i].full == 0 || g.sellers[i].ceiling >= never {
			g.sellers[i].ceiling = 0
		}
	}
}

// missing says that a part cannot be had in the number a way wants.
func (c *compiler) missing(p, want int) string {
	offers := 0
	for i := range c.job.Parts[p].Offers {
		if _, ok := c.s.rate(c.job.Parts[p].Offers[i].Currency); ok {
			offers++
		}
	}
	if offers == 0 && c.have[p] == 0 {
		return "no part that passes here has an offer in " + c.s.Currency
	}
	return fmt.Sprintf("takes %d from stock; the most to be had of any part that passes here is %d", want, c.have[p])
}
