package catalogue

import (
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"coldrise/domain/document"
	"coldrise/domain/part"
	"coldrise/domain/quantity"
)

// owner is what a member belongs to: a part has offers, an offer has price
// breaks, and the tables of ratings have points.
type owner int

const (
	ofPart owner = iota
	ofOffer
	ofBreak
	ofFrequency
	ofTemperature
)

// ownerTypes are the structs of the owners, ownerAt their place in a part.
var (
	ownerTypes = map[owner]reflect.Type{ofPart: reflect.TypeFor[part.Part](), ofOffer: reflect.TypeFor[part.Offer](), ofBreak: reflect.TypeFor[part.Break](),
		ofFrequency: reflect.TypeFor[part.FrequencyFactor](), ofTemperature: reflect.TypeFor[part.TemperatureFactor]()}
	seriesTypes = map[owner]reflect.Type{ofPart: reflect.TypeFor[part.Series](), ofFrequency: ownerTypes[ofFrequency], ofTemperature: ownerTypes[ofTemperature]}
	ownerAt     = map[owner]string{ofOffer: "/offers/*", ofBreak: "/offers/*/breaks/*", ofFrequency: "/frequency_factors/*", ofTemperature: "/temperature_factors/*"}
)

// form is how the cells of a member are read and written.
type form int

const (
	isText form = iota
	isWord      // one of a closed set
	isNumber
	isWhole
	isMoney
	isFlag
)

// member is one member of a part that a column of a table can hold.
type member struct {
	name  string // what maps and exports call it
	at    string // its pointer within its owner; "/" and the name where empty
	owner owner
	form  form
	unit  quantity.Unit
	in    string // what the member is kept in, as unit spells it
	ask   bool   // lists give it in more than one unit; a bare number is refused
	known string // headers it goes by, parted by |, in small letters

	steps []step // the way to it from its owner
	rule  document.Member
	index int // within its owner, for slot.given
}

// step is one step from a struct to a member: a field, or an item of a list.
type step struct {
	field []int
	item  int // -1 where the step is a field
}

// members is every member of a part, in the order exports have them. A test
// walks part.Part and fails where one is missing: adding it is one row here.
var members = resolve(slices.Concat(partMembers, ratingMembers, bodyMembers, offerMembers, pointMembers), ownerTypes)

// seriesMembers is the same of part.Series.
var seriesMembers = resolve(slices.Concat(familyMembers, ratingMembers, pointMembers), seriesTypes)

var partMembers = []member{
	{name: "maker", known: "manufacturer|mfr|mfg|brand|make|hersteller|fabrikat|marke|fabricant|marque"},
	{name: "part_number", known: "part no|part no.|part number|mpn|mfr part no|mfr part number|manufacturer part number|herstellernummer|hersteller-nr.|hersteller-nr|référence fabricant|reference fabricant|réf. fabricant"},
	{name: "series", known: "serie|baureihe|family|série|gamme"},
	{name: "technology", form: isWord, known: "kind|technologie|category|kategorie"},
	{name: "style", form: isWord, known: "mounting|bauform|form|case style|package|montage|boîtier"},
	{name: "capacitance_uf", form: isNumber, unit: quantity.Farad, in: "µF", known: "capacitance|cap|capacity|value|c|kapazität|kapazitaet|wert|capacité|capacite|valeur"},
	{name: "section_2_uf", at: "/further_sections_uf/0", form: isNumber, unit: quantity.Farad, in: "µF"},
	{name: "section_3_uf", at: "/further_sections_uf/1", form: isNumber, unit: quantity.Farad, in: "µF"},
	{name: "section_4_uf", at: "/further_sections_uf/2", form: isNumber, unit: quantity.Farad, in: "µF"},
	{name: "section_5_uf", at: "/further_sections_uf/3", form: isNumber, unit: quantity.Farad, in: "µF"},
	{name: "section_6_uf", at: "/further_sections_uf/4", form: isNumber, unit: quantity.Farad, in: "µF"},
	{name: "tol_minus_pct", form: isNumber, unit: quantity.Percent, known: "tol -|tolerance -|toleranz -"},
	{name: "tol_plus_pct", form: isNumber, unit: quantity.Percent, known: "tol +|tolerance +|toleranz +"},
	{name: "rated_v", form: isNumber, unit: quantity.Volt, known: "voltage|rated voltage|volts|v|vdc|wv|working voltage|spannung|nennspannung|tension|tension nominale"},
	{name: "rated_v_ac", form: isNumber, unit: quantity.VoltAC, known: "vac|ac voltage|rated voltage ac|wechselspannung|tension alternative"},
	{name: "safety_class", form: isWord, known: "class|x/y class|sicherheitsklasse|classe"},
	{name: "surge_v", form: isNumber, unit: quantity.Volt, known: "surge voltage|surge|spitzenspannung|tension de pointe"},
	{name: "ripple_ma", form: isNumber, unit: quantity.Ampere, in: "mA", known: "ripple|ripple current|irms|rippelstrom|wechselstrom|courant ondulé|courant d'ondulation"},
	{name: "esr_ohm", form: isNumber, unit: quantity.Ohm, in: "Ω", ask: true, known: "esr"},
	{name: "leakage_ua", form: isNumber, unit: quantity.Ampere, in: "µA", known: "leakage|leakage current|dcl|reststrom|courant de fuite"},
	{name: "leakage_min", form: isNumber},
}

