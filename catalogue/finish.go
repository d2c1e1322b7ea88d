package catalogue

import (
	"reflect"
	"strconv"
	"strings"

	"coldrise/domain/part"
	"coldrise/domain/problem"
)

// finish ends a part: what contradicts itself or its series is found.
func (b *builder) finish() {
	var l problem.List
	var series *part.Series
	if b.part.Series != "" && b.series != nil {
		s, ok := b.series(b.part.Series)
		if !ok {
			b.at("/series", strconv.Quote(b.part.Series), CodeSeries, "the shop has no series of this name; add the series first, or leave the cell blank")
		}
		series = s
	}
	b.lengths(&l)
	if b.part.Technology != "" { // else most that it finds would be an echo
		b.part.Check(&l, series)
	}
	if l.Len() == 0 {
		return
	}
	for _, f := range problem.As(l.Err("part")).Faults {
		b.at(f.Pointer, f.Value, CodeContradiction, f.Message)
	}
}

// lengths holds the lists to their limits.
func (b *builder) lengths(l *problem.List) {
	if f, bad := offersRule.Length(len(b.part.Offers)); bad {
		l.Addf("/offers", "a part %s", f.Message)
	}
	for i := range b.part.Offers {
		// That there is none was found where the offer was taken.
		if f, bad := breaksRule.Length(max(1, len(b.part.Offers[i].Breaks))); bad {
			l.Addf("/offers/"+strconv.Itoa(i)+"/breaks", "an offer %s", f.Message)
		}
	}
	if f, bad := frequencyRule.Length(len(b.part.FrequencyFactors)); bad {
		l.Addf("/frequency_factors", "a table %s", f.Message)
	}
	if f, bad := temperatureRule.Length(len(b.part.TemperatureFactors)); bad {
		l.Addf("/temperature_factors", "a table %s", f.Message)
	}
}

var (
	_, offersRule      = way(reflect.TypeFor[part.Part](), "/offers")
	_, breaksRule      = way(reflect.TypeFor[part.Offer](), "/breaks")
	_, frequencyRule   = way(reflect.TypeFor[part.Part](), "/frequency_factors")
	_, temperatureRule = way(reflect.TypeFor[part.Part](), "/temperature_factors")
)

// at notes an error of a member by its pointer in the part: where its column
// is, on the line its offer, break or point came from.
func (b *builder) at(pointer, raw string, code Code, message string) {
	pattern, numbers := numbersOf(pointer)
	line, slot := b.lineOf(pattern, numbers)
	at, ok := b.lay.of[feedKey(pattern, slot)]
	if !ok && slot != 0 {
		at, ok = b.lay.of[feedKey(pattern, 0)]
	}
	f := Finding{Severity: IsError, Code: code, Line: line, Message: message, Member: strings.TrimPrefix(pointer, "/"), Raw: shortRaw(raw)}
	if ok {
		c := &b.lay.columns[at]
		f.Column, f.Header, f.Member = c.letter(), shortRaw(c.header), c.from.To
		if line == b.lines[0] && c.index < len(b.first) {
			f.Raw = shortRaw(b.first[c.index].Text)
		}
	}
	for i := range b.findings {
		if o := &b.findings[i]; o.Line == f.Line && o.Column == f.Column && f.Column != "" {
			return // it is most often the echo of the first
		}
	}
	b.findings = append(b.findings, f)
}

// numbersOf parts a pointer into its pattern and the numbers of its items.
func numbersOf(pointer string) (string, []int) {
	if !strings.ContainsAny(pointer, "0123456789") {
		return pointer, nil
	}
	var numbers []int
	steps := strings.Split(pointer, "/")
	if len(steps) > 2 && steps[1] == "further_sections_uf" {
		return pointer, nil
	}
	for i, s := range steps {
		if n, err := strconv.Atoi(s); err == nil {
			numbers, steps[i] = append(numbers, n), "*"
		}
	}
	return strings.Join(steps, "/"), numbers
}

// lineOf gives the line an item came from, and its break's number in the row.
func (b *builder) lineOf(pattern string, numbers []int) (line, slot int) {
	line = b.lines[0]
	switch {
	case len(numbers) == 2 && numbers[0] < len(b.breakPlace) && numbers[1] < len(b.breakPlace[numbers[0]]):
		p := b.breakPlace[numbers[0]][numbers[1]]
		return p.line, p.slot
	case len(numbers) == 1 && strings.HasPrefix(pattern, "/offers") && numbers[0] < len(b.offerLines):
		line = b.offerLines[numbers[0]]
	case len(numbers) == 1 && numbers[0] < len(b.lines):
		line = b.lines[numbers[0]]
	}
	return line, slot
}
