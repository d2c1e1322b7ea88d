package quantity

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"coldrise/domain/problem"
)

func day(t testing.TB, s string) time.Time {
	t.Helper()
	d, err := time.Parse(time.DateOnly, s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// Check-values.md 1.9, of IEC 60062 by secondary text: "1208" is week 8 of
// 2012; letters R = 2003 to X = 2009, A = 2010 to F = 2015; months 1 to 9, O, N, D.
// The maker's number before the week, and one digit of the year: common practice.
func TestDateCodes(t *testing.T) {
	t.Parallel()
	for _, r := range []struct {
		code, today string
		want        string // readings with their first days, oldest first
	}{
		{"1208", "2026-06-01", "week 8 of 2012 2012-02-20"},
		{" 1208 ", "2012-02-20", "week 8 of 2012 2012-02-20"},
		{"X5", "2020-01-01", "May 2009 2009-05-01"},
		{"R1", "2020-01-01", "January 2003 2003-01-01"},
		{"SO", "2020-01-01", "October 2004 2004-10-01"},
		{"tn", "2020-01-01", "November 2005 2005-11-01"},
		{"UD", "2020-01-01", "December 2006 2006-12-01"},
		// A letter comes round after 20 years (from memory), so from 2023 on an R says two things.
		{"R5", "2026-06-01", "May 2003 2003-05-01; May 2023 2023-05-01 (from memory)"},
		{"A2", "2026-06-01", "February 1990 1990-02-01 (from memory); February 2010 2010-02-01"},
		{"F9", "2016-01-01", "September 1995 1995-09-01 (from memory); September 2015 2015-09-01"},
		{"H3", "2026-06-01", "March 1996 1996-03-01 (from memory); March 2016 2016-03-01 (from memory)"},
		// A year written out may be a year and a week.
		{"1967", "2026-06-01", "the year 1967 1967-01-01"},
		{"1952", "2026-06-01", "the year 1952 1952-01-01; week 52 of 2019 2019-12-23"},
		{"2012", "2026-06-01", "the year 2012 2012-01-01; week 12 of 2020 2020-03-16"},
		{"6744", "2026-06-01", "week 44 of 1967 1967-10-30"},
		{"235-6744", "2026-06-01", "week 44 of 1967 1967-10-30"},
		{"235 744", "2026-06-01", "week 44 of 1947 1947-10-27; week 44 of 1957 1957-10-28; week 44 of 1967 1967-10-30; week 44 of 1977 1977-10-31; week 44 of 1987 1987-10-26"},
		{"2012-08", "2026-06-01", "August 2012 2012-08-01"},
		{"2012-W08", "2026-06-01", "week 8 of 2012 2012-02-20"},
		{"2053", "2026-06-01", "week 53 of 2020 2020-12-28"}, // 2020 had 53 weeks
	} {
		got, err := ParseDateCode(r.code, day(t, r.today))
		if err != nil {
			t.Errorf("%q: %v", r.code, err)
			continue
		}
		var texts []string
		for _, m := range got {
			text := m.Text + " " + m.From.Format(time.DateOnly)
			if m.FromMemory {
				text += " (from memory)"
			}
			if m.Source == "" || m.To.Before(m.From) {
				t.Errorf("%q: reading %+v", r.code, m)
			}
			texts = append(texts, text)
		}
		if text := strings.Join(texts, "; "); text != r.want {
			t.Errorf("%q: %s\nwant %s", r.code, text, r.want)
		}
	}
}

func TestDateCodesThatAreNone(t *testing.T) {
	t.Parallel()
	for code, says := range map[string]string{
		"": "no date code", "12": "no date code", "1254": "no date code", "1200": "no date code", "G5": "no date code", "A0": "no date code", "AA": "no date code",
		"23-6744": "no date code", "235-6799": "no date code", "2012-13": "no date code", "2012-00": "no date code", "1153": "no date code", "12081": "no date code",
		"2012-W54": "no date code", "\xff": "no date code",
		"2608": "in the future: it reads as week 8 of 2026", "3001": "in the future", "2025-06": "in the future: it reads as June 2025",
	} {
		got, err := ParseDateCode(code, day(t, "2024-12-31"))
		if e := problem.As(err); e == nil || e.Code != problem.Invalid || len(e.Faults) != 1 || !strings.Contains(e.Faults[0].Message, says) {
			t.Errorf("%q: %v, %v; want %s", code, got, err, says)
		}
	}
	if got, err := ParseDateCode("3001", time.Time{}); err != nil || len(got) != 1 {
		t.Errorf("without a day to hold it against 3001 has %d readings, %v", len(got), err)
	}
}

// Any week since 1940 is found again in its own code, on any later day.
func TestDateCodeOfAWeekReadsAsThatWeek(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		made := time.Date(1940, 1, 8, 0, 0, 0, 0, time.UTC).AddDate(0, 0, rapid.IntRange(0, 365*90).Draw(t, "day"))
		today := made.AddDate(0, 0, rapid.IntRange(0, 365*50).Draw(t, "later"))
		year, week := made.ISOWeek()
		code := fmt.Sprintf("%02d%02d", year%100, week)
		got, err := ParseDateCode(code, today)
		if err != nil {
			t.Fatal(err)
		}
		found := false
		for _, m := range got {
			found = found || !made.Before(m.From) && !made.After(m.To)
			if m.From.After(today) {
				t.Fatalf("%s on %s reads as %s", code, today.Format(time.DateOnly), m.Text)
			}
		}
		if !found {
			t.Fatalf("%s of %s on %s: %v", code, made.Format(time.DateOnly), today.Format(time.DateOnly), got)
		}
	})
}

func FuzzParseDateCode(f *testing.F) {
	for _, s := range []string{"1208", "X5", "EO", "235-6744", "235 744", "1967", "2012-08", "2012-W08", "", "9953", "\xff5", "0000", "W5 ", "２０１２"} {
		f.Add(s, int64(1_780_000_000))
	}
	f.Fuzz(func(t *testing.T, s string, at int64) {
		today := time.Unix(at%(1<<40), 0).UTC()
		got, err := ParseDateCode(s, today)
		if err != nil {
			if p := problem.As(err); p.Code != problem.Invalid || len(p.Faults) != 1 || len(got) > 0 {
				t.Fatalf("%q: %v, %+v", s, got, p)
			}
			return
		}
		for i, m := range got {
			if m.From.After(today) || m.To.Before(m.From) || m.From.Year() < firstYear-1 || m.Text == "" || m.Source == "" || i > 0 && m.From.Before(got[i-1].From) {
				t.Fatalf("%q: reading %d is %+v", s, i, m)
			}
		}
	})
}
