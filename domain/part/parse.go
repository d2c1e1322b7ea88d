package part

import (
	"coldrise/domain/document"
	"coldrise/domain/problem"
)

// ParsePart reads a part document, strictly. Its series is not at hand, so
// call Check with the series once it is. The error is a *problem.Error:
// malformed, or invalid with all faults.
func ParsePart(data []byte) (Part, error) {
	var p Part
	err := document.Decode(data, &p, "part", func(l *problem.List) { p.Check(l, nil) })
	if err != nil {
		return Part{}, err
	}
	return p, nil
}

// ParseSeries reads a series document, strictly. The error is a
// *problem.Error: malformed, or invalid with all faults.
func ParseSeries(data []byte) (Series, error) {
	var s Series
	err := document.Decode(data, &s, "series", s.Check)
	if err != nil {
		return Series{}, err
	}
	return s, nil
}
