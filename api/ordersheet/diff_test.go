package ordersheet_test

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"sort"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"coldrise/api/ordersheet"
)

// node is an XML element as this test reads it, apart from the code under test.
type node struct {
	XMLName xml.Name
	Attrs   []xml.Attr `xml:",any,attr"`
	Text    string     `xml:",chardata"`
	Kids    []*node    `xml:",any"`
}

func (n *node) attr(name string) string {
	for _, a := range n.Attrs {
		if a.Name.Local == name && a.Name.Space == "" {
			return a.Value
		}
	}
	return ""
}

func (n *node) kid(name string) *node {
	for _, k := range n.Kids {
		if k.XMLName.Local == name {
			return k
		}
	}
	return nil
}

func parse(t testing.TB, data []byte) *node {
	t.Helper()
	var n node
	if err := xml.Unmarshal(data, &n); err != nil {
		t.Fatal(err)
	}
	return &n
}

type zipPart struct{ data, packed []byte }

func unzip(t testing.TB, data []byte) (map[string]zipPart, []string) {
	t.Helper()
	r, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	all, names := map[string]zipPart{}, []string{}
	for _, f := range r.File {
		open, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		raw, err := f.OpenRaw()
		if err != nil {
			t.Fatal(err)
		}
		var p zipPart
		if p.data, err = io.ReadAll(open); err != nil {
			t.Fatal(err)
		}
		if p.packed, err = io.ReadAll(raw); err != nil {
			t.Fatal(err)
		}
		all[f.Name] = p
		names = append(names, f.Name)
	}
	return all, names
}

// view is a part as a list of facts, path by path; rows and cells go by their
// own names. moved gives the name that a row of before has after.
type view map[string]string

func look(n *node, path string, v view, moved func(int) int) {
	if n.XMLName.Local == "sheetData" {
		dropResults(n)
	}
	var facts []string
	for _, a := range n.Attrs {
		name := a.Name.Local
		if a.Name.Space == "xmlns" || a.Name.Local == "xmlns" {
			continue
		}
		facts = append(facts, name+"="+a.Value)
	}
	slices.Sort(facts)
	if text := strings.TrimSpace(n.Text); text != "" {
		facts = append(facts, strconv.Quote(text))
	}
	v[path] = strings.Join(facts, " ")
	seen := map[string]int{}
	for _, k := range n.Kids {
		name := k.XMLName.Local
		switch name {
		case "row":
			lookRow(k, path, v, moved)
			continue
		default:
			seen[name]++
			look(k, fmt.Sprintf("%s/%s[%d]", path, name, seen[name]), v, moved)
		}
	}
}

func lookRow(r *node, path string, v view, moved func(int) int) {
	n, _ := strconv.Atoi(r.attr("r"))
	to := moved(n)
	var facts []string
	for _, a := range r.Attrs {
		if a.Name.Local != "r" {
			facts = append(facts, a.Name.Local+"="+a.Value)
		}
	}
	v[fmt.Sprintf("%s/row %d", path, to)] = strings.Join(facts, " ")
	for _, c := range r.Kids {
		col := strings.TrimRight(c.attr("r"), "0123456789")
		var facts []string
		for _, a := range c.Attrs {
			if a.Name.Local != "r" {
				facts = append(facts, a.Name.Local+"="+a.Value)
			}
		}
		for _, k := range c.Kids {
			inner := view{}
			look(k, k.XMLName.Local, inner, moved)
			for _, at := range sortedKeys(inner) {
				facts = append(facts, strings.TrimSpace(at+" "+inner[at]))
			}
		}
		v[fmt.Sprintf("%s/%s%d", path, col, to)] = strings.Join(facts, " ")
	}
}

// dropResults takes out what is cached: the values of cells with a formula, or
// in an area that one fills, and what describes them.
func dropResults(data *node) {
	var areas []string
	for _, r := range data.Kids {
		for _, c := range r.Kids {
			if f := c.kid("f"); f != nil && f.attr("ref") != "" && f.attr("t") != "shared" {
				areas = append(areas, f.attr("ref"))
			}
		}
	}
	for _, r := range data.Kids {
		for _, c := range r.Kids {
			if c.kid("f") == nil && !slices.ContainsFunc(areas, func(a string) bool { return within(c.attr("r"), a) }) {
				continue
			}
			c.Kids = slices.DeleteFunc(c.Kids, func(k *node) bool { return k.XMLName.Local == "v" })
			c.Attrs = slices.DeleteFunc(c.Attrs, func(a xml.Attr) bool { return a.Name.Local == "t" || a.Name.Local == "vm" })
		}
	}
}

// within says whether a cell lies in an area of columns A to Z.
func within(cell, area string) bool {
	from, to, _ := strings.Cut(area, ":")
	if to == "" {
		to = from
	}
	row := func(s string) int { n, _ := strconv.Atoi(s[1:]); return n }
	return cell[0] >= from[0] && cell[0] <= to[0] && row(cell) >= row(from) && row(cell) <= row(to)
}

