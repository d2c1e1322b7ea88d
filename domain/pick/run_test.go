package pick_test

import (
	"fmt"
	"math/rand/v2"

	"coldrise/domain/part"
	"coldrise/domain/pick"
)

// runMaker makes seeded production runs: amplifiers whose positions ask for a
// least voltage and a window of values, families of parts over values and
// voltages, and suppliers that carry a part of them each.
type runMaker struct {
	r     *rand.Rand
	in    instance
	kinds []kind // by part
}

// kind is what a part is: its family, value and voltage, as steps.
type kind struct{ family, value, volts int }

const (
	values   = 3
	voltages = 3
)

// runInstance is a run of so many lines with so many suppliers.
func runInstance(seed uint64, lines, suppliers int) instance {
	m := runMaker{r: rand.New(rand.NewPCG(seed, uint64(1000*lines+suppliers)))}
	m.in.settings = pick.Settings{Currency: "EUR", LineCost: part.Money(m.r.IntN(4)) * 400_000, SpareBasisPoints: m.r.IntN(4) * 150,
		Rates: []pick.Rate{{Currency: "GBP", Num: 11_734, Den: 10_000}, {Currency: "USD", Num: 9_218, Den: 10_000}}}
	for s := range suppliers {
		m.in.job.Suppliers = append(m.in.job.Suppliers, m.supplier(s))
	}
	families := 1 + lines/7
	for f := range families {
		m.family(f)
	}
	m.places(lines, families)
	switch m.r.IntN(4) {
	case 0:
		m.in.settings.MaxParts = families + 1 + m.r.IntN(1+families/2)
	case 1:
		days := 6 + m.r.IntN(6)
		m.in.settings.DueDays = &days
	}
	return m.in
}

func (m *runMaker) supplier(s int) pick.Supplier {
	x := pick.Supplier{Name: fmt.Sprintf("Supplier %d", s), Currency: "EUR", LeadDays: m.r.IntN(3)}
	switch m.r.IntN(6) {
	case 0:
		x.Currency = "GBP"
	case 1:
		x.Currency = "USD"
	}
	if m.r.IntN(8) == 0 {
		return x
	}
	x.Carriage = part.Money(40+m.r.IntN(100)) * 100_000
	if m.r.IntN(5) > 0 {
		free := part.Money(30+m.r.IntN(180)) * 1_000_000
		x.FreeFrom = &free
	}
	if m.r.IntN(8) == 0 {
		x.Minimum = part.Money(10+m.r.IntN(20)) * 1_000_000
	}
	return x
}

// family makes the parts of one family, dearer with value and voltage.
func (m *runMaker) family(f int) {
	base := 120 + m.r.IntN(2500) // in thousandths
	for value := range values {
		for volts := range voltages {
			if m.r.IntN(6) == 0 {
				continue
			}
			p := pick.Part{Maker: fmt.Sprintf("Maker %d", m.r.IntN(7)), PartNumber: fmt.Sprintf("%d-%d-%d", f, value, volts)}
			price := base * (10 + 3*value + 4*volts) / 10 * (90 + m.r.IntN(25)) / 100
			for _, s := range m.r.Perm(len(m.in.job.Suppliers))[:min(1+m.r.IntN(4), len(m.in.job.Suppliers))] {
				p.Offers = append(p.Offers, m.offer(&m.in.job.Suppliers[s], price))
			}
			if m.r.IntN(15) == 0 {
				p.Shelf = 1 + m.r.IntN(40)
			}
			m.in.job.Parts = append(m.in.job.Parts, p)
			m.kinds = append(m.kinds, kind{f, value, volts})
		}
	}
}

func (m *runMaker) offer(s *pick.Supplier, price int) part.Offer {
	o := part.Offer{Supplier: s.Name, SKU: fmt.Sprint(len(m.kinds)), Currency: s.Currency, Pack: 1, MinQty: 1, Stock: 5_000, LeadDays: 1 + m.r.IntN(10)}
	price = price * (85 + m.r.IntN(35)) / 100
	switch m.r.IntN(8) {
	case 0:
		o.Pack = 10
	case 1:
		o.Pack, o.MinQty = 5, 20
	case 2:
		o.Stock = 5 + m.r.IntN(120)
	case 3:
		o.MinQty = 10
	}
	for _, q := range []int{1, 10, 50, 100}[:1+m.r.IntN(4)] {
		o.Breaks = append(o.Breaks, part.Break{MinQty: q, UnitPrice: part.Money(max(price, 5)) * 1000})
		price = price * (82 + m.r.IntN(15)) / 100
	}
	return o
}

// places spreads the lines over one to four amplifiers. A place wants a family,
// a value and a voltage or the next ones up; now and then a can fills two places
// of one amplifier at once, or two parts of lower voltage in series with their
// resistors stand in for one.
func (m *runMaker) places(lines, families int) {
	amps := 1 + m.r.IntN(min(4, 1+lines/10))
	counts := make([]int, amps)
	for a := range counts {
		counts[a] = []int{1, 5, 10, 20, 25, 50}[m.r.IntN(6)]
	}
	resistor := len(m.in.job.Parts)
	m.in.job.Parts = append(m.in.job.Parts, pick.Part{Maker: "Maker R", PartNumber: "220k", Offers: []part.Offer{m.offer(&m.in.job.Suppliers[0], 60)}})
	last := make([]int, amps)
	for i := range lines {
		a := i * amps / lines
		want := kind{m.r.IntN(families), m.r.IntN(values), m.r.IntN(voltages)}
		m.in.job.Places = append(m.in.job.Places, pick.Place{Ref: fmt.Sprintf("A%d C%d", a, i), Count: counts[a]})
		m.ways(i, want, resistor)
		if m.r.IntN(9) == 0 && last[a] > 0 {
			m.can(last[a]-1, i)
		}
		last[a] = i + 1
	}
}

func (m *runMaker) ways(i int, want kind, resistor int) {
	fit := 0
	for p, k := range m.kinds {
		if k.family != want.family || k.value < want.value || k.value > want.value+1 {
			continue
		}
		if k.volts >= want.volts {
			m.in.job.Ways = append(m.in.job.Ways, one(i, p))
			fit++
		} else if m.r.IntN(6) == 0 {
			m.in.job.Ways = append(m.in.job.Ways, pick.Way{Places: []int{i}, Pieces: []pick.Pieces{{Part: p, Count: 2}, {Part: resistor, Count: 2}}, Extra: 150_000})
		}
	}
	for p, k := range m.kinds {
		if fit > 0 {
			break
		}
		if k.family == want.family {
			m.in.job.Ways = append(m.in.job.Ways, one(i, p))
			fit++
		}
	}
}

// can makes a part of two sections that fills two places.
func (m *runMaker) can(i, j int) {
	p := pick.Part{Maker: "Maker C", PartNumber: fmt.Sprintf("can %d", i)}
	for range 1 + m.r.IntN(2) {
		p.Offers = append(p.Offers, m.offer(&m.in.job.Suppliers[m.r.IntN(len(m.in.job.Suppliers))], 900+m.r.IntN(5000)))
	}
	m.in.job.Ways = append(m.in.job.Ways, pick.Way{Places: []int{i, j}, Pieces: []pick.Pieces{{Part: len(m.in.job.Parts), Count: 1}}})
	m.in.job.Parts = append(m.in.job.Parts, p)
	m.kinds = append(m.kinds, kind{family: -1})
}
