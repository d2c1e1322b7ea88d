package plan

import (
	"fmt"
	"reflect"
	"strings"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/part"
)

// Comparison is one amplifier under two policies, position by position.
type Comparison struct {
	Amplifier string       `json:"amplifier"`
	First     ComparedSide `json:"first"`
	Second    ComparedSide `json:"second"`
	// Rules are the policies' figures that differ.
	Rules     []RuleChange     `json:"rules"`
	Positions []PositionChange `json:"positions"`
	Changed   int              `json:"changed" doc:"Positions whose action or part differs"`
}

// ComparedSide is what a policy leads to as a whole.
type ComparedSide struct {
	Policy   derate.Policy `json:"policy"`
	Status   Status        `json:"status" enum:"made,incomplete"`
	Total    part.Money    `json:"total"`
	Currency string        `json:"currency"`
}

// RuleChange is one figure on which two policies differ.
type RuleChange struct {
	Member string `json:"member"`
	First  string `json:"first"`
	Second string `json:"second"`
}

// PositionChange is one position under both policies.
type PositionChange struct {
	Ref     string   `json:"ref"`
	Role    amp.Role `json:"role"`
	Changed bool     `json:"changed"`
	First   Choice   `json:"first"`
	Second  Choice   `json:"second"`
	// Why says in a sentence what brings the change; "" where there is none.
	Why string `json:"why,omitempty"`
	// Against are the checks that the first policy's choice fails under the
	// second; Back those the second's fails under the first.
	Against []derate.Check `json:"against"`
	Back    []derate.Check `json:"back"`
}

// Choice is what a policy does at a position.
type Choice struct {
	Action     Action      `json:"action" enum:"keep,replace,replace_with_another_value,remove,add,no_part_fits,measure_first"`
	Maker      string      `json:"maker,omitempty"`
	PartNumber string      `json:"part_number,omitempty"`
	Text       string      `json:"text,omitempty" doc:"The part in a line"`
	UnitPrice  *part.Money `json:"unit_price,omitempty"`
}

// Under gives the assessment under another policy: the runs and the bands are
// the supply's own, and are kept; what a policy has a say in is worked out again.
func (s *Assessment) Under(p derate.Policy) *Assessment {
	out := *s
	out.plan.Policy = p
	out.plan.Assumptions = append([]Assumption(nil), s.plan.Assumptions...)
	stresses := make([]derate.Stress, len(s.positions))
	for _, r := range s.runs {
		r.stresses(s.described, p, stresses)
	}
	out.finishStresses(s.described, p, s.runs, stresses)
	for i := range out.plan.Positions {
		was, is := &s.plan.Positions[i].Stress, &out.plan.Positions[i].Stress
		is.ColdBand, is.WorkingBand, is.RippleBand = was.ColdBand, was.WorkingBand, was.RippleBand
	}
	out.rejudge()
	return &out
}

// Compare holds two plans of one amplifier against each other. They were made
// from the same catalogue, c, which holds every part they picked.
func Compare(first, second *Plan, c Catalogue) *Comparison {
	out := &Comparison{Amplifier: first.Amplifier, First: sideOf(first), Second: sideOf(second),
		Rules: ruleChanges(first.Policy, second.Policy), Positions: []PositionChange{}}
	r := referee{first: first, second: second, catalogue: c}
	for i := range first.Positions {
		change := r.position(&first.Positions[i], &second.Positions[i])
		if change.Changed {
			out.Changed++
		}
		out.Positions = append(out.Positions, change)
	}
	round(reflect.ValueOf(out).Elem())
	return out
}

func sideOf(p *Plan) ComparedSide {
	return ComparedSide{Policy: p.Policy, Status: p.Status, Total: p.Order.Total, Currency: p.Order.Currency}
}

// ruleChanges lists the members of two policies that differ, in their order.
func ruleChanges(first, second derate.Policy) []RuleChange {
	list := []RuleChange{}
	a, b := reflect.ValueOf(first), reflect.ValueOf(second)
	for i := range a.NumField() {
		x, y := fmt.Sprint(a.Field(i).Interface()), fmt.Sprint(b.Field(i).Interface())
		name, _, _ := strings.Cut(a.Type().Field(i).Tag.Get("json"), ",")
		if x != y && name != "name" {
			list = append(list, RuleChange{Member: name, First: x, Second: y})
		}
	}
	return list
}

// referee judges each plan's choices by the other's policy.
type referee struct {
	first, second *Plan
	catalogue     Catalogue
}

func (r *referee) position(a, b *Position) PositionChange {
	out := PositionChange{Ref: a.Ref, Role: a.Role, First: choiceOf(a), Second: choiceOf(b), Against: []derate.Check{}, Back: []derate.Check{}}
	out.Changed = out.First.Action != out.Second.Action || out.First.Maker != out.Second.Maker || out.First.PartNumber != out.Second.PartNumber
	if !out.Changed {
		return out
	}
	out.Against = r.against(a, b, r.second.Policy)
	out.Back = r.against(b, a, r.first.Policy)
	out.Why = r.why(a, b, &out)
	return out
}

func choiceOf(p *Position) Choice {
	c := Choice{Action: p.Action}
	if k := p.Pick; k != nil {
		c.Maker, c.PartNumber = k.Maker, k.PartNumber
		c.Text = uf(k.CapacitanceUF) + " " + volts(k.RatedV) + " " + strings.ReplaceAll(string(k.Style), "_", " ")
		c.UnitPrice = &k.UnitPrice
	}
	return c
}

// against gives the checks that what has chosen fails by another policy, at
// the position as that policy sees it.
func (r *referee) against(has, other *Position, p derate.Policy) []derate.Check {
	if has.Pick == nil {
		if has.Action == Keep && other.Fitted != nil {
			return derate.Misses(derate.Verdict{Checks: other.Fitted.Checks})
		}
		return []derate.Check{}
	}
	for i := range r.catalogue.Parts {
		if k := &r.catalogue.Parts[i]; k.Maker == has.Pick.Maker && k.PartNumber == has.Pick.PartNumber {
			return derate.Misses(derate.Judge(judged(other.Stress, p), derate.Rated{Part: *k, Series: r.seriesOf(k)}, p))
		}
	}
	return []derate.Check{}
}

func (r *referee) seriesOf(p *part.Part) part.Series {
	for _, s := range r.catalogue.Series {
		if s.Name == p.Series {
			return s
		}
	}
	return part.Series{}
}

// why puts the change in a sentence.
func (r *referee) why(a, b *Position, change *PositionChange) string {
	first, second := r.first.Policy.Name, r.second.Policy.Name
	switch {
	case len(change.Against) > 0:
		return fmt.Sprintf("%s does not pass under %s: %s", nameOf(a), second, change.Against[0].Text)
	case a.Pick == nil || b.Pick == nil:
		return fmt.Sprintf("under %s: %s", second, b.Why)
	case len(change.Back) > 0:
		return fmt.Sprintf("%s serves under %s, and not under %s: %s", nameOf(b), second, first, change.Back[0].Text)
	}
	return fmt.Sprintf("both pass under either policy; with %s the whole order costs less under %s", nameOf(b), second)
}

func nameOf(p *Position) string {
	if p.Pick == nil {
		return "what is fitted"
	}
	return p.Pick.Maker + " " + p.Pick.PartNumber
}
