package repo

import (
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"coldrise/domain/problem"
)

// sumBytes is how much of the SHA-256 a cursor carries. It is against mix-ups
// and tinkering, not against an attacker: whoever makes a cursor that holds
// gets another place in the same list of the same shop, and nothing more.
const sumBytes = 12

// maxCursor is the longest cursor that is looked at. The keys of a list are
// names of 80 characters at most, and ids.
const maxCursor = 2048

// EncodeCursor writes where a list stopped: the keys of its last row. list
// says which list that is, shop and filter included; a cursor is good for no
// other. It is text that can stand in a URL as it is.
func EncodeCursor(list string, keys ...string) string {
	var body []byte
	for _, k := range keys {
		body = binary.AppendUvarint(body, uint64(len(k)))
		body = append(body, k...)
	}
	return base64.RawURLEncoding.EncodeToString(append(cursorSum(list, body), body...))
}

// DecodeCursor reads what EncodeCursor wrote for the same list with n keys.
// "" is the start of the list, and gives no keys. invalid, at /cursor:
// anything else.
func DecodeCursor(list, cursor string, n int) ([]string, error) {
	if cursor == "" {
		return nil, nil
	}
	if len(cursor) > maxCursor {
		return nil, BadCursor(cursor)
	}
	data, err := base64.RawURLEncoding.Strict().DecodeString(cursor)
	if err != nil || len(data) < sumBytes {
		return nil, BadCursor(cursor)
	}
	body := data[sumBytes:]
	if string(cursorSum(list, body)) != string(data[:sumBytes]) {
		return nil, BadCursor(cursor)
	}
	keys := make([]string, 0, n)
	for len(body) > 0 {
		size, used := binary.Uvarint(body)
		if used <= 0 || size > uint64(len(body)-used) {
			return nil, BadCursor(cursor)
		}
		body = body[used:]
		keys = append(keys, string(body[:size]))
		body = body[size:]
	}
	// A line break would pass the decoder, which skips them.
	if len(keys) != n || EncodeCursor(list, keys...) != cursor {
		return nil, BadCursor(cursor)
	}
	return keys, nil
}

func cursorSum(list string, body []byte) []byte {
	h := sha256.New()
	h.Write(binary.AppendUvarint(nil, uint64(len(list))))
	h.Write([]byte(list))
	h.Write(body)
	return h.Sum(nil)[:sumBytes]
}

// Before gives the instant, in µs since 1970, and the id that a page of a list
// that has the last first lies before; of the first page, those past every row's.
func Before(list, cursor string) (beforeUS int64, beforeID string, err error) {
	keys, err := DecodeCursor(list, cursor, 2)
	if err != nil || keys == nil {
		return math.MaxInt64, "", err
	}
	beforeUS, err = strconv.ParseInt(keys[0], 10, 64)
	if err != nil {
		return 0, "", BadCursor(cursor)
	}
	return beforeUS, keys[1], nil
}

// Since writes the cursor of the page behind the row of an instant and an id.
func Since(list string, at time.Time, id string) string {
	return EncodeCursor(list, strconv.FormatInt(at.UnixMicro(), 10), id)
}

// Turn cuts a page from rows, of which there may be one more than the page
// has: then there is a next page, behind the last row kept.
func Turn[T any](rows []T, limit int, cursor func(last *T) string) ([]T, string) {
	if len(rows) <= limit {
		return rows, ""
	}
	return rows[:limit], cursor(&rows[limit-1])
}

// BadCursor is invalid, at /cursor: a cursor that is not this list's.
func BadCursor(cursor string) error {
	return fault("cursor", problem.Fault{Pointer: "/cursor", Value: quote(cursor),
		Message: "a cursor is the next_cursor of the page before, of the same list with the same filter"})
}

// CheckLimit refuses a page length out of range. invalid, at /limit.
func CheckLimit(limit int) error {
	if limit >= 1 && limit <= MaxPage {
		return nil
	}
	return fault("page", problem.Fault{Pointer: "/limit", Value: strconv.Itoa(limit), Limit: fmt.Sprintf("1 to %d", MaxPage),
		Message: fmt.Sprintf("a page has 1 to %d entries", MaxPage)})
}

// PartsList names the list of a shop's parts under a filter, for its cursor.
func PartsList(shop Shop, f PartFilter) string {
	number := func(v float64) string { return strconv.FormatUint(math.Float64bits(v), 16) }
	return listName("parts", string(shop), f.Maker, f.Series, string(f.Technology), string(f.Style),
		number(f.MinUF), number(f.MaxUF), number(f.MinRatedV), number(f.MaxRatedV), number(f.MaxDiameterMM), number(f.MaxLengthMM),
		f.Supplier, strconv.FormatBool(f.InStock), string(f.Order), f.Currency)
}

// ChangesList names a list of a shop's changes, for its cursor.
func ChangesList(shop Shop, f ChangeFilter) string {
	return listName("changes", string(shop), f.PartID, f.ImportID)
}

// ImportsList names the list of a shop's imports, for its cursor.
func ImportsList(shop Shop) string { return listName("imports", string(shop)) }

// DocumentsList names a list of a shop's documents, for its cursor.
func DocumentsList(shop Shop, f DocumentFilter) string {
	return listName("documents", string(shop), string(f.Kind), f.About, strconv.FormatBool(f.LastFirst))
}

// AmpsList names the list of a shop's amplifiers, for its cursor.
func AmpsList(shop Shop) string { return listName("amps", string(shop)) }

// PlansList names the list of an amplifier's plans, for its cursor.
func PlansList(shop Shop, ampID string) string { return listName("plans", string(shop), ampID) }

// listName joins parts so that no two lists share a name.
func listName(parts ...string) string {
	var b strings.Builder
	for _, p := range parts {
		fmt.Fprintf(&b, "%d:%s", len(p), p)
	}
	return b.String()
}

// fault is an invalid error with one fault.
func fault(what string, f problem.Fault) error {
	var l problem.List
	l.Add(f)
	return l.Err(what)
}

// quote gives s as JSON text, shortened.
func quote(s string) string {
	const most = 40
	if r := []rune(s); len(r) > most {
		s = string(r[:most]) + "…"
	}
	text, err := json.Marshal(s)
	if err != nil { // A string always has a JSON form.
		return ""
	}
	return string(text)
}

// AfterCount reads a cursor whose key is a count; 0 at the start. invalid, at /cursor.
func AfterCount(list, cursor string) (int64, error) {
	keys, err := DecodeCursor(list, cursor, 1)
	if err != nil || keys == nil {
		return 0, err
	}
	n, err := strconv.ParseInt(keys[0], 10, 64)
	if err != nil || n < 1 {
		return 0, BadCursor(cursor)
	}
	return n, nil
}

// DocumentsAfter checks a filter of documents, and gives the name of its list
// and the keys its page lies behind. invalid.
func DocumentsAfter(shop Shop, f DocumentFilter, p Page) (list string, keys []string, err error) {
	if err := CheckKind(f.Kind); err != nil {
		return "", nil, err
	}
	if err := Storable(f, "filter"); err != nil {
		return "", nil, err
	}
	list = DocumentsList(shop, f)
	keys, err = DecodeCursor(list, p.After, 1)
	return list, keys, err
}
