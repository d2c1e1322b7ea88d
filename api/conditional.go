package api

import (
	"crypto/sha256"
	"encoding/base64"
	"strconv"
	"strings"

	"coldrise/domain/problem"
)

// etagOf gives the strong entity tag of a row's version.
func etagOf(version int64) string { return `"v` + strconv.FormatInt(version, 10) + `"` }

// etagOfBytes gives the strong entity tag of something that never changes.
func etagOfBytes(b []byte) string {
	sum := sha256.Sum256(b)
	return `"` + base64.RawURLEncoding.EncodeToString(sum[:12]) + `"`
}

// match is a parsed If-Match or If-None-Match field.
type match struct {
	any    bool
	strong []string // with their quotes
	weak   []string // without the W/
}

// parseMatch reads the field by RFC 9110 sections 8.8.3 and 13.1.1: * or a
// list of entity tags. It says false where it is neither.
func parseMatch(field string) (match, bool) {
	var m match
	rest := strings.Trim(field, " \t")
	if rest == "*" {
		return match{any: true}, true
	}
	for {
		rest = strings.TrimLeft(rest, " \t,")
		if rest == "" {
			return m, len(m.strong)+len(m.weak) > 0
		}
		tag, weak := strings.CutPrefix(rest, "W/")
		if tag == "" || tag[0] != '"' {
			return match{}, false
		}
		end := strings.IndexByte(tag[1:], '"')
		if end < 0 {
			return match{}, false
		}
		tag, rest = tag[:end+2], strings.TrimLeft(tag[end+2:], " \t")
		if rest != "" && rest[0] != ',' {
			return match{}, false
		}
		if weak {
			m.weak = append(m.weak, tag)
		} else {
			m.strong = append(m.strong, tag)
		}
	}
}

// strongly says whether m takes etag by the strong comparison, which is
// If-Match's: a weak tag never matches.
func (m match) strongly(etag string) bool { return m.any || contains(m.strong, etag) }

// weakly says whether m takes etag by the weak comparison, If-None-Match's.
func (m match) weakly(etag string) bool { return m.strongly(etag) || contains(m.weak, etag) }

func contains(tags []string, etag string) bool {
	for _, t := range tags {
		if t == etag {
			return true
		}
	}
	return false
}

// unchanged says whether an If-None-Match field names the representation. A
// field that cannot be read names none.
func unchanged(field, etag string) bool {
	m, ok := parseMatch(field)
	return ok && m.weakly(etag)
}

// maxTries bounds how often a change is tried again after it lost a race.
const maxTries = 5

// exchange makes a change to a row that the client has named the version of:
// read gives the row's version, and write changes that version or is stale.
// Where write loses a race, the field is held against the new version.
func exchange(field string, read func() (int64, error), write func(version int64) error) error {
	if field == "" {
		return problem.New(problem.Precondition, "a change must name the version it is based on: send If-Match with the ETag of your reading, or * for any")
	}
	m, ok := parseMatch(field)
	if !ok {
		return &problem.Error{Code: problem.Malformed, Message: "If-Match cannot be read", Faults: []problem.Fault{{
			Pointer: "header/If-Match", Message: `is * or a list of entity tags in double quotes, such as "v3"`, Value: shortJSON(field)}}}
	}
	for try := 1; ; try++ {
		version, err := read()
		if err != nil {
			return err
		}
		current := etagOf(version)
		if !m.strongly(current) {
			return staleError(field, current)
		}
		err = write(version)
		if err == nil || problem.CodeOf(err) != problem.Stale || try == maxTries {
			return err
		}
	}
}

func staleError(field, current string) error {
	return headed{name: "ETag", value: current, error: &problem.Error{
		Code: problem.Stale, Message: "it has changed since the version the request names, " + current + " is current",
		Faults: []problem.Fault{{Pointer: "header/If-Match", Message: "names no current version", Value: shortJSON(field), Limit: current}},
	}}
}
