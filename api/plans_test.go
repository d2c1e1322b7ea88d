package api_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"coldrise/api"
	"coldrise/domain/plan"
	"coldrise/repo"
)

func TestPlanIsReadBackUnchanged(t *testing.T) {
	t.Parallel()
	b := start(t, nil).withStarter()
	amp, _ := b.withAmp()
	made := b.want(201, "POST", amp+"/plans", "")
	path := made.header.Get("Location")
	var p plan.Plan
	made.decode(t, &p)
	if path != "/v1/plans/"+p.ID || p.AmpID != strings.TrimPrefix(amp, "/v1/amps/") || p.MadeAt != "2026-03-04T05:06:07.891234Z" {
		t.Errorf("Location %q, id %q, amplifier %q, made at %q", path, p.ID, p.AmpID, p.MadeAt)
	}
	if len(p.Positions) == 0 || len(p.Cautions) == 0 || p.Positions[0].Considered == 0 {
		t.Errorf("%d positions, %d cautions: not a plan from this catalogue", len(p.Positions), len(p.Cautions))
	}
	read := func() answered { return b.want(200, "GET", path, "") }
	if first := read(); !bytes.Equal(first.body, made.body) || first.header.Get("ETag") != made.header.Get("ETag") {
		t.Error("the plan read is not the plan made")
	}
	b.want(304, "GET", path, "", "If-None-Match", made.header.Get("ETag"))

	row, err := b.store.Plan(t.Context(), repo.Bench, p.ID)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(row.Document, made.body) || row.AmpName != "Bench test 5" {
		t.Errorf("stored: %s, %.200s", row.AmpName, row.Document)
	}

	// Neither the amplifier nor the catalogue changes a plan that is made.
	b.want(200, "PUT", amp, strings.Replace(ampJSON, "47", "22", 1), "If-Match", "*")
	b.want(204, "DELETE", amp, "", "If-Match", "*")
	if later := read(); !bytes.Equal(later.body, made.body) {
		t.Error("the plan changed with its amplifier")
	}
	var list api.PlanList
	b.want(200, "GET", amp+"/plans", "").decode(t, &list)
	if len(list.Items) != 1 || list.Items[0].ID != p.ID || list.Items[0].Amplifier != "Bench test 5" {
		t.Errorf("plans of the amplifier that is gone: %+v", list.Items)
	}
}

func TestPlanOfAnAmplifierSentAlong(t *testing.T) {
	t.Parallel()
	b := start(t, nil).withStarter()
	a := b.want(201, "POST", "/v1/plans", `{"amplifier": `+ampJSON+`, "policy": {"working_share": 0.8, "name": "strict"}}`)
	var p plan.Plan
	a.decode(t, &p)
	if p.AmpID != "" || p.Policy.WorkingShare != 0.8 || p.Policy.Name != "strict" || p.Policy.LifeYears == 0 {
		t.Errorf("amplifier %q, policy %+v: want none, and the default but for what was sent", p.AmpID, p.Policy)
	}
	if got := b.want(200, "GET", a.header.Get("Location"), ""); !bytes.Equal(got.body, a.body) {
		t.Error("the plan read is not the plan made")
	}
	p2 := b.want(422, "POST", "/v1/plans", `{"amplifier": `+strings.Replace(ampJSON, `"HT/A"`, `"HT/Z"`, 1)+`, "policy": {"working_share": 7}, "colour": 1}`).problem(t)
	var at []string
	for _, f := range p2.Errors {
		at = append(at, f.Pointer)
	}
	if diff := cmp.Diff([]string{"/amplifier/positions/0/node", "/policy/working_share", "/colour"}, at); diff != "" {
		t.Errorf("pointers (-want +got):\n%s", diff)
	}
}

// The same input gives the same plan, but for its id and where its amplifier is.
func TestPlansAreTheSameTwice(t *testing.T) {
	t.Parallel()
	b := start(t, nil).withStarter()
	var plans [2]plan.Plan
	for i := range plans {
		b.want(201, "POST", "/v1/plans", `{"amplifier": `+ampJSON+`}`).decode(t, &plans[i])
		plans[i].ID = ""
	}
	if diff := cmp.Diff(plans[0], plans[1]); diff != "" {
		t.Error(diff)
	}
}

func TestListOfPlansIsNewestFirst(t *testing.T) {
	t.Parallel()
	b := start(t, nil)
	amp, _ := b.withAmp()
	var want []string
	for i := range 3 {
		p := &plan.Plan{Amplifier: "Bench test 5"}
		at := time.Unix(int64(1000+i), 0)
		if _, err := api.KeepPlan(t.Context(), b.store, repo.Bench, p, api.NewID(), strings.TrimPrefix(amp, "/v1/amps/"), at); err != nil {
			t.Fatal(err)
		}
		want = append([]string{p.ID}, want...)
	}
	var got []string
	for path := amp + "/plans?limit=2"; path != ""; {
		a := b.want(200, "GET", path, "")
		var list api.PlanList
		a.decode(t, &list)
		for _, item := range list.Items {
			got = append(got, item.ID)
		}
		path = ""
		if m := next.FindStringSubmatch(a.header.Get("Link")); m != nil {
			path = m[1]
		}
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("plans (-want +got):\n%s", diff)
	}
	b.want(404, "GET", "/v1/amps/nothing/plans", "")
}

