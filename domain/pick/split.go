package pick

// split halves a box, the likelier half first: first by whether a seller is
// bought from, and in which band; then by whether so many units at least of a
// good are used or fewer, the good being the one whose cost the bound makes
// least of; where the bound does every good justice, by whether a way is built
// at least so often. It is not ok where the box is one filling with every
// seller settled. The box itself is used up.
func (s *search) split(in box, slack cost) (first, second box, ok bool) {
	if i := s.openSeller(in); i >= 0 {
		return s.splitSeller(in, i)
	}
	more, less := in, in.clone()
	likely := true
	if d, at := s.openGood(in, slack); d >= 0 {
		more.least[d], less.most[d] = at, at-1
		likely = s.use[d] >= at*fraction-fraction/2
	} else if d, i := s.openItem(in); d >= 0 {
		w, mean := s.g.goods[d].items[i].way, s.mean[d][i]
		at := min(max((mean+fraction/2)/fraction, in.lo[w]+1), in.hi[w])
		more.lo[w], less.hi[w] = at, at-1
		likely = mean >= at*fraction-fraction/2
	} else {
		return in, in, false
	}
	if !likely {
		return less, more, true
	}
	return more, less, true
}

// openSeller gives the seller whose mode is least settled, or none.
func (s *search) openSeller(in box) int {
	best, widest := none, -1
	for i := range s.g.sellers {
		if in.modes[i].settled() {
			continue
		}
		most := 0
		for _, share := range s.in[i] {
			most = max(most, share)
		}
		if open := fraction - most; open > widest {
			best, widest = i, open
		}
	}
	return best
}

// splitSeller settles first whether a seller is bought from, then whether its
// order reaches the last band left.
func (s *search) splitSeller(in box, i int) (first, second box, ok bool) {
	part := closed
	if in.modes[i]&closed == 0 {
		part = 2 << in.modes[i].band()
	}
	is, not := in, in.clone()
	is.modes[i], not.modes[i] = part, in.modes[i]&^part
	if s.in[i][part.band()+1] < fraction/2 {
		return not, is, true
	}
	return is, not, true
}

// openGood gives the good for which the mean of what the bound pays falls
// furthest below what the mean of the units costs, and the units to split at;
// none where that is never more than slack. A curve with line costs and breaks
// is not convex, and the bound sees the chord.
func (s *search) openGood(in box, slack cost) (good, at int) {
	good = none
	for _, d := range s.b.alive {
		if in.least[d] == in.most[d] {
			continue
		}
		curve, units := s.b.curves[d], s.use[d]/fraction
		if units > in.most[d] || curve[units] >= never {
			continue
		}
		dear := curve[units]
		if over := s.use[d] % fraction; over > 0 && units < in.most[d] {
			dear += (curve[units+1] - dear) / fraction * cost(over)
		}
		if gap := dear - s.paid[d]; gap > slack {
			good, slack = d, gap
			at = min(max(units+1, in.least[d]+1), in.most[d])
		}
	}
	return good, at
}

// openItem gives the good and the item whose count is least settled, or none
// where the box settles all.
func (s *search) openItem(in box) (good, item int) {
	good, widest := none, -1
	for _, d := range s.b.alive {
		for _, i := range s.b.order[d] {
			w := s.g.goods[d].items[i].way
			if in.lo[w] == in.hi[w] {
				continue
			}
			over := s.mean[d][i] % fraction
			if open := min(over, fraction-over); open > widest {
				good, item, widest = d, i, open
			}
		}
	}
	return good, item
}
