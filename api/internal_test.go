package api

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"coldrise/domain/part"
	"coldrise/domain/plan"
	"coldrise/domain/problem"
)

// What OWASP's page on CSV injection and ASVS 1.2.10 name, and what must stay.
func TestCellsThatASpreadsheetWouldRun(t *testing.T) {
	t.Parallel()
	tests := []struct{ cell, want string }{
		{"=1+2", "'=1+2"}, {"+1", "'+1"}, {"-1+2", "'-1+2"}, {"@SUM(A1)", "'@SUM(A1)"}, {"\t=1", "'\t=1"}, {"\r=1", "'\r=1"},
		{"\n=1", "'\n=1"}, {"\x00=1", "'\x00=1"}, {" =1+2", "' =1+2"}, {"\u00a0=1", "'\u00a0=1"}, {"＝1+2", "'＝1+2"}, {"＋1", "'＋1"},
		{"－1", "'－1"}, {"＠A", "'＠A"}, {`=HYPERLINK("http://x","y")`, `'=HYPERLINK("http://x","y")`}, {"=cmd|' /C calc'!A0", "'=cmd|' /C calc'!A0"},
		{"", ""}, {" ", " "}, {"47 µF 450 V", "47 µF 450 V"}, {"A-1", "A-1"}, {"C1 C2", "C1 C2"}, {"a=b", "a=b"}, {"'quoted", "'quoted"},
	}
	for _, tt := range tests {
		if got := defused(tt.cell); got != tt.want {
			t.Errorf("%q became %q, want %q", tt.cell, got, tt.want)
		}
	}
}

// RFC 4180: what is written is read back, quotes, commas and line breaks included.
func TestOrderSheetGrammar(t *testing.T) {
	t.Parallel()
	o := plan.Order{Currency: "GBP", Lines: []plan.OrderLine{
		{Supplier: `Quill "&" Sons, Ltd`, SKU: "=2+5", Maker: "µ & Ω", PartNumber: "00042", Text: "two\nlines", Refs: []string{"C1", "C2"},
			Quantity: 10, ForUse: 2, UnitPrice: 12_300, Total: 123_000, LeadDays: 3},
		{Supplier: "-", UnitPrice: part.Money(-5_000_000)},
	}}
	text, err := orderSheet(&o)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(bytes.NewReader(text)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	want := [][]string{sheetColumns[:],
		{`Quill "&" Sons, Ltd`, "'=2+5", "µ & Ω", "00042", "two\nlines", "C1 C2", "10", "2", "0.0123", "0.123", "GBP", "3"},
		{"'-", "", "", "", "", "", "0", "0", "-5.00", "0.00", "GBP", "0"}}
	if diff := cmp.Diff(want, rows); diff != "" {
		t.Errorf("rows (-want +got):\n%s", diff)
	}
	if bytes.Count(text, []byte("\r\n")) != 4 || bytes.Contains(bytes.ReplaceAll(text, []byte("\r\n"), nil), []byte("\n")) {
		t.Errorf("line ends: %q", text)
	}
}

func FuzzParseMatch(f *testing.F) {
	for _, seed := range []string{`"v1"`, `*`, `W/"v1"`, `"a", "b"`, `v1`, `"`, `W/`, `,`, `"a" "b"`, ` "v1" `, "\"\x80\""} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, field string) {
		m, ok := parseMatch(field)
		if !ok && (m.any || len(m.strong)+len(m.weak) > 0) {
			t.Errorf("%q cannot be read, and yet matches %+v", field, m)
		}
		for _, tag := range append(m.strong, m.weak...) {
			if len(tag) < 2 || tag[0] != '"' || tag[len(tag)-1] != '"' || strings.Count(tag, `"`) != 2 || !strings.Contains(field, tag) {
				t.Errorf("%q gave the tag %q", field, tag)
			}
		}
		if !ok || m.any {
			return
		}
		// What was read can be written and read again.
		again, ok := parseMatch(strings.Join(append(append([]string{}, m.strong...), prefixed(m.weak)...), ", "))
		if !ok || !cmp.Equal(again.strong, m.strong) || !cmp.Equal(again.weak, m.weak) {
			t.Errorf("%q: %+v became %+v", field, m, again)
		}
	})
}

func prefixed(tags []string) []string {
	var all []string
	for _, tag := range tags {
		all = append(all, "W/"+tag)
	}
	return all
}

func TestGate(t *testing.T) {
	t.Parallel()
	g := newGate(1, 1)
	leave, err := g.enter(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	waited := make(chan error, 1)
	go func() {
		_, err := g.enter(ctx)
		waited <- err
	}()
	for len(g.tickets) < 2 { // until the second waits
		select {
		case err := <-waited:
			t.Fatalf("the second did not wait: %v", err)
		default:
		}
	}
	if _, err := g.enter(t.Context()); problem.CodeOf(err) != problem.Busy {
		t.Errorf("the third: %v, want busy", err)
	}
	cancel()
	if err := <-waited; problem.CodeOf(err) != problem.Cancelled {
		t.Errorf("the one that gave up: %v, want cancelled", err)
	}
	leave()
	if len(g.tickets)+len(g.slots) != 0 {
		t.Errorf("%d tickets and %d slots are left taken", len(g.tickets), len(g.slots))
	}
}

// Every code has a status, and an error of huma's own comes to a code.
func TestCodesAndStatuses(t *testing.T) {
	t.Parallel()
	want := map[problem.Code]int{
		problem.Malformed: 400, problem.Invalid: 422, problem.NotFound: 404, problem.Method: 405, problem.Conflict: 409, problem.Stale: 412,
		problem.Precondition: 428, problem.TooLarge: 413, problem.Unsupported: 415, problem.Unacceptable: 406, problem.Misdirected: 421,
		problem.Forbidden: 403, problem.Busy: 503, problem.Cancelled: 503, problem.Internal: 500, "a code nobody knows": 500,
	}
	for code, status := range want {
		if got := kindOf(code).status; got != status {
			t.Errorf("%s: status %d, want %d", code, got, status)
		}
		if err := fromHuma(context.Background(), status, nil); status != 503 && kindOf(problem.CodeOf(err)).status != status {
			t.Errorf("huma's status %d became %v", status, err)
		}
	}
	for _, foreign := range []error{errors.New("canary"), fmt.Errorf("doing: %w", errors.New("canary"))} {
		p := problemOf(t.Context(), fromHuma(context.Background(), 422, []error{foreign}))
		if p.Status != 500 || strings.Contains(fmt.Sprint(*p), "canary") {
			t.Errorf("a foreign error in huma's list: %+v", p)
		}
	}
	for _, ended := range []error{context.Canceled, fmt.Errorf("reading: %w", context.DeadlineExceeded)} {
		if p := problemOf(t.Context(), ended); p.Status != 503 || p.Type != "/problems/cancelled" {
			t.Errorf("%v: %+v", ended, p)
		}
	}
}

func TestValuesAreEchoedShortened(t *testing.T) {
	t.Parallel()
	long := shortJSON(strings.Repeat("µ", 200))
	if len(long) > maxEcho+len("…") || !strings.HasSuffix(long, "µ…") {
		t.Errorf("%d bytes: %s", len(long), long)
	}
	if got := shortJSON("a\"b"); got != `"a\"b"` {
		t.Errorf("got %s", got)
	}
}
