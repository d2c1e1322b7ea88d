package plan

import (
	"context"
	"math"
	"reflect"
	"slices"
	"sort"
	"strings"

	"coldrise/domain/derate"
	"coldrise/domain/part"
	"coldrise/domain/pick"
	"coldrise/domain/problem"
)

// shownRefusals is how many refused candidates a position shows.
const shownRefusals = 3

// Make judges the parts of c, picks, and orders. It does not change the
// assessment, so one may be held against several catalogues. A position that
// no part fits, or no stock fills, makes the plan Incomplete. The only errors
// are cancelled and those of a caller's catalogue that names no such series.
func Make(ctx context.Context, a *Assessment, c Catalogue) (*Plan, error) {
	p := a.plan
	p.Positions = append([]Position(nil), a.plan.Positions...)
	p.Measure = append([]Measurement{}, a.plan.Measure...)
	p.Findings = append([]Finding{}, a.plan.Findings...)
	p.Assumptions = append([]Assumption{}, a.plan.Assumptions...)
	b := bench{policy: p.Policy, parts: c.Parts, series: map[string]part.Series{}}
	for i := range c.Parts {
		b.job.Parts = append(b.job.Parts, pick.Part{Maker: c.Parts[i].Maker, PartNumber: c.Parts[i].PartNumber, Offers: c.Parts[i].Offers})
	}
	for _, s := range c.Series {
		b.series[s.Name] = s
	}
	at, verdicts := b.places(p.Positions)
	order, err := pick.Cheapest(ctx, &b.job, pick.Settings{Currency: p.Policy.Currency, HomeOnly: true, LineCost: p.Policy.LineCost, Spare: p.Policy.Spare})
	if err == nil && order.Status == pick.Cancelled {
		err = problem.New(problem.Cancelled, "the search for the cheapest order was cancelled")
	}
	if err != nil {
		return nil, err
	}
	for k, group := range at {
		for _, i := range group {
			b.take(&p.Positions[i], verdicts[i], b.part(order.Chosen[k]), b.part(order.Alternates[k]))
		}
	}
	p.Order = b.order(&order)
	p.Status = Made
	for i := range p.Positions {
		if a := p.Positions[i].Action; a == NoPart || a == MeasureFirst {
			p.Status = Incomplete
		}
	}
	if err := a.bench(ctx, &p); err != nil {
		return nil, err
	}
	p.Cautions = cautions(a.described, a.runs, &p)
	p.Supplies = append([]Supply(nil), a.plan.Supplies...)
	for i := range p.Supplies {
		p.Supplies[i].Standby += a.runs[i].standbyNeed(p.Positions)
	}
	round(reflect.ValueOf(&p).Elem())
	return &p, nil
}

// bench holds what judging one plan's positions needs, and the order to be
// asked for them.
type bench struct {
	policy derate.Policy
	parts  []part.Part
	series map[string]part.Series
	passed map[int]derate.Verdict // of the position judged last, by part
	job    pick.Job
}

// places judges the parts for every position that wants one, and gives the job
// a place for it with a way for each part that passes. A series stack is one
// place of several pieces, since its units must be alike; at gives the positions
// of each place, and verdicts the parts that passed at each position.
func (b *bench) places(positions []Position) (at [][]int, verdicts []map[int]derate.Verdict) {
	verdicts = make([]map[int]derate.Verdict, len(positions))
	for _, group := range groups(positions) {
		var options []int
		for k, i := range group {
			passed := b.judge(&positions[i])
			verdicts[i] = b.passed
			if k == 0 {
				options = passed
			} else {
				options = slices.DeleteFunc(options, func(o int) bool { return !slices.Contains(passed, o) })
			}
		}
		if len(options) == 0 {
			for _, i := range group {
				positions[i].Action, positions[i].Why = NoPart, noPartWhy(&positions[i])
				if positions[i].Passed > 0 {
					positions[i].Why = "no one part passes at every unit of the stack, and its units must be alike"
				}
			}
			continue
		}
		b.place(refs(positions, group), options, len(group))
		at = append(at, group)
	}
	return at, verdicts
}

