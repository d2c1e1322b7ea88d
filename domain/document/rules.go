package document

import (
	"fmt"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"coldrise/domain/problem"
)

// bound is a limit as its tag writes it.
type bound struct {
	text  string
	value float64
	set   bool
}

// rules is what the tags of a member ask of its value.
type rules struct {
	required            bool
	least, most         bound // minimum, maximum
	above, below        bound // exclusiveMinimum, exclusiveMaximum
	minLength, maxLen   bound
	minItems, maxItems  bound
	enum                []string
	pattern             *regexp.Regexp
	patternWords, units string
}

// field is one member of a struct.
type field struct {
	name  string
	index []int
	rules rules
}

// shapes keeps the fields of the structs met in one reading.
type shapes map[reflect.Type][]field

func (s shapes) of(t reflect.Type) []field {
	if known, ok := s[t]; ok {
		return known
	}
	var fields []field
	for i := range t.NumField() {
		f := t.Field(i)
		tag, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		switch {
		case f.Anonymous && tag == "" && f.Type.Kind() == reflect.Struct:
			for _, inner := range s.of(f.Type) {
				inner.index = append([]int{i}, inner.index...)
				fields = append(fields, inner)
			}
			continue
		case !f.IsExported() || tag == "-":
			continue
		case tag == "":
			tag = f.Name
		}
		opts := strings.Split(options, ",")
		r := rulesOf(f.Tag)
		r.required = !slices.Contains(opts, "omitempty") && !slices.Contains(opts, "omitzero")
		fields = append(fields, field{name: tag, index: []int{i}, rules: r})
	}
	s[t] = fields
	return fields
}

func rulesOf(tag reflect.StructTag) rules {
	r := rules{
		least: boundOf(tag, "minimum"), most: boundOf(tag, "maximum"),
		above: boundOf(tag, "exclusiveMinimum"), below: boundOf(tag, "exclusiveMaximum"),
		minLength: boundOf(tag, "minLength"), maxLen: boundOf(tag, "maxLength"),
		minItems: boundOf(tag, "minItems"), maxItems: boundOf(tag, "maxItems"),
		units: tag.Get("unit"), patternWords: tag.Get("patternDescription"),
	}
	if list := tag.Get("enum"); list != "" {
		r.enum = strings.Split(list, ",")
	}
	if p := tag.Get("pattern"); p != "" {
		r.pattern = regexp.MustCompile(p)
		if r.patternWords == "" {
			panic("document: a pattern needs a patternDescription: " + p)
		}
	}
	return r
}

func boundOf(tag reflect.StructTag, key string) bound {
	text := tag.Get(key)
	if text == "" {
		return bound{}
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		panic(fmt.Sprintf("document: tag %s:%q is no number", key, text))
	}
	return bound{text: text, value: v, set: true}
}

// number gives the fault of a number, if it has one.
func (r rules) number(v float64) (problem.Fault, bool) {
	limit := ""
	switch {
	case r.least.set && v < r.least.value:
		limit = "at least " + r.least.text
	case r.most.set && v > r.most.value:
		limit = "at most " + r.most.text
	case r.above.set && v <= r.above.value:
		limit = "more than " + r.above.text
	case r.below.set && v >= r.below.value:
		limit = "less than " + r.below.text
	default:
		return problem.Fault{}, false
	}
	return problem.Fault{Message: strings.TrimSpace("must be " + limit + " " + r.units), Limit: limit}, true
}

// string gives the fault of a string, if it has one.
func (r rules) string(v string) (problem.Fault, bool) {
	length := float64(utf8.RuneCountInString(v))
	switch {
	case r.enum != nil && !slices.Contains(r.enum, v):
		limit := "one of " + strings.Join(r.enum, ", ")
		return problem.Fault{Message: "must be " + limit + meant(v, r.enum), Limit: limit}, true
	case r.minLength.set && v == "":
		return problem.Fault{Message: "must not be empty", Limit: count("at least ", r.minLength, "character")}, true
	case r.minLength.set && length < r.minLength.value:
		return counted("at least ", r.minLength, "character"), true
	case r.maxLen.set && length > r.maxLen.value:
		return counted("at most ", r.maxLen, "character"), true
	case r.pattern != nil && !r.pattern.MatchString(v):
		return problem.Fault{Message: "does not keep to its form: " + r.patternWords, Limit: r.patternWords}, true
	}
	return problem.Fault{}, false
}

// array gives the fault of an array's length, if it has one.
func (r rules) array(length int) (problem.Fault, bool) {
	switch {
	case r.minItems.set && float64(length) < r.minItems.value:
		return counted("at least ", r.minItems, "item"), true
	case r.maxItems.set && float64(length) > r.maxItems.value:
		return counted("at most ", r.maxItems, "item"), true
	}
	return problem.Fault{}, false
}

func count(which string, b bound, noun string) string {
	if b.value != 1 {
		noun += "s"
	}
	return which + b.text + " " + noun
}

func counted(which string, b bound, noun string) problem.Fault {
	limit := count(which, b, noun)
	return problem.Fault{Message: "must have " + limit, Limit: limit}
}

func meant(word string, known []string) string {
	if near, ok := Nearest(word, known); ok {
		return fmt.Sprintf("; did you mean %q?", near)
	}
	return ""
}
