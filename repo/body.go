package repo

import (
	"encoding/json"
	"slices"
	"unicode/utf8"

	"coldrise/domain/problem"
)

// CheckBody refuses a document that is no JSON in UTF-8, or is too long; nil
// passes. invalid, too_large.
func CheckBody(body []byte, what string) error {
	switch {
	case body == nil:
		return nil
	case len(body) > MaxBody:
		return problem.New(problem.TooLarge, "the %s has %d bytes; %d is the most", what, len(body), MaxBody)
	case !utf8.Valid(body) || !json.Valid(body):
		return problem.New(problem.Invalid, "the %s is no JSON text in UTF-8", what)
	}
	return nil
}

// CheckDocument refuses a document that no engine can keep, and puts its parts
// in order. invalid, too_large.
func CheckDocument(d *Document, at Stamp) error {
	if err := CheckKind(d.Kind); err != nil {
		return err
	}
	if err := CheckStamp(at); err != nil {
		return err
	}
	if err := StorableRow(d.ID, struct {
		About string   `json:"about"`
		Parts []string `json:"parts"`
	}{d.About, d.Parts}, "document"); err != nil {
		return err
	}
	if d.Body == nil {
		return problem.New(problem.Invalid, "the document has no body")
	}
	d.Parts = slices.Compact(slices.Sorted(slices.Values(d.Parts)))
	return CheckBody(d.Body, "document")
}

// CheckKind refuses a kind of document that there is not. invalid.
func CheckKind(kind Kind) error {
	if slices.Contains(Kinds, kind) {
		return nil
	}
	return problem.New(problem.Invalid, "there is no kind of document %s", quote(string(kind)))
}

// CheckFile refuses a file that no engine can keep. invalid, too_large.
func CheckFile(f File) error {
	if err := CheckStamp(Stamp{By: f.By}); err != nil {
		return err
	}
	if len(f.Content) > MaxFile {
		return problem.New(problem.TooLarge, "the file has %d bytes; %d is the most", len(f.Content), MaxFile)
	}
	return StorableRow(f.ID, struct {
		Name      string `json:"name"`
		MediaType string `json:"media_type"`
	}{f.Name, f.MediaType}, "file")
}

// CheckClaim refuses a claim without its names. invalid.
func CheckClaim(c Claim) error {
	if c.Operation == "" || c.Name == "" {
		return problem.New(problem.Invalid, "a claim has an operation and a name")
	}
	return Storable(struct {
		Operation   string `json:"operation"`
		Name        string `json:"name"`
		Fingerprint string `json:"fingerprint"`
	}{c.Operation, c.Name, c.Fingerprint}, "claim")
}

// OtherRequest is invalid: a claim's name was used for another request.
func OtherRequest(name string) error {
	return problem.New(problem.Invalid, "the key %s was used for another request: a new request needs a new key", quote(name))
}
