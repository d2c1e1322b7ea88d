package derate

import (
	"fmt"
	"strings"

	"coldrise/domain/amp"
)

// The verdicts on a condition, and on each reading behind it.
const (
	CondUnread  = "unread"  // nothing tells
	CondKeep    = "keep"    // what was read is sound
	CondSuspect = "suspect" // a further reading decides
	CondReplace = "replace"
)

// Condition is the verdict on what is in place, from what was measured and seen.
type Condition struct {
	Verdict string   `json:"verdict" enum:"unread,keep,suspect,replace"`
	Signs   []Sign   `json:"signs" doc:"Each reading with its verdict"`
	Unread  []string `json:"unread" doc:"Readings that are not there, or could not tell"`
	Next    []string `json:"next" doc:"What to read next, where that would decide"`
	Text    string   `json:"text"`
}

// Sign is one reading held against one limit.
type Sign struct {
	Name string `json:"name" enum:"capacitance,esr,leakage,seen,age"`
	// Verdict is unread where the reading can't tell.
	Verdict string  `json:"verdict" enum:"unread,keep,suspect,replace"`
	Have    float64 `json:"have,omitempty"`
	Limit   float64 `json:"limit,omitempty"`
	Unit    string  `json:"unit,omitempty"`
	Text    string  `json:"text"`
	Source  string  `json:"source"`
	// Next is the reading that would decide, where this one does not.
	Next string `json:"next,omitempty"`
}

// Examined is what a condition is judged by.
type Examined struct {
	Role     amp.Role
	Fitted   amp.Fitted
	WorkingV float64 // what the position asks of it
	// AgeYears counts where AgeHow says how it is known.
	AgeYears float64
	AgeHow   string
}

// JudgeCondition holds the readings of a fitted capacitor against the limits of
// end of life and the laws of leakage. It never touches its marked value, which
// stays what a replacement is held against. Electrolytics are judged by all
// readings; film and mains capacitors by their insulation, value and looks.
func JudgeCondition(e Examined) Condition {
	c := Condition{Verdict: CondUnread, Signs: []Sign{}, Unread: []string{}, Next: []string{}}
	r := e.Fitted.Readings
	if r == nil {
		r = &amp.Readings{}
	}
	electrolytic := isElectrolytic(e.Role)
	c.take("capacitance", r.CapacitanceUF != nil, func() Sign { return capacitanceSign(&e, r) })
	if electrolytic {
		c.take("esr", r.ESROhm != nil, func() Sign { return esrSign(&e, r) })
	}
	c.take("leakage", r.LeakageUA != nil && r.LeakageV != nil, func() Sign {
		if electrolytic {
			return leakageSign(&e, r)
		}
		return insulationSign(&e, r)
	})
	for _, s := range r.Seen {
		c.Signs = append(c.Signs, seenSign(s))
	}
	if electrolytic && e.AgeHow != "" {
		c.Signs = append(c.Signs, c.ageSign(&e))
	}
	c.conclude()
	return c
}

// isElectrolytic says whether what is fitted in a role is one: nothing in an
// amplifier's file says so, and other parts are rare there.
func isElectrolytic(role amp.Role) bool {
	return role != amp.Coupling && !onMains(role)
}

func (c *Condition) take(name string, read bool, judge func() Sign) {
	if !read {
		c.Unread = append(c.Unread, name)
		return
	}
	s := judge()
	c.Signs = append(c.Signs, s)
	if s.Verdict == CondUnread {
		c.Unread = append(c.Unread, name)
	}
}

var worse = map[string]int{CondUnread: 0, CondKeep: 1, CondSuspect: 2, CondReplace: 3}

// conclude takes the worst sign, and asks for a further reading only where one
// would decide.
func (c *Condition) conclude() {
	for _, s := range c.Signs {
		if worse[s.Verdict] > worse[c.Verdict] {
			c.Verdict = s.Verdict
		}
	}
	var texts []string
	for _, s := range c.Signs {
		if s.Verdict == c.Verdict || s.Verdict == CondUnread {
			texts = append(texts, s.Text)
		}
		if s.Next != "" && c.Verdict != CondReplace {
			c.Next = append(c.Next, s.Next)
		}
	}
	switch {
	case len(c.Signs) == 0:
		c.Text = "its condition is not judged: measure " + listed(c.Unread)
		return
	case c.Verdict == CondKeep && len(c.Unread) > 0:
		texts = append(texts, listed(c.Unread)+" not read")
	}
	c.Text = strings.Join(texts, "; ")
}

// listed writes names as a technician reads them.
func listed(names []string) string {
	words := make([]string, len(names))
	for i, n := range names {
		words[i] = n
		if n == "esr" {
			words[i] = "ESR"
		}
	}
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

var seenTexts = map[string]string{
	"bulge":       "it bulges: gas has built up inside",
	"vent_open":   "its vent has opened: electrolyte has gone",
	"electrolyte": "what it is filled with has come out; clean the place, it is corrosive and may conduct",
	"cracked":     "its body is cracked: moisture gets in",
}

func seenSign(what string) Sign {
	return Sign{Name: "seen", Verdict: CondReplace, Text: seenTexts[what], Source: "common practice: a body that has opened or changed its shape is not used again"}
}

// longestLife is where a calculated life ends, whatever the model says, in years.
const longestLife = 15

// ageSign suspects an electrolytic beyond the longest life that a maker stands
// for, unless everything about it was read and found sound.
func (c *Condition) ageSign(e *Examined) Sign {
	s := Sign{Name: "age", Verdict: CondKeep, Have: e.AgeYears, Limit: longestLife, Unit: "a",
		Source: "Nichicon, life of snap-in capacitors: a calculated life is never claimed beyond 15 years"}
	s.Text = fmt.Sprintf("it is %.0f years old (%s)", e.AgeYears, e.AgeHow)
	if e.AgeYears <= longestLife {
		return s
	}
	s.Text += fmt.Sprintf(", beyond the %d years that the longest calculated life is capped at", longestLife)
	if len(c.Unread) == 0 {
		s.Text += ", yet everything about it was read"
		return s
	}
	s.Verdict, s.Next = CondSuspect, "read its "+listed(c.Unread)+", the leakage at its working voltage; all sound, and it may stay for now"
	return s
}
