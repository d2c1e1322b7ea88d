package pick

import "slices"

// knapsack finds, for each number of units of one good beyond those that a box
// demands, the greatest worth of buildings that make it up. Items of one size
// go by falling worth, so that only how many of each size are taken is open.
type knapsack struct {
	worth  []cost // by units; lowest where nothing makes them
	sizes  []size
	before []cost
}

// size is the items of one number of units.
type size struct {
	units int
	items []int  // index into the good's items, one for each building
	sum   []cost // of the first k of them
	count []int  // by units in all sizes so far, how many of this one
}

// fill weighs up to limit units. With all it weighs buildings of no worth too;
// curves never fall, so that without a demand none of them is ever taken.
func (k *knapsack) fill(b *bounder, d int, in box, limit int, all bool) {
	k.gather(b, d, in, all)
	k.worth = slices.Grow(k.worth[:0], limit+1)[:limit+1]
	for u := range k.worth {
		k.worth[u] = lowest
	}
	k.worth[0] = 0
	reach := 0
	for i := range k.sizes {
		reach = k.merge(&k.sizes[i], i == 0, reach)
	}
	k.worth = k.worth[:reach+1]
}

// gather sorts the items and lists their buildings by size.
func (k *knapsack) gather(b *bounder, d int, in box, all bool) {
	items, order := b.g.goods[d].items, b.order[d]
	b.sort(d)
	sizes := k.sizes[:0]
	for _, i := range order {
		x := &items[i]
		free := in.hi[x.way] - in.lo[x.way]
		w := b.worth(x)
		if free == 0 || w <= 0 && !all {
			continue
		}
		at := 0
		for at < len(sizes) && sizes[at].units != x.units {
			at++
		}
		if at == len(sizes) {
			if cap(sizes) > at {
				sizes = sizes[:at+1]
			} else {
				sizes = append(sizes, size{})
			}
			s := &sizes[at]
			s.units, s.items, s.sum = x.units, s.items[:0], append(s.sum[:0], 0)
		}
		s := &sizes[at]
		for range free {
			s.items = append(s.items, i)
			s.sum = append(s.sum, s.sum[len(s.sum)-1]+w)
		}
	}
	k.sizes = sizes
}

// sort orders a good's items by falling worth. Worths change little from one
// evaluation to the next, so that insertion is quick.
func (b *bounder) sort(d int) {
	items, order := b.g.goods[d].items, b.order[d]
	for i := 1; i < len(order); i++ {
		e := order[i]
		w := b.worth(&items[e])
		j := i
		for ; j > 0; j-- {
			before := b.worth(&items[order[j-1]])
			if before > w || before == w && order[j-1] < e {
				break
			}
			order[j] = order[j-1]
		}
		order[j] = e
	}
}

// merge adds the buildings of one size to what the sizes before it make, which
// reaches so many units; it gives how far all then reach.
func (k *knapsack) merge(s *size, first bool, reach int) int {
	limit := len(k.worth) - 1
	most := min(reach+(len(s.sum)-1)*s.units, limit)
	s.count = slices.Grow(s.count[:0], limit+1)[:limit+1]
	if first {
		for n := 0; n < len(s.sum) && n*s.units <= limit; n++ {
			k.worth[n*s.units] = s.sum[n]
			s.count[n*s.units] = n
		}
		return most
	}
	k.before = append(k.before[:0], k.worth[:reach+1]...)
	for u := most; u >= 0; u-- {
		best, count := lowest, 0
		for n := max(0, (u-reach+s.units-1)/s.units); n < len(s.sum) && n*s.units <= u; n++ {
			if w := k.before[u-n*s.units]; w > lowest && w+s.sum[n] > best {
				best, count = w+s.sum[n], n
			}
		}
		k.worth[u], s.count[u] = best, count
	}
	return most
}

// trace adds to taken the buildings that make up so many units.
func (k *knapsack) trace(units int, taken []int) {
	for i := len(k.sizes) - 1; i >= 0; i-- {
		s := &k.sizes[i]
		n := s.count[units]
		for _, x := range s.items[:n] {
			taken[x]++
		}
		units -= n * s.units
	}
}