// ratingMembers are what a part may give for itself and a series for all of its.
var ratingMembers = []member{
	{name: "base_hz", form: isNumber, unit: quantity.Hertz, known: "ripple frequency|frequency|frequenz|fréquence"},
	{name: "min_c", form: isNumber, unit: quantity.Celsius, known: "min temp|tmin|minimum temperature"},
	{name: "max_c", form: isNumber, unit: quantity.Celsius, known: "max temp|tmax|maximum temperature"},
	{name: "life_model", at: "/life/model", form: isWord},
	{name: "life_h", at: "/life/rated_h", form: isNumber, unit: quantity.Hour, known: "life hours|lebensdauer h"},
	{name: "life_c", at: "/life/rated_c", form: isNumber, unit: quantity.Celsius},
	{name: "core_rise_k", at: "/life/core_rise_k", form: isNumber, unit: quantity.Kelvin},
	{name: "ripple_base", at: "/life/ripple_base", form: isNumber},
	{name: "ripple_base_over", at: "/life/ripple_base_over", form: isNumber},
	{name: "voltage_exponent", at: "/life/voltage_exponent", form: isNumber},
	{name: "voltage_from", at: "/life/voltage_from", form: isNumber},
	{name: "tan_delta", form: isNumber, known: "tan d|tan delta|tan δ|df|dissipation factor|verlustfaktor|facteur de pertes"},
	{name: "leakage_per_cv", at: "/leakage/per_cv", form: isNumber},
	{name: "leakage_per_root_cv", at: "/leakage/per_root_cv", form: isNumber},
	{name: "leakage_plus_ua", at: "/leakage/plus_ua", form: isNumber, unit: quantity.Ampere, in: "µA"},
	{name: "leakage_floor_ua", at: "/leakage/floor_ua", form: isNumber, unit: quantity.Ampere, in: "µA"},
	{name: "leakage_law_min", at: "/leakage/minutes", form: isNumber},
	{name: "reform_after_years", at: "/storage/reform_after_years", form: isNumber},
	{name: "max_years", at: "/storage/max_years", form: isNumber},
	{name: "shelf_test_h", at: "/storage/shelf_test_h", form: isNumber, unit: quantity.Hour},
}

var bodyMembers = []member{
	{name: "diameter_mm", form: isNumber, unit: quantity.Metre, in: "mm", known: "diameter|dia|dia.|ø|d|durchmesser|diamètre|diametre"},
	{name: "length_mm", form: isNumber, unit: quantity.Metre, in: "mm", known: "length|height|l|h|länge|höhe|longueur|hauteur"},
	{name: "thickness_mm", form: isNumber, unit: quantity.Metre, in: "mm", known: "thickness|t|dicke|épaisseur"},
	{name: "lead_pitch_mm", form: isNumber, unit: quantity.Metre, in: "mm", known: "pitch|lead pitch|lead spacing|ls|rm|rastermaß|raster|pas|entraxe"},
	{name: "note", known: "notes|remark|remarks|comment|bemerkung|hinweis|remarque"},
}

var offerMembers = []member{
	{name: "supplier", owner: ofOffer, known: "distributor|vendor|lieferant|fournisseur"},
	{name: "sku", owner: ofOffer, known: "order code|order no|order no.|order number|stock no|stock code|item|item no|article|artikelnummer|artikel-nr.|artikel-nr|art.-nr.|art-nr|bestellnummer|bestell-nr.|référence|reference|réf.|code article"},
	{name: "currency", owner: ofOffer, known: "währung|waehrung|devise|monnaie"},
	{name: "pack", owner: ofOffer, form: isWhole, unit: quantity.One, known: "pack size|packing unit|multiple|vpe|verpackungseinheit|conditionnement|colisage"},
	{name: "min_qty", owner: ofOffer, form: isWhole, unit: quantity.One, known: "moq|minimum order|min. qty|min qty|mindestmenge|mindestbestellmenge|minimum de commande"},
	{name: "stock", owner: ofOffer, form: isWhole, unit: quantity.One, known: "in stock|available|availability|qty available|bestand|lager|lagerbestand|verfügbar|disponible"},
	{name: "lead_days", owner: ofOffer, form: isWhole, unit: quantity.Day, known: "lead time|delivery|delivery time|lieferzeit|délai|delai|délai de livraison"},
	{name: "preferred", owner: ofOffer, form: isFlag, known: "preferred supplier|bevorzugt|préféré"},
	{name: "break_min_qty", at: "/min_qty", owner: ofBreak, form: isWhole, unit: quantity.One, known: "from qty|qty|quantity|ab menge|menge|à partir de|quantité"},
	{name: "unit_price", owner: ofBreak, form: isMoney, known: "price|price each|cost|unit cost|preis|stückpreis|einzelpreis|netto|prix|prix unitaire"},
}

