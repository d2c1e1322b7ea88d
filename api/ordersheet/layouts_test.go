package ordersheet_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"coldrise/api/ordersheet"
	"coldrise/domain/part"
)

// layout is an order sheet drawn at random: how many lines it has, what is laid
// out below them, where its sums stand and how they name the lines.
type layout struct {
	data  []byte
	how   string
	order ordersheet.Order
	sums  []sum
}

// sum is a cell that must show a figure after the fill, by its place before.
type sum struct {
	row, col int
	want     float64
	formula  string
}

func pick(r *rand.Rand, of ...string) string { return of[r.IntN(len(of))] }

// newLayout draws one. The header is "What, Pieces, Price, Total, So far" from
// column A; a sum stands right of the lines, one above if there is room, and
// one in the totals row if there is one.
func newLayout(t testing.TB, seed uint64) layout {
	r := rand.New(rand.NewPCG(seed, 2))
	header, lines, laid, gap := 2+r.IntN(4), r.IntN(5), r.IntN(4), r.IntN(3)
	first, last := header+1, header+lines
	end := last + laid
	l := layout{how: fmt.Sprintf(`"header_row":%d,"formulas":[{"column":"D"},{"column":"E"}],"append":{"where":"after_last_row"}`, header)}
	totals := 0
	if r.IntN(3) > 0 {
		totals = end + gap + 1
		l.how = strings.Replace(l.how, `{"where":"after_last_row"}`, `{"where":"before_totals","totals":{"text":"Sum","column":"A"}}`, 1)
	}
	if lines+laid == 0 {
		l.how = strings.Replace(l.how, `"formulas":[{"column":"D"},{"column":"E"}],`, "", 1)
	}
	cells := map[int]map[int]string{}
	set := func(row, col int, xml string) {
		if cells[row] == nil {
			cells[row] = map[int]string{}
		}
		cells[row][col] = xml
	}
	text := func(s string) string { return ` t="inlineStr"><is><t>` + s + `</t></is>` }
	formula := func(f string) string { return "><f>" + f + "</f><v>-1</v>" }
	for c, h := range []string{"What", "Pieces", "Price", "Total", "So far"} {
		set(header, c+1, text(h))
	}
	pieces := 0
	money := 0.0
	for i := range lines + laid {
		row := first + i
		if i < lines {
			set(row, 1, text("a"))
			set(row, 2, fmt.Sprintf("><v>%d</v>", i+1))
			set(row, 3, "><v>1.25</v>")
			pieces += i + 1
			money += 1.25 * float64(i+1)
		}
		set(row, 4, formula(fmt.Sprintf("B%d*C%d", row, row)))
		set(row, 5, formula(fmt.Sprintf("SUM(D$%d:D%d)", first, row)))
	}
	for i := range 1 + r.IntN(5) {
		price := part.Money(10_000 * (1 + r.IntN(500)))
		l.order.Lines = append(l.order.Lines, ordersheet.Line{Text: "=new", Quantity: i + 2, UnitPrice: price})
		pieces += i + 2
		money += float64(price.Times(i+2)) / 1e6
	}
	add := func(row, col int, text string, want float64) {
		set(row, col, formula(text))
		l.sums = append(l.sums, sum{row, col, want, text})
	}
	top := pick(r, "", "$") + fmt.Sprint(first-r.IntN(2))
	bottom := fmt.Sprint(max(last, first-1) + r.IntN(laid+1))
	if lines+laid == 0 {
		top, bottom = fmt.Sprint(header), fmt.Sprint(header)
	}
	add(header-1, 2, "SUM(B"+top+":B"+bottom+")", float64(pieces))
	far := pick(r, bottom, "200")
	if totals == end+1 && lines+laid == 0 {
		far = bottom // a range from the totals row on is pushed down with it, and the report says so
	}
	add(header, 8, fmt.Sprintf("SUMPRODUCT(B%d:B%s,C%d:C%s)", first, far, first, far), money)
	if totals > 0 {
		set(totals, 1, text("Sum"))
		bottom := fmt.Sprint(pick(r, fmt.Sprint(max(last, first-1)), fmt.Sprint(totals-1)))
		if lines+laid == 0 && gap == 0 {
			top, bottom = fmt.Sprint(header), fmt.Sprint(header)
		}
		add(totals, 2, "SUM(B"+top+":B"+bottom+")", float64(pieces))
		add(totals+1, 2, fmt.Sprintf("B%d*2", totals), 2*float64(pieces))
		if lines+laid > 0 { // else no line has a formula to carry on
			add(totals+2, 3, fmt.Sprintf("SUM(D%d:D$%d)", first, totals-1), money)
		}
	}
	var b strings.Builder
	b.WriteString("<sheetData>")
	for row := 1; row <= totals+5 || row <= end; row++ {
		if cells[row] == nil {
			continue
		}
		fmt.Fprintf(&b, `<row r="%d">`, row)
		for col := 1; col < 10; col++ {
			if x, ok := cells[row][col]; ok {
				fmt.Fprintf(&b, `<c r="%c%d"%s</c>`, 'A'+col-1, row, x)
			}
		}
		b.WriteString("</row>")
	}
	b.WriteString("</sheetData>")
	l.data = tiny(t, b.String())
	return l
}

// map of a layout, and the copy that a fill of it gives.
func (l layout) fill(t testing.TB) ordersheet.Filled {
	t.Helper()
	m, err := ordersheet.ParseMap([]byte(`{"sheet":"Order","columns":[{"field":"text","column":"A"},{"field":"quantity","column":"B"},{"field":"unit_price","column":"C"}],` + l.how + `}`))
	if err != nil {
		t.Fatal(err)
	}
	return fill(t, l.data, m, l.order)
}

// check holds each sum against what it must show, where it stands after.
func (l layout) check(t *testing.T, seed uint64, report ordersheet.Report, cells opened) {
	t.Helper()
	for _, s := range l.sums {
		row := s.row
		if i := report.Inserted; i != nil && row >= i.BeforeRow {
			row += i.Rows
		}
		at := fmt.Sprintf("Order!%c%d", 'A'+s.col-1, row)
		if got := cells.number(t, at); got-s.want > 1e-6 || s.want-got > 1e-6 {
			t.Errorf("layout %d: %s, before =%s, shows %v, want %v (%s)", seed, at, s.formula, got, s.want, l.how)
		}
	}
}