func sortedKeys[V any](m map[string]V) []string {
	var keys []string
	for k := range m {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	return keys
}

// differences lists what is in one view and not alike in the other.
func differences(before, after view) []string {
	var list []string
	for _, at := range sortedKeys(before) {
		switch now, there := after[at]; {
		case !there:
			list = append(list, fmt.Sprintf("- %s: %s", at, before[at]))
		case now != before[at]:
			list = append(list, fmt.Sprintf("~ %s: %s → %s", at, before[at], now))
		}
	}
	for _, at := range sortedKeys(after) {
		if _, there := before[at]; !there {
			list = append(list, fmt.Sprintf("+ %s: %s", at, after[at]))
		}
	}
	return list
}

func same(n int) int { return n }

// After a fill a part may differ only in what the issue names. Each workbook is
// filled and taken apart again; what changed in the sheet itself is held against
// a reviewed list.
func TestOnlyTheRowsAndWhatFollowsFromThemChange(t *testing.T) {
	t.Parallel()
	for _, tt := range workbooks {
		t.Run(tt.file, func(t *testing.T) {
			t.Parallel()
			data, m := workbook(t, tt.file)
			before := bytes.Clone(data)
			filled := fill(t, data, m, smallOrder())
			if !bytes.Equal(before, data) {
				t.Error("the upload was changed")
			}
			got := compare(t, data, filled)
			golden := filepath.Join(folder, tt.file+".diff.txt")
			text := strings.Join(got, "\n") + "\n"
			if *update {
				if err := os.WriteFile(golden, []byte(text), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(golden)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(string(want), text); diff != "" {
				t.Errorf("what changed in the sheet (-want +got):\n%s", diff)
			}
			compare(t, data, fill(t, data, m, payloadOrder()))
		})
	}
}

// compare fails the test for a part that may not differ, and gives what
// differs in the sheet that was filled.
func compare(t *testing.T, before []byte, filled ordersheet.Filled) []string {
	t.Helper()
	was, order := unzip(t, before)
	is, now := unzip(t, filled.Data)
	order = slices.DeleteFunc(order, func(name string) bool { return name == "xl/calcChain.xml" })
	if diff := cmp.Diff(order, now); diff != "" {
		t.Errorf("parts (-before +after):\n%s", diff)
	}
	target := sheetPart(t, was, filled.Report.Sheet)
	var list []string
	for _, name := range now {
		if bytes.Equal(was[name].data, is[name].data) {
			if !bytes.Equal(was[name].packed, is[name].packed) {
				t.Errorf("%s holds the same, packed otherwise", name)
			}
			continue
		}
		a, b := parse(t, was[name].data), parse(t, is[name].data)
		if strings.HasPrefix(name, "xl/worksheets/") {
			noStaleResult(t, name, parse(t, is[name].data))
		}
		va, vb := view{}, view{}
		moved := same
		if name == target && filled.Report.Inserted != nil {
			at, n := filled.Report.Inserted.BeforeRow, filled.Report.Inserted.Rows
			moved = func(row int) int {
				if row >= at {
					return row + n
				}
				return row
			}
		}
		look(a, "", va, moved)
		look(b, "", vb, same)
		diff := differences(va, vb)
		if name == target {
			list = diff
			continue
		}
		for _, d := range diff {
			if !allowed(name, d) {
				t.Errorf("%s: %s", name, d)
			}
		}
		list = append(list, otherLines(name, diff)...)
	}
	return list
}

// otherLines are the changes of other parts that a reader of the list should see.
func otherLines(name string, diff []string) []string {
	var list []string
	for _, d := range diff {
		list = append(list, name+" "+d)
	}
	return list
}

var mayDiffer = map[string]*regexp.Regexp{
	"xl/styles.xml":              regexp.MustCompile(`^(\+ /cellXfs\[1\]/xf\[\d+\].*|~ /cellXfs\[1\]: count=\d+ → count=\d+)$`),
	"xl/workbook.xml":            regexp.MustCompile(`^([~+] /calcPr\[1\]: .*fullCalcOnLoad=1.*|~ /definedNames\[1\]/definedName\[\d+\]: .*)$`),
	"xl/_rels/workbook.xml.rels": regexp.MustCompile(`^([-~] .*)$`), // see TestTheCalculationChainGoes
	"[Content_Types].xml":        regexp.MustCompile(`^([-~] .*)$`),
}

var tableRange = regexp.MustCompile(`^~ (/autoFilter\[1\])?: (.*)ref=\S+(.*) → (.*)ref=\S+(.*)$`)

// allowed says whether a part beside the sheet may differ so. The order of
// attributes in a difference is fixed, so the rest of a table must be alike.
func allowed(name, diff string) bool {
	if rule, ok := mayDiffer[name]; ok {
		return rule.MatchString(diff)
	}
	if strings.HasPrefix(name, "xl/tables/") {
		m := tableRange.FindStringSubmatch(diff)
		return m != nil && m[2] == m[4] && m[3] == m[5]
	}
	return false
}

// noStaleResult wants no formula with a cached result.
func noStaleResult(t *testing.T, name string, sheet *node) {
	t.Helper()
	for _, r := range sheet.kid("sheetData").Kids {
		for _, c := range r.Kids {
			if c.kid("f") != nil && c.kid("v") != nil {
				t.Errorf("%s %s still shows %s", name, c.attr("r"), c.kid("v").Text)
			}
		}
	}
}

func sheetPart(t testing.TB, all map[string]zipPart, sheet string) string {
	t.Helper()
	id := ""
	for _, s := range parse(t, all["xl/workbook.xml"].data).kid("sheets").Kids {
		if s.attr("name") == sheet {
			for _, a := range s.Attrs {
				if a.Name.Local == "id" {
					id = a.Value
				}
			}
		}
	}
	for _, r := range parse(t, all["xl/_rels/workbook.xml.rels"].data).Kids {
		if r.attr("Id") == id {
			return "xl/" + strings.TrimPrefix(strings.TrimPrefix(r.attr("Target"), "/"), "xl/")
		}
	}
	t.Fatalf("no part for sheet %s", sheet)
	return ""
}
