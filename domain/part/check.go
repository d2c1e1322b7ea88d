package part

import (
	"fmt"
	"math"
	"strconv"

	"coldrise/domain/problem"
)

// maxSurgeRatio is the largest surge voltage taken as believable, as a
// multiple of the rated voltage. No published factor passes 1.15; a figure
// past this is a slip of a digit, and one that would kill. Common practice.
const maxSurgeRatio = 1.5

// baseTolerance is how far a series' table may be from 1 at its base, from
// makers' rounding to two decimals.
const baseTolerance = 0.005

// MaxCoreRiseK is the largest rise at rated ripple that a life model with a
// ripple term takes, K. Published ones are 3 to 10 K.
const MaxCoreRiseK = 20

// Check adds what is wrong with a part beyond the ranges of its members:
// figures that contradict each other, or its series. A nil series leaves out
// the checks that need one. Pointers are those of a part document.
func (p *Part) Check(l *problem.List, series *Series) {
	p.checkSafety(l)
	p.checkBody(l)
	p.checkRatings(l)
	if series != nil {
		p.checkSeries(l, series)
	}
	skus := map[[2]string]int{}
	for i := range p.Offers {
		o := &p.Offers[i]
		at := "/offers/" + strconv.Itoa(i)
		key := [2]string{o.Supplier, o.SKU}
		if first, twice := skus[key]; twice {
			l.Addf(at+"/sku", "the same supplier and order code as offer %d", first)
		} else {
			skus[key] = i
		}
		o.check(l, at)
	}
}

func (p *Part) checkSafety(l *problem.List) {
	classes := ""
	switch p.Technology {
	case SafetyX:
		classes = "X1 or X2"
	case SafetyY:
		classes = "Y1 or Y2"
	}
	if classes == "" {
		if p.SafetyClass != "" {
			l.Add(problem.Fault{Pointer: "/safety_class", Value: quoted(p.SafetyClass),
				Message: fmt.Sprintf("a class goes with safety_x or safety_y; the technology is %s", p.Technology)})
		}
		if p.RatedVAC != nil {
			l.Add(problem.Fault{Pointer: "/rated_v_ac", Value: number(*p.RatedVAC), Unit: "V",
				Message: "AC volts of a safety class go with safety_x or safety_y"})
		}
		return
	}
	if len(p.SafetyClass) != 2 || p.SafetyClass[0] != classes[0] {
		l.Add(problem.Fault{Pointer: "/safety_class", Value: quoted(p.SafetyClass), Limit: classes,
			Message: fmt.Sprintf("a part of technology %s states its class, %s", p.Technology, classes)})
	}
	if p.RatedVAC == nil {
		l.Addf("/rated_v_ac", "a part of technology %s states its rated AC volts", p.Technology)
	}
}

func (p *Part) checkBody(l *problem.List) {
	if p.Technology == Electrolytic && (p.Style == Box || p.Style == Disc) {
		l.Add(problem.Fault{Pointer: "/style", Value: quoted(string(p.Style)), Limit: "axial, radial, snap_in, can",
			Message: "an electrolytic is no box and no disc"})
	}
	if len(p.FurtherSectionsUF) > 0 && p.Style != Can {
		l.Add(problem.Fault{Pointer: "/further_sections_uf", Value: fmt.Sprint(len(p.FurtherSectionsUF)),
			Message: fmt.Sprintf("only a can has further sections; the style is %s", p.Style)})
	}
	if p.ThicknessMM != nil && p.Style != Box && p.Style != Disc {
		l.Add(problem.Fault{Pointer: "/thickness_mm", Value: number(*p.ThicknessMM), Unit: "mm",
			Message: "a thickness goes with a box or a disc; a round body has a diameter"})
	}
}

func (p *Part) checkRatings(l *problem.List) {
	// A rating that could not be read is zero here, and has its fault already.
	if p.SurgeV == nil || p.RatedV <= 0 {
		return
	}
	switch v := *p.SurgeV; {
	case v < p.RatedV:
		l.Add(problem.Fault{Pointer: "/surge_v", Value: number(v), Limit: number(p.RatedV), Unit: "V",
			Message: "the surge voltage is not below the rated voltage"})
	case v > maxSurgeRatio*p.RatedV:
		l.Add(problem.Fault{Pointer: "/surge_v", Value: number(v), Limit: number(maxSurgeRatio * p.RatedV), Unit: "V",
			Message: "no surge voltage is believed beyond 1.5 × rated"})
	}
}

func (p *Part) checkSeries(l *problem.List, s *Series) {
	if p.Series != s.Name {
		l.Add(problem.Fault{Pointer: "/series", Value: quoted(p.Series), Limit: quoted(s.Name), Message: "the part names another series"})
	}
	if p.Maker != s.Maker {
		l.Add(problem.Fault{Pointer: "/maker", Value: quoted(p.Maker), Limit: quoted(s.Maker), Message: "the series is another maker's"})
	}
	if p.Technology != s.Technology {
		l.Add(problem.Fault{Pointer: "/technology", Value: quoted(string(p.Technology)), Limit: quoted(string(s.Technology)),
			Message: "the part and its series are of one technology"})
	}
	if p.RippleMA != nil && s.BaseHz <= 0 {
		l.Add(problem.Fault{Pointer: "/ripple_ma", Value: number(*p.RippleMA), Unit: "mA",
			Message: "a ripple current holds at a frequency; the series gives no base_hz"})
	}
}