// place adds a place to the job that one of some parts fills, with so many pieces.
func (b *bench) place(ref string, options []int, pieces int) {
	k := len(b.job.Places)
	b.job.Places = append(b.job.Places, pick.Place{Ref: ref, Count: 1})
	for _, p := range options {
		b.job.Ways = append(b.job.Ways, pick.Way{Places: []int{k}, Pieces: []pick.Pieces{{Part: p, Count: pieces}}})
	}
}

// part is the part that a way of the job is built from; −1 for no way.
func (b *bench) part(way int) int {
	if way < 0 {
		return -1
	}
	return b.job.Ways[way].Pieces[0].Part
}

// groups gives the positions that want a part, those of one stack together.
func groups(positions []Position) [][]int {
	var list [][]int
	stacks := map[string]int{}
	for i := range positions {
		p := &positions[i]
		if !p.wantsPart() {
			continue
		}
		if p.Stress.Stack > 0 {
			if k, ok := stacks[p.Node]; ok {
				list[k] = append(list[k], i)
				continue
			}
			stacks[p.Node] = len(list)
		}
		list = append(list, []int{i})
	}
	return list
}

func refs(positions []Position, group []int) string {
	names := make([]string, len(group))
	for k, i := range group {
		names[k] = positions[i].Ref
	}
	return strings.Join(names, ", ")
}

// judge holds every part that may stand in the position's role against it, and
// gives those that pass; the cheapest refusals stay with the position.
func (b *bench) judge(pos *Position) []int {
	b.passed = map[int]derate.Verdict{}
	var options []int
	var refused []Refusal
	w := windowOf(pos)
	for i := range b.parts {
		if !w.Holds(&b.parts[i]) {
			continue
		}
		pos.Considered++
		v := derate.Judge(judged(pos.Stress, b.policy), derate.Rated{Part: b.parts[i], Series: b.series[b.parts[i].Series]}, b.policy)
		if v.Pass {
			b.passed[i] = v
			options = append(options, i)
			continue
		}
		refused = append(refused, b.refusal(i, v))
	}
	pos.Passed = len(options)
	sort.SliceStable(refused, func(x, y int) bool { return priceOrLast(refused[x]) < priceOrLast(refused[y]) })
	if len(refused) > shownRefusals {
		refused = refused[:shownRefusals]
	}
	pos.Refused = append([]Refusal{}, refused...)
	return options
}

// Holds says whether the window takes a part, by any of its sections.
func (w Window) Holds(p *part.Part) bool {
	right := false
	for _, t := range w.Technologies {
		right = right || p.Technology == t
	}
	if !right || p.RatedV < w.MinRatedV {
		return false
	}
	in := func(uf float64) bool { return uf >= w.MinUF && uf <= w.MaxUF }
	inside := in(p.CapacitanceUF)
	for _, s := range p.FurtherSectionsUF {
		inside = inside || in(s)
	}
	return inside
}

func (b *bench) refusal(i int, v derate.Verdict) Refusal {
	p := &b.parts[i]
	r := Refusal{Maker: p.Maker, PartNumber: p.PartNumber, CapacitanceUF: p.CapacitanceUF, RatedV: p.RatedV, Failed: derate.Misses(v)}
	if m, ok := leastPrice(p, b.policy.Currency); ok {
		r.UnitPrice = &m
	}
	return r
}

// leastPrice is the least unit price at which one piece can be had, any break at
// the offer's least quantity.
func leastPrice(p *part.Part, currency string) (part.Money, bool) {
	best, found := part.Money(math.MaxInt64), false
	for _, o := range p.Offers {
		if o.Currency != currency || len(o.Breaks) == 0 {
			continue
		}
		price := o.Breaks[0].UnitPrice
		for _, k := range o.Breaks {
			if k.MinQty <= o.MinQty {
				price = k.UnitPrice
			}
		}
		if price < best {
			best, found = price, true
		}
	}
	return best, found
}