func TestOrderSheetHoldsThePlansOrder(t *testing.T) {
	t.Parallel()
	b := start(t, nil).withStarter()
	a := b.want(201, "POST", "/v1/plans", `{"amplifier": `+ampJSON+`, "policy": {"replace_all": true}}`)
	var p plan.Plan
	a.decode(t, &p)
	if len(p.Order.Lines) == 0 {
		t.Fatal("the plan orders nothing; this test needs a line")
	}
	path := a.header.Get("Location") + "/order.csv"
	sheet := b.want(200, "GET", path, "", "Accept", "text/csv")
	if got := sheet.header.Get("Content-Type"); got != "text/csv; charset=utf-8; header=present" {
		t.Errorf("Content-Type is %q", got)
	}
	if got := sheet.header.Get("Content-Disposition"); got != fmt.Sprintf("attachment; filename=%q", "order-"+p.ID+".csv") {
		t.Errorf("Content-Disposition is %q", got)
	}
	if strings.Count(string(sheet.body), "\n") != strings.Count(string(sheet.body), "\r\n") || !bytes.HasSuffix(sheet.body, []byte("\r\n")) {
		t.Error("records do not all end in CRLF")
	}
	rows, err := csv.NewReader(bytes.NewReader(sheet.body)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	want := [][]string{{"supplier", "sku", "maker", "part_number", "text", "refs", "quantity", "for_use", "unit_price", "total", "currency", "lead_days"}}
	for _, l := range p.Order.Lines {
		want = append(want, []string{l.Supplier, l.SKU, l.Maker, l.PartNumber, l.Text, strings.Join(l.Refs, " "),
			fmt.Sprint(l.Quantity), fmt.Sprint(l.ForUse), l.UnitPrice.String(), l.Total.String(), p.Order.Currency, fmt.Sprint(l.LeadDays)})
	}
	if diff := cmp.Diff(want, rows); diff != "" {
		t.Errorf("rows (-want +got):\n%s", diff)
	}
	b.want(304, "GET", path, "", "If-None-Match", sheet.header.Get("ETag"))
	b.want(406, "GET", path, "", "Accept", "application/json").problem(t)
}

// blocking is a store whose candidates wait until they are let go.
type blocking struct {
	repo.Store
	inside chan struct{}
	let    chan struct{}
}

func (s blocking) Candidates(ctx context.Context, shop repo.Shop, w repo.CandidateWindow) ([]repo.Part, error) {
	select {
	case s.inside <- struct{}{}:
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	select {
	case <-s.let:
		return s.Store.Candidates(ctx, shop, w)
	case <-ctx.Done():
		return nil, fmt.Errorf("canary: %w", ctx.Err())
	}
}

// One plan is computed, one waits, the third is turned away.
func TestPlansBeyondTheQueueAreTurnedAway(t *testing.T) {
	t.Parallel()
	store := blocking{inside: make(chan struct{}), let: make(chan struct{})}
	b := start(t, func(c *api.Config) {
		store.Store = c.Store
		c.Store, c.Limits.PlanWorkers, c.Limits.PlanQueue = store, 1, 1
	})
	body := `{"amplifier": ` + ampJSON + `}`
	var wg sync.WaitGroup
	wg.Go(func() { b.do("POST", "/v1/plans", body) })
	<-store.inside // the first has its slot
	statuses := make(chan int, 2)
	for range 2 {
		wg.Go(func() { statuses <- b.do("POST", "/v1/plans", body).status })
	}
	if got := <-statuses; got != 503 { // the other of the two waits
		t.Errorf("status %d, want 503", got)
	}
	b.want(200, "GET", "/livez", "") // only plans queue
	done := make(chan struct{})
	go func() {
		defer close(done)
		wg.Wait()
	}()
	for running := true; running; {
		select {
		case store.let <- struct{}{}:
		case <-store.inside:
		case <-done:
			running = false
		}
	}
	if got := <-statuses; got != 201 {
		t.Errorf("the one that waited: status %d, want 201", got)
	}
}

func TestPlanThatTakesTooLong(t *testing.T) {
	t.Parallel()
	store := blocking{inside: make(chan struct{}, 100), let: make(chan struct{})}
	b := start(t, func(c *api.Config) {
		store.Store = c.Store
		c.Store, c.Limits.PlanTime = store, 1500*time.Millisecond
	})
	p := b.want(503, "POST", "/v1/plans", `{"amplifier": `+ampJSON+`}`).problem(t)
	if p.Type != "/problems/cancelled" || !strings.Contains(p.Detail, "1.5s") || strings.Contains(p.Detail, "canary") {
		t.Errorf("type %q, detail %q", p.Type, p.Detail)
	}
}

func TestClientThatGoesAwayStopsItsPlan(t *testing.T) {
	t.Parallel()
	store := blocking{inside: make(chan struct{}), let: make(chan struct{})}
	b := start(t, func(c *api.Config) {
		store.Store = c.Store
		c.Store = store
	})
	ctx, cancel := context.WithCancel(t.Context())
	gone := make(chan error, 1)
	go func() {
		r := newRequest(ctx, b.url+"/v1/plans", `{"amplifier": `+ampJSON+`}`)
		res, err := client.Do(r)
		if err == nil {
			_ = res.Body.Close()
		}
		gone <- err
	}()
	<-store.inside
	cancel()
	if err := <-gone; err == nil {
		t.Fatal("the request was answered")
	}
	for range 200 {
		if strings.Contains(b.logs.String(), `"status":499`) {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Errorf("the log has no 499:\n%s", b.logs)
}
