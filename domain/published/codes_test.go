package published

import (
	"fmt"
	"math"
	"testing"
	"time"

	"coldrise/domain/quantity"
)

func codes(t *testing.T) []value {
	var rows []value
	for _, s := range []struct {
		series quantity.Series
		want   []float64
	}{
		{quantity.E3, []float64{1.0, 2.2, 4.7}},
		{quantity.E6, []float64{1.0, 1.5, 2.2, 3.3, 4.7, 6.8}},
		{quantity.E12, []float64{1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2}},
	} {
		at := 0.99 // each number is the next one above the one before
		for i, want := range s.want {
			next, ok := s.series.Next(at)
			if !ok {
				next = math.NaN()
			}
			rows = append(rows, within("iec60063", fmt.Sprintf("E%d, number %d", s.series, i+1), next, want, 0))
			at = next
		}
	}
	for text, want := range map[string]float64{"u47": 0.47e-6, "4u7": 4.7e-6, "47u": 47e-6} {
		farad, err := quantity.Parse(text, quantity.Farad)
		if err != nil {
			t.Error(err)
		}
		rows = append(rows, percent("iec60062", text+", F", farad, want, 1e-9))
	}
	for _, l := range []struct {
		source, letter string
		minus, plus    float64
	}{{"iec60062", "J", 5, 5}, {"iec60062", "K", 10, 10}, {"eyd", "M", 20, 20}, {"alldin", "T", 10, 50}, {"iec60062", "Z", 20, 80}} {
		tol, _ := quantity.ToleranceOf(l.letter)
		rows = append(rows, data(l.source, "letter "+l.letter+", plus, %", tol.PlusPct, l.plus))
		if l.minus != l.plus {
			rows = append(rows, data(l.source, "letter "+l.letter+", minus, %", tol.MinusPct, l.minus))
		}
	}
	return append(rows, dates(t)...)
}

// dates: 1208 is week 8 of 2012; the letters of the year run from R = 2003 to
// X = 2009 and from A = 2010 to F = 2015; months are 1 to 9, O, N, D.
func dates(t *testing.T) []value {
	read := func(code string) time.Time {
		made, err := quantity.ParseDateCode(code, time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC))
		if err != nil {
			t.Error(err)
			return time.Time{}
		}
		for _, m := range made {
			if !m.FromMemory && m.From.Year() >= 2000 {
				return m.From.AddDate(0, 0, 3) // within its ISO year
			}
		}
		return time.Time{}
	}
	_, week := read("1208").ISOWeek()
	rows := []value{
		within("iec60062", "1208, year", float64(read("1208").Year()), 2012, 0),
		within("iec60062", "1208, week", float64(week), 8, 0),
	}
	for letter, year := range map[string]float64{"R": 2003, "X": 2009, "A": 2010, "F": 2015} {
		rows = append(rows, within("iec60062", "year of the letter "+letter, float64(read(letter+"5").Year()), year, 0))
	}
	for sign, month := range map[string]float64{"1": 1, "9": 9, "O": 10, "N": 11, "D": 12} {
		rows = append(rows, within("iec60062", "month of the sign "+sign, float64(read("A"+sign).Month()), month, 0))
	}
	return rows
}
