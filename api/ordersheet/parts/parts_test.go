package parts_test

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"fmt"
	"hash/crc32"
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"coldrise/api/ordersheet/parts"
	"coldrise/domain/problem"
)

const types = `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="xml" ContentType="application/xml"/><Override PartName="/xl/workbook.xml" ContentType="main"/></Types>`

// file is an entry of a zip made for a test.
type file struct {
	name string
	data []byte
	lie  func(h *zip.FileHeader) // changes the header before it is written
}

func pack(t testing.TB, files ...file) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, f := range append([]file{{name: "[Content_Types].xml", data: []byte(types)}}, files...) {
		var packed bytes.Buffer
		d, err := flate.NewWriter(&packed, flate.BestSpeed)
		if err != nil {
			t.Fatal(err)
		}
		if strings.HasSuffix(f.name, "/") {
			f.lie = func(h *zip.FileHeader) { h.Method, h.CompressedSize64 = zip.Store, 0 }
		}
		if _, err := d.Write(f.data); err != nil {
			t.Fatal(err)
		}
		if err := d.Close(); err != nil {
			t.Fatal(err)
		}
		h := &zip.FileHeader{Name: f.name, Method: zip.Deflate, CRC32: crc32.ChecksumIEEE(f.data),
			CompressedSize64: uint64(packed.Len()), UncompressedSize64: uint64(len(f.data))}
		if f.lie != nil {
			f.lie(h)
		}
		raw, err := w.CreateRaw(h)
		if err != nil {
			t.Fatal(err)
		}
		if strings.HasSuffix(f.name, "/") {
			continue
		}
		if _, err := raw.Write(packed.Bytes()); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func entry(name, data string) file { return file{name: name, data: []byte(data)} }

// Each is refused by name: none is unpacked past its limit, none is read where
// it could be read in two ways. BenchmarkRefuseABomb has the time.
func TestHostileFilesAreRefusedByName(t *testing.T) {
	t.Parallel()
	zeros := make([]byte, parts.MaxUnpacked+1)
	many := make([]file, parts.MaxParts)
	for i := range many {
		many[i] = entry(fmt.Sprintf("p%d", i), "")
	}
	entities := `<?xml version="1.0"?><!DOCTYPE a [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]><a>&b;</a>`
	good := pack(t, entry("xl/workbook.xml", "<a/>"))
	tests := []struct {
		name string
		data []byte
		code problem.Code
		says string
	}{
		{"empty", nil, problem.Malformed, "empty"},
		{"text", []byte("Supplier,Code"), problem.Malformed, ".xlsx and .xlsm"},
		{"the form before 2007", []byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1rest"), problem.Malformed, "encrypted, or of the form before 2007"},
		{"cut short", good[:len(good)-30], problem.Malformed, "cannot be read as a zip"},
		{"too large packed", make([]byte, parts.MaxPacked+1), problem.TooLarge, "16777216"},
		{"bomb", pack(t, file{name: "xl/a.xml", data: zeros}), problem.TooLarge, "67108864"},
		{"bomb in many parts", pack(t, file{name: "a", data: zeros[:len(zeros)/2]}, file{name: "b", data: zeros[:len(zeros)/2+1]}), problem.TooLarge, "67108864"},
		{"bomb that lies", pack(t, file{name: "xl/a.xml", data: zeros, lie: func(h *zip.FileHeader) { h.UncompressedSize64 = 1000 }}), problem.Malformed, `"xl/a.xml"`},
		{"length that is a lie", pack(t, file{name: "xl/a.xml", data: []byte("<a/>"), lie: func(h *zip.FileHeader) { h.UncompressedSize64 = 1000 }}), problem.Malformed, `"xl/a.xml"`},
		{"length past all", pack(t, file{name: "a", data: []byte("<a/>"), lie: func(h *zip.FileHeader) { h.UncompressedSize64 = 1 << 63 }}), problem.TooLarge, "67108864"},
		{"wrong check sum", pack(t, file{name: "xl/a.xml", data: []byte("<a/>"), lie: func(h *zip.FileHeader) { h.CRC32++ }}), problem.Malformed, "check sum"},
		{"encrypted part", pack(t, file{name: "xl/a.xml", lie: func(h *zip.FileHeader) { h.Flags |= 1 }}), problem.Malformed, "encrypted"},
		{"unknown packing", pack(t, file{name: "xl/a.xml", lie: func(h *zip.FileHeader) { h.Method = 12 }}), problem.Malformed, "method 12"},
		{"part twice", pack(t, entry("xl/a.xml", "<a/>"), entry("XL/A.xml", "<b/>")), problem.Malformed, "twice"},
		{"path upwards", pack(t, entry("../a.xml", "<a/>")), problem.Malformed, "name that no part may have"},
		{"path from the root", pack(t, entry("/a.xml", "<a/>")), problem.Malformed, "name that no part may have"},
		{"backslash", pack(t, entry(`xl\a.xml`, "<a/>")), problem.Malformed, "name that no part may have"},
		{"nested entities", pack(t, entry("xl/a.xml", entities)), problem.Malformed, "document type declaration"},
		{"nested entities in relations", pack(t, entry("xl/_rels/a.rels", entities)), problem.Malformed, "document type declaration"},
		{"too many parts", pack(t, many...), problem.TooLarge, "4096"},
		{"no content types", pack(t)[:0], problem.Malformed, "empty"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			_, err := parts.Open(tt.data)
			if code := problem.CodeOf(err); err == nil || code != tt.code || !strings.Contains(problem.As(err).Message, tt.says) {
				t.Errorf("%v, code %s; want %s that says %q", err, code, tt.code, tt.says)
			}
		})
	}
}

func TestXMLThatIsReadInTwoWaysIsRefused(t *testing.T) {
	t.Parallel()
	for name, text := range map[string]string{
		"not closed": "<a><b></a>", "crossed": "<a><b></a></b>", "two roots": "<a/><b/>", "text outside": "<a/>b", "empty": "", "cut": "<a><b>",
		"attribute twice without quotes": "<a b=c/>", "UTF-16": "\xff\xfe<\x00a\x00/\x00>\x00", "other encoding": `<?xml version="1.0" encoding="latin1"?><a/>`,
		"declaration": "<!DOCTYPE a><a/>", "entity": "<a>&b;</a>", "prefix closed by another": `<x:a xmlns:x="u"></a>`, "too deep": strings.Repeat("<a>", 200) + strings.Repeat("</a>", 200),
	} {
		if _, err := parts.ReadTree("p", []byte(text)); err == nil {
			t.Errorf("%s is taken", name)
		} else if c := problem.CodeOf(err); c != problem.Malformed && c != problem.TooLarge {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestNamespacesAreResolved(t *testing.T) {
	t.Parallel()
	root, err := parts.ReadTree("p", []byte("\xef\xbb\xbf"+`<x:a xmlns:x="one" xmlns="two" x:k="v" k="w"><b/><x:c xmlns:x="three"><x:d>t<![CDATA[<&]]>u</x:d></x:c></x:a>`))
	if err != nil {
		t.Fatal(err)
	}
	own, _ := root.Attr("k")
	other, _ := root.AttrIn("one", "k")
	d := root.Kid("three", "c").Kid("three", "d")
	if !root.Is("one", "a") || root.Kid("two", "b") == nil || d == nil || d.Text != "t<&u" || own != "w" || other != "v" {
		t.Errorf("%+v with k=%q and %q, d=%+v", root, own, other, d)
	}
}

// A splice changes what it names and leaves every other byte.
func TestSplices(t *testing.T) {
	t.Parallel()
	const text = "<a  one = '1'\n two=\"2 &lt; &gt;\" ><b/><c x='>'>t</c></a>"
	tests := []struct {
		name   string
		change func(s *parts.Splices, data []byte, a, b, c *parts.Element)
		want   string
	}{
		{"set", func(s *parts.Splices, d []byte, a, b, c *parts.Element) {
			s.SetAttr(d, a, "one", `"&'`)
			s.SetAttr(d, b, "n", "1")
			s.SetAttr(d, c, "x", "y")
		}, "<a  one = '&#34;&amp;&#39;'\n two=\"2 &lt; &gt;\" ><b n=\"1\"/><c x='y'>t</c></a>"},
		{"drop", func(s *parts.Splices, d []byte, a, b, c *parts.Element) {
			s.DropAttr(d, a, "one")
			s.DropAttr(d, a, "two")
			s.DropAttr(d, a, "three")
			s.DropAttr(d, c, "x")
		}, "<a ><b/><c>t</c></a>"},
		{"fill", func(s *parts.Splices, d []byte, a, b, c *parts.Element) {
			s.Fill(d, b, "new")
			s.Fill(d, c, "")
		}, "<a  one = '1'\n two=\"2 &lt; &gt;\" ><b>new</b><c x='>'></c></a>"},
		{"insert in order", func(s *parts.Splices, d []byte, a, b, c *parts.Element) {
			s.Insert(c.All.From, "1")
			s.Insert(c.All.From, "2")
			s.Replace(c.All, "")
		}, "<a  one = '1'\n two=\"2 &lt; &gt;\" ><b/>12</a>"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			data := []byte(text)
			a, err := parts.ReadTree("p", data)
			if err != nil {
				t.Fatal(err)
			}
			var s parts.Splices
			tt.change(&s, data, a, a.Kids[0], a.Kids[1])
			got, err := s.Apply(data)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(tt.want, string(got)); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestSplicesThatOverlapAreAnError(t *testing.T) {
	t.Parallel()
	for _, spans := range [][]parts.Span{{{0, 3}, {2, 4}}, {{3, 1}}, {{0, 99}}} {
		var s parts.Splices
		for _, at := range spans {
			s.Replace(at, "x")
		}
		if out, err := s.Apply([]byte("<abc/>")); err == nil {
			t.Errorf("%v gives %s", spans, out)
		}
	}
}

// What is not changed keeps its packed bytes, its order and its time.
func TestWriteKeepsWhatDidNotChange(t *testing.T) {
	t.Parallel()
	data, err := os.ReadFile("../../../testdata/workbooks/pictures.xlsx")
	if err != nil {
		t.Fatal(err)
	}
	f, err := parts.Open(data)
	if err != nil {
		t.Fatal(err)
	}
	out, err := f.Write(parts.Changes{Parts: map[string][]byte{"xl/styles.xml": []byte("<s/>")}, Removed: map[string]bool{"docProps/app.xml": true}})
	if err != nil {
		t.Fatal(err)
	}
	again, err := f.Write(parts.Changes{Parts: map[string][]byte{"xl/styles.xml": []byte("<s/>")}, Removed: map[string]bool{"docProps/app.xml": true}})
	if err != nil || !bytes.Equal(out, again) {
		t.Errorf("written twice, it is not the same (%v)", err)
	}
	g, err := parts.Open(out)
	if err != nil {
		t.Fatal(err)
	}
	want := f.Names()
	for i, n := range want {
		if n == "docProps/app.xml" {
			want = append(want[:i:i], want[i+1:]...)
			break
		}
	}
	if diff := cmp.Diff(want, g.Names()); diff != "" {
		t.Error(diff)
	}
	for _, n := range want {
		a, _ := f.Part(n)
		b, _ := g.Part(n)
		if n == "xl/styles.xml" {
			a = []byte("<s/>")
		}
		if !bytes.Equal(a, b) {
			t.Errorf("%s changed", n)
		}
	}
}

func TestRelationsAreResolved(t *testing.T) {
	t.Parallel()
	const rels = `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="a" Type="http://x/worksheet" Target="../xl/Sheets/s1.xml"/>` +
		`<Relationship Id="b" Type="http://x/calcChain" Target="/xl/calcChain.xml"/><Relationship Id="c" Type="http://x/hyperlink" Target="https://shop.invalid/" TargetMode="External"/></Relationships>`
	f, err := parts.Open(pack(t, entry("xl/_rels/workbook.xml.rels", rels), entry("xl/sheets/S1.xml", "<a/>"), entry("xl/workbook.xml", "<a/>")))
	if err != nil {
		t.Fatal(err)
	}
	list, err := f.Relations("xl/workbook.xml")
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, r := range list {
		got = append(got, fmt.Sprint(r.ID, " ", r.Kind(), " ", r.Target, " ", r.External))
	}
	want := []string{"a worksheet xl/sheets/S1.xml false", "b calcChain xl/calcChain.xml false", "c hyperlink https://shop.invalid/ true"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	_, without, err := f.WithoutRelation("xl/workbook.xml", "calcChain")
	if err != nil || strings.Contains(string(without), "calcChain") || len(without) >= len(rels) {
		t.Errorf("%s, %v", without, err)
	}
	_, without, err = f.WithoutType("xl/Workbook.xml")
	if err != nil || strings.Contains(string(without), "Override") {
		t.Errorf("%s, %v", without, err)
	}
	if got := f.ContentType("xl/workbook.xml") + " " + f.ContentType("xl/sheets/s1.XML"); got != "main application/xml" {
		t.Errorf("content types %q", got)
	}
}

// A copy that changes nothing is read as the same parts; nothing panics.
func FuzzOpen(f *testing.F) {
	f.Add(pack(f, entry("xl/workbook.xml", "<a/>")))
	f.Add(pack(f, entry("xl/a.xml", "<!DOCTYPE a>"), entry("b/", "")))
	f.Add([]byte("PK\x05\x06" + strings.Repeat("\x00", 18)))
	f.Fuzz(func(t *testing.T, data []byte) {
		file, err := parts.Open(data)
		if err != nil {
			if problem.CodeOf(err) == problem.Internal {
				t.Fatal(err)
			}
			return
		}
		out, err := file.Write(parts.Changes{})
		if err != nil {
			return // an entry that the zip library reads and does not write
		}
		again, err := parts.Open(out)
		if err != nil {
			t.Fatalf("the copy is refused: %v", err)
		}
		if diff := cmp.Diff(file.Names(), again.Names()); diff != "" {
			t.Fatal(diff)
		}
	})
}

// Every element's spans lie in its part, and what Set writes is read again.
func FuzzReadTree(f *testing.F) {
	for _, s := range []string{"<a b='1'/>", "<x:a xmlns:x='u'><x:b>t</x:b></x:a>", "<a\tb = \"c>d\" ><!-- <x> --><?p <y>?></a>", "\xef\xbb\xbf<a/>", "<a><![CDATA[</a>]]></a>"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		root, err := parts.ReadTree("p", data)
		if err != nil {
			return
		}
		var s parts.Splices
		n := 0
		root.Each(func(e *parts.Element) {
			n++
			s.SetAttr(data, e, "fuzz", "<&\"'>")
		})
		out, err := s.Apply(data)
		if err != nil {
			t.Fatal(err)
		}
		again, err := parts.ReadTree("p", out)
		if err != nil {
			t.Fatalf("%q became %q: %v", data, out, err)
		}
		again.Each(func(e *parts.Element) {
			n--
			if v, _ := e.Attr("fuzz"); v != "<&\"'>" {
				t.Fatalf("%q became %q: %q", data, out, v)
			}
		})
		if n != 0 {
			t.Fatalf("%q became %q", data, out)
		}
	})
}

// The worst that is not refused by what the zip says of itself: it is unpacked
// as far as it claims to go.
func BenchmarkRefuseABomb(b *testing.B) {
	bomb := pack(b, file{name: "xl/a.xml", data: make([]byte, 4*parts.MaxUnpacked), lie: func(h *zip.FileHeader) { h.UncompressedSize64 = parts.MaxUnpacked - 10_000 }})
	for b.Loop() {
		if _, err := parts.Open(bomb); err == nil {
			b.Fatal("taken")
		}
	}
}
