package table

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"

	"coldrise/domain/problem"
)

// Workbook is an XLSX workbook that is open for reading, by one goroutine at a time. Its sheets are read
// as streams straight from the archive: nothing is unpacked to disk, and what
// a sheet's cells are (text, number, date, formula) is kept, which the
// streaming reader of the library for writing does not tell.
type Workbook struct {
	parts   map[string]*zip.File
	size    int64
	limits  Limits
	sheets  []sheetEntry
	strings string // path of the shared strings; "" where there are none
	styles  string

	rows    map[string]int // of each sheet that was read, by its path
	shared  *sharedStrings // nil before the first reading
	formats formats
}

type sheetEntry struct {
	name, path string
	hidden     bool
}

// maxDirectory bounds what is read to list an archive's files: a directory
// entry of 46 bytes becomes several hundred in memory.
const maxDirectory = 2 << 20

// maxPackageXML bounds the small parts: the list of sheets, relations, styles.
const maxPackageXML = 8 << 20

// OpenWorkbook reads what a workbook holds. The error is a *problem.Error:
// malformed where it is broken or unsafe, unsupported for other documents in
// an archive, too_large.
func OpenWorkbook(ctx context.Context, src io.ReaderAt, size int64, l Limits) (w *Workbook, err error) {
	defer rescue(&err)
	w = &Workbook{size: size, limits: l.WithDefaults(), parts: map[string]*zip.File{}, rows: map[string]int{}}
	archive, err := openArchive(src, size)
	if err != nil {
		return nil, err
	}
	if err := w.list(archive); err != nil {
		return nil, err
	}
	if err := w.otherDocument(ctx); err != nil {
		return nil, err
	}
	return w, w.readPackage(ctx)
}

// A sheet packs to a tenth or a twentieth of its size. What is large
// and packs far better is there to blow up.
const (
	maxRatio   = 100
	ratioAbove = 16 << 20
)

// list takes the archive's parts by name, as long as they unpack to what is allowed.
func (w *Workbook) list(archive *zip.Reader) error {
	var unpacked uint64
	for _, f := range archive.File {
		size := f.UncompressedSize64
		if unpacked += size; unpacked > uint64(w.limits.Unpacked) || size > uint64(w.limits.Unpacked) {
			return problem.New(problem.TooLarge, "the workbook would unpack to more than %s; save the one sheet that is meant as CSV", bytesText(w.limits.Unpacked))
		}
		if size > ratioAbove && size/maxRatio > f.CompressedSize64 {
			return problem.New(problem.TooLarge, "a part of the workbook would unpack to more than %d times its size, as no sheet does; it is refused", maxRatio)
		}
		name := strings.ToLower(path.Clean("/" + f.Name))
		if _, twice := w.parts[name]; twice {
			return problem.New(problem.Malformed, "the workbook has a part twice, which no spreadsheet writes")
		}
		w.parts[name] = f
	}
	return nil
}

// rescue turns a panic over a crafted file into its refusal. The parsers here
// are not known to panic; a file from outside is no place to find out.
func rescue(err *error) {
	if p := recover(); p != nil {
		*err = &problem.Error{Code: problem.Malformed, Message: "the workbook cannot be read: it is broken in a way nobody foresaw", Cause: fmt.Errorf("panic: %v", p)}
	}
}

// allowance is a ReaderAt that gives so many bytes and no more.
type allowance struct {
	src  io.ReaderAt
	left int64
}

var errDirectory = errors.New("directory too large")

func (a *allowance) ReadAt(p []byte, at int64) (int, error) {
	if a.left >= 0 {
		if a.left -= int64(len(p)); a.left < 0 {
			return 0, errDirectory
		}
	}
	return a.src.ReadAt(p, at)
}

func openArchive(src io.ReaderAt, size int64) (*zip.Reader, error) {
	a := &allowance{src: src, left: maxDirectory}
	archive, err := zip.NewReader(a, size)
	if errors.Is(err, errDirectory) {
		return nil, problem.New(problem.TooLarge, "the workbook's archive lists more files than any workbook has")
	}
	if err != nil {
		return nil, &problem.Error{Code: problem.Malformed, Message: "the file begins as a workbook does, and its archive is broken or cut short; fetch it again", Cause: err}
	}
	a.left = -1 // the files themselves are bounded one by one
	return archive, nil
}