var pointMembers = []member{
	{name: "factor_hz", at: "/hz", owner: ofFrequency, form: isNumber, unit: quantity.Hertz},
	{name: "frequency_factor", at: "/factor", owner: ofFrequency, form: isNumber},
	{name: "factor_ambient_c", at: "/ambient_c", owner: ofTemperature, form: isNumber, unit: quantity.Celsius},
	{name: "temperature_factor", at: "/factor", owner: ofTemperature, form: isNumber},
}

var familyMembers = []member{
	{name: "name", at: "/name"},
	{name: "maker"},
	{name: "technology", form: isWord},
	{name: "note"},
	{name: "tol_minus_pct", form: isNumber, unit: quantity.Percent},
	{name: "tol_plus_pct", form: isNumber, unit: quantity.Percent},
	{name: "surge_ratio", form: isNumber},
}

// resolve finds the way to each member and its rules.
func resolve(all []member, types map[owner]reflect.Type) []member {
	count := map[owner]int{}
	for i := range all {
		m := &all[i]
		m.index = count[m.owner]
		count[m.owner]++
		if m.at == "" {
			m.at = "/" + m.name
		}
		m.steps, m.rule = way(types[m.owner], m.at)
	}
	return all
}

// way gives the steps from a struct to what a pointer names, and its rules.
// It panics where there is nothing: that is a mistake in the table above.
func way(t reflect.Type, pointer string) ([]step, document.Member) {
	var steps []step
	var rule document.Member
	for _, name := range strings.Split(pointer[1:], "/") {
		if t.Kind() == reflect.Pointer {
			t = t.Elem()
		}
		if t.Kind() == reflect.Slice {
			item, err := strconv.Atoi(name)
			if err != nil {
				panic("catalogue: no item " + pointer)
			}
			steps = append(steps, step{item: item})
			t = t.Elem()
			continue
		}
		rule = find(document.Members(t), name)
		if rule.Name == "" {
			panic(fmt.Sprintf("catalogue: %s has no member %s", t, pointer))
		}
		steps = append(steps, step{field: rule.Index, item: -1})
		t = rule.Type
	}
	return steps, rule
}

func find(all []document.Member, name string) document.Member {
	for _, m := range all {
		if m.Name == name {
			return m
		}
	}
	return document.Member{}
}

// requiredOf are the members that every owner of a kind has.
var requiredOf = requiredMembers()

func requiredMembers() map[owner][]*member {
	of := map[owner][]*member{}
	for i := range members {
		if m := &members[i]; m.required() {
			of[m.owner] = append(of[m.owner], m)
		}
	}
	return of
}

// memberNamed gives a member by its name; nil where there is none.
func memberNamed(name string) *member {
	for i := range members {
		if members[i].name == name {
			return &members[i]
		}
	}
	return nil
}

// required says whether every owner has the member; not where it is part of
// something that may be left out whole.
func (m *member) required() bool { return m.rule.Required && len(m.steps) == 1 }

// pointer gives the member's place in a part, with * for the numbers of items
// of offers, breaks and tables.
func (m *member) pointer() string { return ownerAt[m.owner] + m.at }

// target gives the value the steps lead to, making what is not there yet:
// pointers on the way, items of a list up to the one meant.
func (m *member) target(v reflect.Value) reflect.Value {
	for _, s := range m.steps {
		if v.Kind() == reflect.Pointer {
			if v.IsNil() {
				v.Set(reflect.New(v.Type().Elem()))
			}
			v = v.Elem()
		}
		if s.item < 0 {
			v = v.FieldByIndex(s.field)
			continue
		}
		for v.Len() <= s.item {
			v.Set(reflect.Append(v, reflect.Zero(v.Type().Elem())))
		}
		v = v.Index(s.item)
	}
	return v
}

// look gives the value the steps lead to, and false where something on the way
// is not there or is left out.
func (m *member) look(v reflect.Value) (reflect.Value, bool) {
	for _, s := range m.steps {
		if v.Kind() == reflect.Pointer {
			if v.IsNil() {
				return v, false
			}
			v = v.Elem()
		}
		if s.item < 0 {
			v = v.FieldByIndex(s.field)
		} else if s.item < v.Len() {
			v = v.Index(s.item)
		} else {
			return v, false
		}
	}
	if v.Kind() == reflect.Pointer {
		return v.Elem(), !v.IsNil()
	}
	return v, m.rule.Required || len(m.steps) > 1 && m.steps[len(m.steps)-1].item >= 0 || !v.IsZero()
}

func setNumber(v reflect.Value, x float64) {
	if v.Kind() == reflect.Pointer {
		v.Set(reflect.ValueOf(&x))
		return
	}
	v.SetFloat(x)
}
