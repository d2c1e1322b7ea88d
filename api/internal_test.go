package api

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"coldrise/domain/plan"
	"coldrise/domain/problem"
)

// The order's CSV is the plain profile's; its grammar is tested in ordersheet.
func TestOrderSheetOfAnOrderWithoutLinesIsItsHeader(t *testing.T) {
	t.Parallel()
	text, err := orderSheet(&plan.Order{Currency: "GBP", Lines: []plan.OrderLine{}})
	if want := "supplier,sku,maker,part_number,text,refs,quantity,for_use,unit_price,total,currency,lead_days\r\n"; err != nil || string(text) != want {
		t.Errorf("%q, %v; want %q", text, err, want)
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
