package quantity

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"coldrise/domain/problem"
)

// Made is one way to read a date code: the days it stands for, both included.
type Made struct {
	From, To   time.Time // midnight UTC
	Text       string    // "week 8 of 2012"
	Source     string
	FromMemory bool // nobody held this reading in print
}

// The sources of the readings.
const (
	sourceWeek    = "IEC 60062: year and week (secondary text)"
	sourceLetter  = "IEC 60062: a letter for the year, R = 2003 to X = 2009, A = 2010 to F = 2015 (secondary text)"
	sourceCycle   = "IEC 60062: the letters of the year come round every 20 years (from memory)"
	sourceMaker   = "common practice of American makers: the maker's number, then year and week"
	sourceWritten = "the date as written"
)

// The years that codes are read into. Before 1940 no part on a bench had one;
// a year of one digit was given up in the eighties. Common practice.
const (
	firstYear    = 1940
	lastOneDigit = 1989
	lastYear     = 2099
)

// ParseDateCode gives every way a marking can be read as a date code, the
// oldest first: more than one where it is ambiguous, which the caller must say.
// It takes
//
//	1208       year and week
//	X5, EO     a letter for the year; month 1 to 9, O, N, D
//	235-6744   the maker's number, then year and week; 235-744 with one digit of the year
//	1967       the year; 2012 may be week 12 of 2020 as well
//	2012-08    year and month; 2012-W08 year and week
//
// Readings that begin after today are left out; a zero today leaves none out.
// The error is a *problem.Error, Invalid, whose one fault has no pointer: the
// marking is no such code, or all its readings lie in the future.
func ParseDateCode(code string, today time.Time) ([]Made, error) {
	all := dateReadings(strings.ToUpper(strings.TrimSpace(code)))
	past := slices.DeleteFunc(slices.Clone(all), func(m Made) bool { return !today.IsZero() && m.From.After(today) })
	if len(past) > 0 {
		slices.SortStableFunc(past, func(a, b Made) int { return a.From.Compare(b.From) })
		return past, nil
	}
	l := &problem.List{}
	if len(all) == 0 {
		l.Add(problem.Fault{Value: shown(code), Message: "is no date code that is known here: year and week (1208), a letter and the month (X5), " +
			"a maker's number with year and week (235-6744), or the year, month or week written out (1967, 2012-08, 2012-W08)"})
	} else {
		l.Add(problem.Fault{Value: shown(code), Limit: "today, " + today.Format(time.DateOnly),
			Message: "is in the future: it reads as " + all[0].Text})
	}
	return nil, l.Err("date code")
}

var (
	weekCode    = regexp.MustCompile(`^([0-9]{2})([0-9]{2})$`)
	letterCode  = regexp.MustCompile(`^([A-FHJ-NPR-X])([1-9OND])$`)
	makerCode   = regexp.MustCompile(`^[0-9]{3,4}[- ]([0-9]{1,2})([0-9]{2})$`)
	writtenCode = regexp.MustCompile(`^([0-9]{4})(?:-(W?)([0-9]{2}))?$`)
)

func dateReadings(code string) []Made {
	var list []Made
	if m := weekCode.FindStringSubmatch(code); m != nil {
		list = weekReadings(m[1], m[2], sourceWeek)
	}
	if m := makerCode.FindStringSubmatch(code); m != nil {
		list = append(list, weekReadings(m[1], m[2], sourceMaker)...)
	}
	if m := letterCode.FindStringSubmatch(code); m != nil {
		list = append(list, letterReadings(m[1], m[2])...)
	}
	if m := writtenCode.FindStringSubmatch(code); m != nil {
		list = append(list, writtenReading(m[1], m[2] == "W", m[3])...)
	}
	return list
}

// weekReadings gives week w of every year that ends in the digits of year.
func weekReadings(year, w, source string) []Made {
	step, last := 100, lastYear
	if len(year) == 1 {
		step, last = 10, lastOneDigit
	}
	end, _ := strconv.Atoi(year) // digits by the pattern
	week, _ := strconv.Atoi(w)
	var list []Made
	for y := firstYear; y <= last; y++ {
		if y%step == end {
			list = append(list, weekOf(y, week, source)...)
		}
	}
	return list
}

// weekOf is a week of ISO 8601; nothing where the year has no such week.
func weekOf(year, week int, source string) []Made {
	fourth := time.Date(year, time.January, 4, 0, 0, 0, 0, time.UTC) // always in week 1
	monday := fourth.AddDate(0, 0, -(int(fourth.Weekday())+6)%7+7*(week-1))
	if y, w := monday.ISOWeek(); week < 1 || y != year || w != week {
		return nil
	}
	return []Made{{From: monday, To: monday.AddDate(0, 0, 6), Text: fmt.Sprintf("week %d of %d", week, year), Source: source}}
}

// yearLetters leave out what may be taken for a digit or another letter.
const yearLetters = "ABCDEFHJKLMNPRSTUVWX"

// letterReadings gives the month in each year that a letter has stood for since
// 1990. Only 2003 to 2015 were found in print.
func letterReadings(letter, month string) []Made {
	n := strings.Index("123456789OND", month) + 1
	var list []Made
	for y := 1990 + strings.Index(yearLetters, letter); y <= lastYear; y += len(yearLetters) {
		m := monthOf(y, n, sourceLetter)
		if y < 2003 || y > 2015 {
			m.Source, m.FromMemory = sourceCycle, true
		}
		list = append(list, m)
	}
	return list
}

func monthOf(year, month int, source string) Made {
	from := time.Date(year, time.Month(month), 1, 0, 0, 0, 0, time.UTC)
	return Made{From: from, To: from.AddDate(0, 1, -1), Text: from.Format("January 2006"), Source: source}
}

func writtenReading(y string, isWeek bool, n string) []Made {
	year, _ := strconv.Atoi(y)
	part, _ := strconv.Atoi("0" + n)
	switch {
	case year < firstYear || year > lastYear:
		return nil
	case isWeek:
		return weekOf(year, part, sourceWritten)
	case n == "":
		from := time.Date(year, time.January, 1, 0, 0, 0, 0, time.UTC)
		return []Made{{From: from, To: from.AddDate(1, 0, -1), Text: "the year " + y, Source: sourceWritten}}
	case part < 1 || part > 12:
		return nil
	}
	return []Made{monthOf(year, part, sourceWritten)}
}

// Years gives how many years lie between the first day of a reading and a day.
func (m Made) Years(at time.Time) float64 { return at.Sub(m.From).Hours() / (24 * 365.25) }

// Reads says in words how a code was read, and that it is ambiguous where it
// is: the oldest reading counts, for age and storage are judged by it.
func Reads(code string, made []Made) string {
	text := fmt.Sprintf("date code %s reads as %s", code, made[0].Text)
	if made[0].FromMemory {
		text += " (from memory)"
	}
	if len(made) == 1 {
		return text
	}
	var others []string
	for _, m := range made[1:] {
		others = append(others, m.Text)
	}
	return text + ", the oldest of " + strconv.Itoa(len(made)) + " readings: it may also be " + strings.Join(others, ", ")
}
