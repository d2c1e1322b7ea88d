package api_test

import (
	"net/http"
	"strings"
	"testing"

	"coldrise/domain/derate"
)

// The bench's clock stands at 4 March 2026: week 30 of 2021 is 4.6 years ago.
func TestOldStock(t *testing.T) {
	t.Parallel()
	b := start(t, nil)
	ask := func(text string) derate.StockAdvice {
		var a derate.StockAdvice
		b.want(http.StatusOK, "POST", "/v1/old-stock", text).decode(t, &a)
		return a
	}
	if a := ask(`{"part":{"capacitance_uf":47,"rated_v":450,"date_code":"2130","style":"radial"}}`); a.Verdict != derate.StockReform || a.Recipe == nil || a.Recipe.Name != "preconditioning" ||
		len(a.Cautions) == 0 || a.Years < 4.5 || a.Years > 4.7 {
		t.Errorf("%+v", a)
	}
	if a := ask(`{"part":{"capacitance_uf":47,"rated_v":450,"stored_years":12}}`); a.Verdict != derate.StockRefuse || a.Recipe != nil {
		t.Errorf("%+v", a)
	}
	if a := ask(`{"part":{"capacitance_uf":47,"rated_v":450,"stored_years":12},"policy":{"stock_years":20}}`); a.Verdict != derate.StockReform || a.Recipe.Name != "re-ageing" {
		t.Errorf("%+v", a)
	}
	p := b.want(http.StatusUnprocessableEntity, "POST", "/v1/old-stock", `{"part":{"capacitance_uf":-1,"rated_v":450,"date_code":"2611"},"policy":{"stock_years":0}}`).problem(t)
	var at []string
	for _, f := range p.Errors {
		at = append(at, f.Pointer)
	}
	if got := strings.Join(at, " "); got != "/part/capacitance_uf /part/date_code /policy/stock_years" {
		t.Errorf("faults at %s", got)
	}
}