// otherDocument refuses archives that are documents of other kinds.
func (w *Workbook) otherDocument(ctx context.Context) error {
	if w.parts["/xl/workbook.bin"] != nil {
		return problem.New(problem.Unsupported, "the file is a binary workbook (.xlsb); save it as .xlsx")
	}
	if w.parts["/word/document.xml"] != nil || w.parts["/ppt/presentation.xml"] != nil {
		return problem.New(problem.Unsupported, "the file is a text or a presentation, and no workbook")
	}
	if w.parts["/mimetype"] != nil {
		kind := make([]byte, 80)
		r, err := w.open(ctx, "/mimetype")
		if err != nil {
			return err
		}
		defer r.Close()
		n, _ := io.ReadFull(r, kind)
		if strings.HasPrefix(string(kind[:n]), "application/vnd.oasis.opendocument") {
			return problem.New(problem.Unsupported, "the file is an OpenDocument file (.ods); save it as .xlsx or CSV")
		}
	}
	if w.parts["/[content_types].xml"] == nil {
		return problem.New(problem.Unsupported, "the file is a ZIP archive, and no workbook: unpack it, and import what is in it")
	}
	return nil
}

// part is one part of the package, read on a leash.
type part struct {
	io.ReadCloser
	leash *leash
}

func (p *part) Read(b []byte) (int, error) { return p.leash.Read(b) }

// maxToken bounds one element's text or attributes.
const maxToken = 1 << 20

var errToken = errors.New("element too long")

func (w *Workbook) open(ctx context.Context, name string) (*part, error) {
	f := w.parts[strings.ToLower(name)]
	if f == nil {
		return nil, problem.New(problem.Malformed, "the workbook names a part %q and does not hold it", short(name))
	}
	rc, err := f.Open()
	if err != nil {
		return nil, broken(err)
	}
	return &part{ReadCloser: rc, leash: &leash{ctx: ctx, from: rc, length: maxToken, stop: errToken}}, nil
}

// broken makes our error of what stopped the reading of a part.
func broken(err error) error {
	switch {
	case problem.CodeOf(err) == problem.Cancelled:
		return problem.As(err)
	case errors.Is(err, errToken):
		return problem.New(problem.TooLarge, "the workbook has an element of more than %s", bytesText(maxToken))
	case errors.Is(err, zip.ErrFormat), errors.Is(err, io.ErrUnexpectedEOF):
		return &problem.Error{Code: problem.Malformed, Message: "the workbook's archive lies about the size of a part, or is cut short; save the workbook again", Cause: err}
	case errors.Is(err, zip.ErrChecksum):
		return &problem.Error{Code: problem.Malformed, Message: "the workbook is damaged: a part does not have its checksum; fetch it again", Cause: err}
	}
	return &problem.Error{Code: problem.Malformed, Message: "the workbook cannot be read: a part of it is no sound XML", Cause: err}
}

// tokens reads a part's XML one token at a time, without entities of its own.
type tokens struct {
	*xml.Decoder
	part *part
}

func (w *Workbook) tokens(ctx context.Context, name string) (*tokens, error) {
	p, err := w.open(ctx, name)
	if err != nil {
		return nil, err
	}
	return &tokens{Decoder: xml.NewDecoder(p), part: p}, nil
}

// errDoctype refuses what could define entities.
var errDoctype = problem.New(problem.Malformed, "the workbook holds a document type declaration, which no spreadsheet writes and which can blow up to any size; it is refused")

func (t *tokens) next() (xml.Token, error) {
	token, err := t.RawToken()
	t.part.leash.slacken()
	if err != nil {
		if errors.Is(err, io.EOF) {
			return nil, io.EOF
		}
		return nil, broken(err)
	}
	if d, ok := token.(xml.Directive); ok && bytes.HasPrefix(bytes.ToUpper(bytes.TrimSpace(d)), []byte("DOCTYPE")) {
		return nil, errDoctype
	}
	return token, nil
}

