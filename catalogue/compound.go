package catalogue

import (
	"strings"

	"coldrise/catalogue/table"
	"coldrise/domain/problem"
	"coldrise/domain/quantity"
)

// compound is what holds several members in one cell: ±20 %, 25 × 50, 32+32 µF.
type compound struct {
	name  string
	sets  []string
	unit  *quantity.Unit // of numbers without one; nil where there is no choice
	bare  string         // the default of it
	known string         // headers it goes by, as of a member
	read  func(text string, o quantity.Options, order []string) ([]assignment, error)
}

// assignment is a number for a member, in the unit it is kept in; letters set
// both tolerances.
type assignment struct {
	member string
	number float64
}

var (
	unitFarad  = quantity.Farad
	unitMetre  = quantity.Metre
	unitAmpere = quantity.Ampere
	unitHour   = quantity.Hour
)

var sectionMembers = []string{"capacitance_uf", "section_2_uf", "section_3_uf", "section_4_uf", "section_5_uf", "section_6_uf"}

var compounds = []compound{
	{name: "sections_uf", sets: sectionMembers, unit: &unitFarad,
		known: "sections|values", read: readSections},
	{name: "code", sets: []string{"capacitance_uf", "tol_minus_pct", "tol_plus_pct"}, known: "marking|cap code|aufdruck", read: readCode},
	{name: "tolerance_pct", sets: []string{"tol_minus_pct", "tol_plus_pct"}, known: "tolerance|tol|tol.|toleranz|tolérance", read: readTolerance},
	{name: "temperature_c", sets: []string{"min_c", "max_c"}, known: "temperature|temperature range|temp|temp.|temperatur|temperaturbereich|température", read: readTemperature},
	{name: "size_mm", sets: []string{"diameter_mm", "length_mm", "thickness_mm"}, unit: &unitMetre, bare: "mm",
		known: "size|dimensions|dim|case size|d x l|dxl|ø x l|abmessung|abmessungen|maße|baugröße|taille|encombrement", read: readSize},
	{name: "ripple_at", sets: []string{"ripple_ma", "base_hz"}, unit: &unitAmpere, known: "ripple current @ hz", read: readRipple},
	{name: "life_at", sets: []string{"life_h", "life_c"}, unit: &unitHour, known: "life|lifetime|endurance|load life|lebensdauer|durée de vie", read: readLife},
}

func compoundNamed(name string) *compound {
	for i := range compounds {
		if compounds[i].name == name {
			return &compounds[i]
		}
	}
	return nil
}

// readCompound turns a cell into numbers for its members, each within its range.
func (c *column) readCompound(cell *table.Cell, text string) ([]assignment, *trouble) {
	switch cell.Kind {
	case table.Error, table.Date:
		_, t := c.reading.read(cell, text)
		return nil, t
	case table.Percent:
		text += "%"
	}
	o := c.options
	if cell.Kind != table.Text {
		o.DecimalComma, o.Grouping, o.DoubtPoint = false, "", false
	}
	all, err := c.compound.read(text, o, c.order)
	if err != nil {
		return nil, &trouble{CodeValue, problem.As(err).Faults[0].Message}
	}
	for _, a := range all {
		m := memberNamed(a.member)
		if f, bad := m.rule.Number(a.number); bad {
			return nil, &trouble{CodeRange, m.name + " " + f.Message}
		}
	}
	return all, nil
}

func readSections(text string, o quantity.Options, _ []string) ([]assignment, error) {
	values, err := quantity.NewReader(quantity.Farad, "µF", o).ReadSections(text)
	if err != nil {
		return nil, err
	}
	if len(values) > len(sectionMembers) {
		return nil, refused("must have six sections at most")
	}
	all := make([]assignment, len(values))
	for i, v := range values {
		all[i] = assignment{sectionMembers[i], v}
	}
	return all, nil
}

// readCode reads a marking such as 473K; a spelling that is no such code and
// has its unit is taken as well.
func readCode(text string, o quantity.Options, _ []string) ([]assignment, error) {
	farad, letter, err := quantity.ParseCode(text)
	if err != nil {
		uf, other := quantity.NewReader(quantity.Farad, "µF", o).Read(text)
		if other != nil {
			return nil, err
		}
		return []assignment{{"capacitance_uf", uf}}, nil
	}
	// Through its text, so that 47 nF is 0.047 µF and not a product beside it.
	uf, err := quantity.NewReader(quantity.Farad, "µF", quantity.Options{}).Read(quantity.Print(farad, quantity.Farad, 0))
	all := []assignment{{"capacitance_uf", uf}}
	if t, ok := quantity.ToleranceOf(letter); ok {
		all = append(all, assignment{"tol_minus_pct", t.MinusPct}, assignment{"tol_plus_pct", t.PlusPct})
	}
	return all, err
}

func readTolerance(text string, o quantity.Options, _ []string) ([]assignment, error) {
	t, err := quantity.ParseTolerance(text, o)
	return []assignment{{"tol_minus_pct", t.MinusPct}, {"tol_plus_pct", t.PlusPct}}, err
}

func readTemperature(text string, o quantity.Options, _ []string) ([]assignment, error) {
	r, err := quantity.ParseRange(text, o)
	all := []assignment{{"max_c", r.HighC}}
	if r.LowC != nil {
		all = append(all, assignment{"min_c", *r.LowC})
	}
	return all, err
}

// readSize takes two lengths for diameter and length, as all do who write
// round bodies so; three have no order that all share.
func readSize(text string, o quantity.Options, order []string) ([]assignment, error) {
	lengths, err := quantity.NewReader(quantity.Metre, "mm", o).ReadDimensions(text)
	if err != nil {
		return nil, err
	}
	if len(order) == 0 {
		order = []string{"diameter_mm", "length_mm"}
	}
	if len(lengths) != len(order) {
		if len(lengths) == 3 {
			return nil, refused("has three lengths; say in the column's order which is which")
		}
		return nil, refused("must have as many lengths as the column's order names: " + strings.Join(order, " × "))
	}
	all := make([]assignment, len(lengths))
	for i, v := range lengths {
		all[i] = assignment{order[i], v}
	}
	return all, nil
}

// condition parts a figure from what it holds at: 5000 h @ 105 °C, 240 mA/120 Hz.
func condition(text string) (figure, at string) {
	for _, sign := range []string{"@", " at ", " bei ", " à ", "/"} {
		if i := strings.Index(text, sign); i > 0 {
			return strings.TrimSpace(text[:i]), strings.TrimSpace(text[i+len(sign):])
		}
	}
	return text, ""
}

func readRipple(text string, o quantity.Options, _ []string) ([]assignment, error) {
	return readAt(text, o, [2]string{"ripple_ma", "base_hz"})
}

func readLife(text string, o quantity.Options, _ []string) ([]assignment, error) {
	return readAt(text, o, [2]string{"life_h", "life_c"})
}

// readAt reads a figure and, where it is there, what it holds at.
func readAt(text string, o quantity.Options, names [2]string) ([]assignment, error) {
	var all []assignment
	figure, at := condition(text)
	for i, piece := range []string{figure, at} {
		if i == 1 {
			o.Bare = ""
			if piece == "" {
				break
			}
		}
		m := memberNamed(names[i])
		v, err := quantity.NewReader(m.unit, m.in, o).Read(piece)
		if err != nil {
			return nil, err
		}
		all = append(all, assignment{names[i], v})
	}
	return all, nil
}

func refused(message string) error {
	l := &problem.List{}
	l.Addf("", "%s", message)
	return l.Err("cell")
}
