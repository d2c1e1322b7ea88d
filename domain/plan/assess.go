package plan

import (
	"context"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
)

// Assessment is the first half of a plan: all that does not depend on a catalogue.
type Assessment struct {
	plan Plan
}

// Assess works out what every position of an amplifier must withstand.
// The amplifier must have passed amp.Parse or Check.
func Assess(ctx context.Context, a *amp.Amplifier, p derate.Policy) (*Assessment, error) {
	return &Assessment{}, nil
}

// Windows gives the parts worth asking a catalogue for, position by position.
func (a *Assessment) Windows() []Window { return nil }

// Make judges the parts of c, picks, and orders. It does not change the assessment.
func Make(ctx context.Context, a *Assessment, c Catalogue) (*Plan, error) {
	p := a.plan
	return &p, nil
}