// check adds the faults of one offer; at is its pointer.
func (o *Offer) check(l *problem.List, at string) {
	if !currencyCode(o.Currency) {
		l.Add(problem.Fault{Pointer: at + "/currency", Value: quoted(o.Currency), Message: "a currency is three capital letters (ISO 4217)"})
	}
	for j, b := range o.Breaks {
		here := at + "/breaks/" + strconv.Itoa(j)
		if b.UnitPrice < 0 || b.UnitPrice > MaxMoney {
			l.Add(problem.Fault{Pointer: here + "/unit_price", Value: b.UnitPrice.String(), Limit: "0 to " + MaxMoney.String(), Unit: o.Currency,
				Message: "a price is not negative and not beyond the limit"})
		}
		if j == 0 {
			continue
		}
		before := o.Breaks[j-1]
		if b.MinQty <= before.MinQty {
			l.Add(problem.Fault{Pointer: here + "/min_qty", Value: strconv.Itoa(b.MinQty), Limit: strconv.Itoa(before.MinQty),
				Message: "price breaks ascend in min_qty"})
		}
		if b.UnitPrice > before.UnitPrice {
			l.Add(problem.Fault{Pointer: here + "/unit_price", Value: b.UnitPrice.String(), Limit: before.UnitPrice.String(), Unit: o.Currency,
				Message: "the unit price does not rise with the quantity"})
		}
	}
	// A first break above the least quantity would leave quantities without a price.
	if len(o.Breaks) > 0 && o.MinQty > 0 && o.Breaks[0].MinQty > o.MinQty {
		l.Add(problem.Fault{Pointer: at + "/breaks/0/min_qty", Value: strconv.Itoa(o.Breaks[0].MinQty), Limit: strconv.Itoa(o.MinQty),
			Message: "the first price break holds from the offer's min_qty at the latest"})
	}
}

// Check adds what is wrong with a series beyond the ranges of its members:
// tables out of order, or not 1 at their base. Pointers are those of a series document.
func (s *Series) Check(l *problem.List) {
	s.checkFrequency(l)
	s.checkTemperature(l)
	if s.MinC != nil && s.MaxC > 0 && *s.MinC >= s.MaxC {
		l.Add(problem.Fault{Pointer: "/min_c", Value: number(*s.MinC), Limit: number(s.MaxC), Unit: "°C", Message: "min_c is below max_c"})
	}
	if s.TanDelta != nil && s.BaseHz <= 0 {
		l.Addf("/tan_delta", "a loss factor holds at a frequency; the series gives no base_hz")
	}
	if s.Life != nil && s.MaxC > 0 && s.Life.RatedC > s.MaxC {
		l.Add(problem.Fault{Pointer: "/life/rated_c", Value: number(s.Life.RatedC), Limit: number(s.MaxC), Unit: "°C",
			Message: "life is rated at or below max_c"})
	}
	if life := s.Life; life != nil && life.Model == TenKelvinRipple && (life.CoreRiseK <= 0 || life.CoreRiseK > MaxCoreRiseK) {
		l.Add(problem.Fault{Pointer: "/life/core_rise_k", Value: number(life.CoreRiseK), Limit: number(MaxCoreRiseK), Unit: "K",
			Message: "the model ten_kelvin_ripple needs the rise of the core at rated ripple, above 0 and 20 K at most"})
	}
}

func (s *Series) checkFrequency(l *problem.List) {
	t := s.FrequencyFactors
	for i := 1; i < len(t); i++ {
		at := "/frequency_factors/" + strconv.Itoa(i)
		if t[i].Hz <= t[i-1].Hz {
			l.Add(problem.Fault{Pointer: at + "/hz", Value: number(t[i].Hz), Limit: number(t[i-1].Hz), Unit: "Hz", Message: "the table ascends in hz"})
		}
		if t[i].Factor < t[i-1].Factor {
			l.Add(problem.Fault{Pointer: at + "/factor", Value: number(t[i].Factor), Limit: number(t[i-1].Factor),
				Message: "ripple current does not fall as frequency rises"})
		}
	}
	if len(t) == 0 {
		return
	}
	if s.BaseHz <= 0 {
		l.Addf("/frequency_factors", "factors hold against a frequency; the series gives no base_hz")
	} else if k := s.FrequencyFactor(s.BaseHz); math.Abs(k-1) > baseTolerance {
		l.Add(problem.Fault{Pointer: "/frequency_factors", Value: number(k), Limit: "1", Message: fmt.Sprintf("the factor is 1 at base_hz, %g Hz", s.BaseHz)})
	}
}

func (s *Series) checkTemperature(l *problem.List) {
	t := s.TemperatureFactors
	for i := 1; i < len(t); i++ {
		at := "/temperature_factors/" + strconv.Itoa(i)
		if t[i].AmbientC <= t[i-1].AmbientC {
			l.Add(problem.Fault{Pointer: at + "/ambient_c", Value: number(t[i].AmbientC), Limit: number(t[i-1].AmbientC), Unit: "°C",
				Message: "the table ascends in ambient_c"})
		}
		if t[i].Factor > t[i-1].Factor {
			l.Add(problem.Fault{Pointer: at + "/factor", Value: number(t[i].Factor), Limit: number(t[i-1].Factor),
				Message: "ripple current does not rise as the ambient rises"})
		}
	}
	if len(t) == 0 {
		return
	}
	// The rating itself holds at the hottest ambient allowed; a factor above 1
	// there would grant ripple current the maker does not.
	if k := s.TemperatureFactor(s.MaxC); k > 1+baseTolerance {
		l.Add(problem.Fault{Pointer: "/temperature_factors", Value: number(k), Limit: "1",
			Message: fmt.Sprintf("the factor is 1 at most at max_c, %g °C", s.MaxC)})
	}
}

func currencyCode(s string) bool {
	if len(s) != 3 {
		return false
	}
	for _, r := range s {
		if r < 'A' || r > 'Z' {
			return false
		}
	}
	return true
}

func quoted(s string) string { return strconv.Quote(s) }

func number(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