func priceOrLast(r Refusal) part.Money {
	if r.UnitPrice == nil {
		return math.MaxInt64
	}
	return *r.UnitPrice
}

// take writes a choice and its alternate into a position.
func (b *bench) take(pos *Position, passed map[int]derate.Verdict, choice, alternate int) {
	if choice < 0 {
		pos.Action, pos.Why = NoPart, "parts pass here, but no stock suffices"
		return
	}
	pos.Pick = b.pick(choice, passed[choice])
	if alternate >= 0 {
		pos.Alternate = b.pick(alternate, passed[alternate])
	}
	original := pos.Stress.Window.OriginalUF
	if pos.Action == Replace && math.Abs(pos.Pick.CapacitanceUF-original) > 0.005*original {
		pos.Action = ReplaceValue
	}
}

func (b *bench) pick(i int, v derate.Verdict) *Pick {
	p := &b.parts[i]
	price, _ := leastPrice(p, b.policy.Currency)
	series := b.series[p.Series]
	e := p.Effective(&series)
	return &Pick{Maker: p.Maker, PartNumber: p.PartNumber, Series: p.Series, Style: p.Style, CapacitanceUF: p.CapacitanceUF,
		RatedV: p.RatedV, TolPlusPct: e.TolPlusPct.Value, DiameterMM: e.DiameterMM.Value, LengthMM: e.LengthMM.Value, LifeYears: v.LifeYears, Checks: v.Checks,
		Assumed:   v.Assumed,
		UnitPrice: price, Currency: b.policy.Currency}
}

func (b *bench) order(o *pick.Order) Order {
	out := Order{Currency: b.policy.Currency, LinesTotal: o.Goods, LineCosts: o.LineCosts, Total: o.Total, Proven: o.Status == pick.Proven,
		LowerBound: o.Bound, Lines: []OrderLine{}, Short: []Short{}}
	for _, l := range o.Lines {
		p := &b.parts[l.Part]
		offer := p.Offers[l.Offer]
		line := OrderLine{Supplier: offer.Supplier, SKU: offer.SKU, Maker: p.Maker, PartNumber: p.PartNumber, Refs: []string{},
			Text: describe(p), Quantity: l.Quantity, ForUse: l.ForUse, UnitPrice: l.UnitPrice, Total: l.Total, LeadDays: offer.LeadDays}
		for k, way := range o.Chosen {
			if b.part(way) == l.Part {
				line.Refs = append(line.Refs, b.job.Places[k].Ref)
			}
		}
		out.Lines = append(out.Lines, line)
	}
	for _, s := range o.Short {
		out.Short = append(out.Short, Short{Ref: s.Ref, Reason: s.Reason})
	}
	return out
}

// noPartWhy says what stands in the way: an empty window by its rules, else the
// check that the nearest candidates fail.
func noPartWhy(pos *Position) string {
	w := pos.Stress.Window
	if w.MinUF > w.MaxUF {
		return "no value serves: at least " + uf(w.MinUF) + " (" + w.MinRule + "), at most " + uf(w.MaxUF) + " (" + w.MaxRule + ")"
	}
	if pos.Considered == 0 {
		return "the catalogue holds nothing near " + uf(w.MinUF) + " to " + uf(w.MaxUF) + " at this voltage"
	}
	return "every candidate fails a check; the cheapest three are shown with theirs"
}

// describe is a part in one line, as an order sheet has it.
func describe(p *part.Part) string {
	text := uf(p.CapacitanceUF)
	for _, s := range p.FurtherSectionsUF {
		text += " + " + uf(s)
	}
	text += " " + volts(p.RatedV)
	if p.SafetyClass != "" {
		text += " " + p.SafetyClass
	}
	return text + " " + strings.ReplaceAll(string(p.Style), "_", " ")
}