// elements calls f for every start tag of a small part.
func (w *Workbook) elements(ctx context.Context, name string, f func(xml.StartElement)) error {
	if part := w.parts[strings.ToLower(name)]; part != nil && part.UncompressedSize64 > maxPackageXML {
		return problem.New(problem.TooLarge, "a part of the workbook that lists its sheets or styles has more than %s", bytesText(maxPackageXML))
	}
	t, err := w.tokens(ctx, name)
	if err != nil {
		return err
	}
	defer t.part.Close()
	for {
		token, err := t.next()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		if s, ok := token.(xml.StartElement); ok {
			f(s)
		}
	}
}

// attribute gives an attribute by its name without a prefix, or with one.
func attribute(e xml.StartElement, name string) string {
	for i := range e.Attr {
		if e.Attr[i].Name.Local == name {
			return e.Attr[i].Value
		}
	}
	return ""
}

type relation struct{ kind, target string }

// relations reads what a part refers to, by id. Targets outside the package
// are left out: they are never followed.
func (w *Workbook) relations(ctx context.Context, of string) (map[string]relation, error) {
	name := path.Join(path.Dir(of), "_rels", path.Base(of)+".rels")
	all := map[string]relation{}
	err := w.elements(ctx, name, func(e xml.StartElement) {
		if e.Name.Local != "Relationship" || attribute(e, "TargetMode") == "External" {
			return
		}
		target := attribute(e, "Target")
		if !strings.HasPrefix(target, "/") {
			target = path.Join(path.Dir(of), target)
		}
		all[attribute(e, "Id")] = relation{kind: path.Base(attribute(e, "Type")), target: path.Clean(target)}
	})
	return all, err
}

// readPackage finds the sheets, the shared strings and the styles.
func (w *Workbook) readPackage(ctx context.Context) error {
	book := ""
	top, err := w.relations(ctx, "/")
	if err != nil {
		return err
	}
	for _, r := range top {
		if r.kind == "officeDocument" {
			book = r.target
		}
	}
	if book == "" {
		return problem.New(problem.Unsupported, "the file is an archive of the kind workbooks are, and holds none")
	}
	relations, err := w.relations(ctx, book)
	if err != nil {
		return err
	}
	for _, r := range relations {
		switch r.kind {
		case "sharedStrings":
			w.strings = r.target
		case "styles":
			w.styles = r.target
		}
	}
	err = w.elements(ctx, book, func(e xml.StartElement) {
		if e.Name.Local != "sheet" {
			return
		}
		if r := relations[relationID(e)]; r.kind == "worksheet" {
			state := attribute(e, "state")
			w.sheets = append(w.sheets, sheetEntry{name: attribute(e, "name"), path: r.target, hidden: state != "" && state != "visible"})
		}
	})
	if err == nil && len(w.sheets) == 0 {
		return problem.New(problem.Malformed, "the workbook has no sheet with cells")
	}
	return err
}

// relationID is the id attribute that has a prefix, as r:id.
func relationID(e xml.StartElement) string {
	for _, a := range e.Attr {
		if a.Name.Local == "id" && a.Name.Space != "" {
			return a.Value
		}
	}
	return ""
}

// Sheets lists the names of the sheets, in the workbook's order.
func (w *Workbook) Sheets() []string {
	names := make([]string, len(w.sheets))
	for i, s := range w.sheets {
		names[i] = s.name
	}
	return names
}

// find gives a sheet by its name; the first that is not hidden for "".
func (w *Workbook) find(name string) (sheetEntry, error) {
	for _, s := range w.sheets {
		if s.name == name || name == "" && !s.hidden {
			return s, nil
		}
	}
	if name == "" {
		return w.sheets[0], nil
	}
	return sheetEntry{}, problem.New(problem.Invalid, "the workbook has no sheet %q; it has %s", short(name), quotedList(w.Sheets()))
}

func quotedList(names []string) string {
	if len(names) > 20 {
		names = append(names[:20:20], "…")
	}
	quoted := make([]string, len(names))
	for i, n := range names {
		quoted[i] = fmt.Sprintf("%q", short(n))
	}
	return strings.Join(quoted, ", ")
}
