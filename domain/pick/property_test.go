package pick_test

import (
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"coldrise/domain/part"
	"coldrise/domain/pick"
)

// drawn is an instance for properties: larger than enumeration could take.
func drawn(t *rapid.T) instance {
	seed := rapid.Uint64Range(0, 1<<40).Draw(t, "seed")
	if rapid.Bool().Draw(t, "small") {
		return smallInstance(seed)
	}
	return shopInstance(seed, rapid.IntRange(1, 12).Draw(t, "needs"), rapid.IntRange(2, 12).Draw(t, "options"))
}

func (in instance) clone() instance {
	in.needs, in.parts = slices.Clone(in.needs), slices.Clone(in.parts)
	for i := range in.needs {
		in.needs[i].Options = slices.Clone(in.needs[i].Options)
	}
	for p := range in.parts {
		in.parts[p].Offers = slices.Clone(in.parts[p].Offers)
		for k := range in.parts[p].Offers {
			in.parts[p].Offers[k].Breaks = slices.Clone(in.parts[p].Offers[k].Breaks)
		}
	}
	return in
}

// noWorse fails where b is worse than a: more unfilled, or as many at a higher total.
func noWorse(t *rapid.T, what string, a, b pick.Order) {
	t.Helper()
	if !a.Proven || !b.Proven {
		t.Skip("not proven")
	}
	if len(b.Short) > len(a.Short) || len(b.Short) == len(a.Short) && b.Total > a.Total {
		t.Errorf("%s: %d unfilled at %v, before %d at %v", what, len(b.Short), b.Total, len(a.Short), a.Total)
	}
}

func TestEveryOrderIsSound(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawn(t)
		in.audit(t, in.solve(t))
	})
}

func TestAnOptionMoreIsNeverDearer(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawn(t)
		more := in.clone()
		n := &more.needs[rapid.IntRange(0, len(in.needs)-1).Draw(t, "need")]
		n.Options = append(n.Options, rapid.IntRange(0, len(in.parts)-1).Draw(t, "part"))
		noWorse(t, "with an option more", in.solve(t), more.solve(t))
	})
}

func TestAHigherPriceIsNeverCheaper(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawn(t)
		dear := in.clone()
		p := rapid.IntRange(0, len(in.parts)-1).Draw(t, "part")
		rise := part.Money(rapid.Int64Range(1, 5_000_000).Draw(t, "rise"))
		for k := range dear.parts[p].Offers {
			for j := range dear.parts[p].Offers[k].Breaks {
				dear.parts[p].Offers[k].Breaks[j].UnitPrice += rise
			}
		}
		noWorse(t, "before the rise", dear.solve(t), in.solve(t))
	})
}

func TestASparePieceMoreIsNeverCheaper(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawn(t)
		more := in
		more.settings.Spare++
		noWorse(t, "with a spare piece less", more.solve(t), in.solve(t))
	})
}

func TestADearerLineIsNeverCheaper(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawn(t)
		more := in
		more.settings.LineCost += part.Money(rapid.Int64Range(1, 3_000_000).Draw(t, "line"))
		noWorse(t, "with cheaper lines", more.solve(t), in.solve(t))
	})
}

// TestSequenceTellsNothing has the same needs and parts in another sequence
// cost the same in as many lines.
func TestSequenceTellsNothing(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawn(t)
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "shuffle"), 1))
		mixed := in.clone()
		to := r.Perm(len(in.parts))
		for p := range in.parts {
			mixed.parts[to[p]] = in.parts[p]
		}
		for i := range mixed.needs {
			for k, p := range mixed.needs[i].Options {
				mixed.needs[i].Options[k] = to[p]
			}
		}
		r.Shuffle(len(mixed.needs), func(a, b int) { mixed.needs[a], mixed.needs[b] = mixed.needs[b], mixed.needs[a] })
		a, b := in.solve(t), mixed.solve(t)
		noWorse(t, "shuffled", a, b)
		noWorse(t, "unshuffled", b, a)
		if len(a.Lines) != len(b.Lines) {
			t.Errorf("%d lines, shuffled %d", len(a.Lines), len(b.Lines))
		}
	})
}
