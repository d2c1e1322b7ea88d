// Package parts opens a workbook file as what it is, a zip of parts, and
// writes it again with some parts changed and all others byte for byte as
// they were (ISO/IEC 29500-2, Open Packaging Conventions).
//
// A file is foreign data: it is read within fixed limits, and whatever could
// be read in two ways is refused. Errors are *problem.Error: Malformed where
// the file is broken or not of this kind, TooLarge where it is over a limit.
package parts

import (
	"archive/zip"
	"bytes"
	"errors"
	"io"
	"path"
	"strings"

	"coldrise/domain/problem"
)

// Limits of a file. Unpacked counts what the parts hold, not what the zip says of them.
const (
	MaxPacked   = 16 << 20
	MaxUnpacked = 64 << 20
	MaxParts    = 4096
)

// File is a workbook file, unpacked. It is not changed once opened, and may be
// read from several goroutines.
type File struct {
	entries []entry
	byName  map[string]int // by folded name
	types   contentTypes
}

type entry struct {
	zip  *zip.File
	name string
	data []byte
}

// Open unpacks a file. The data is kept and must not be changed.
func Open(data []byte) (*File, error) {
	if len(data) > MaxPacked {
		return nil, problem.New(problem.TooLarge, "the workbook has %d bytes; the limit is %d", len(data), MaxPacked)
	}
	if err := foreign(data); err != nil {
		return nil, err
	}
	archive, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, malformed(err, "the file is no workbook: it cannot be read as a zip")
	}
	if len(archive.File) > MaxParts {
		return nil, problem.New(problem.TooLarge, "the workbook has %d parts; the limit is %d", len(archive.File), MaxParts)
	}
	if err := declared(archive.File); err != nil {
		return nil, err
	}
	f := &File{byName: map[string]int{}}
	left := int64(MaxUnpacked)
	for _, z := range archive.File {
		e := entry{zip: z, name: z.Name}
		if e.data, err = unpack(z, left); err != nil {
			return nil, err
		}
		left -= int64(len(e.data))
		f.byName[fold(z.Name)] = len(f.entries)
		f.entries = append(f.entries, e)
	}
	if f.types, err = readTypes(f); err != nil {
		return nil, err
	}
	return f, nil
}

// foreign names the kinds of file that are taken for workbooks most often.
func foreign(data []byte) error {
	switch {
	case len(data) == 0:
		return problem.New(problem.Malformed, "the file is empty")
	case bytes.HasPrefix(data, []byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1")):
		return problem.New(problem.Malformed, "the file is encrypted, or of the form before 2007 (.xls); save it as .xlsx or .xlsm without a password to open it")
	case !bytes.HasPrefix(data, []byte("PK")):
		return problem.New(problem.Malformed, "the file is no workbook: .xlsx and .xlsm are taken")
	}
	return nil
}

// declared refuses by what the zip says of its entries, before any is unpacked.
func declared(files []*zip.File) error {
	var total uint64
	seen := map[string]bool{}
	for _, z := range files {
		name := fold(z.Name)
		switch {
		case seen[name]:
			return problem.New(problem.Malformed, "the workbook holds part %.80q twice", z.Name)
		case z.Flags&1 != 0:
			return problem.New(problem.Malformed, "part %.80q is encrypted", z.Name)
		case z.Method != zip.Store && z.Method != zip.Deflate:
			return problem.New(problem.Malformed, "part %.80q is packed by method %d; only stored and deflated parts are taken", z.Name, z.Method)
		case strings.ContainsAny(z.Name, "\\\x00") || strings.HasPrefix(z.Name, "/") || path.Clean(z.Name) != strings.TrimSuffix(z.Name, "/") || strings.HasPrefix(z.Name, ".."):
			return problem.New(problem.Malformed, "part %.80q has a name that no part may have", z.Name)
		}
		seen[name] = true
		total += min(z.UncompressedSize64, MaxUnpacked+1) // cannot overflow over MaxParts of them
	}
	if total > MaxUnpacked {
		return tooLarge()
	}
	return nil
}

func tooLarge() error {
	return problem.New(problem.TooLarge, "the workbook unpacks to more than %d bytes", MaxUnpacked)
}

// unpack reads one entry, whatever its header says, and not past the limit.
func unpack(z *zip.File, limit int64) ([]byte, error) {
	if strings.HasSuffix(z.Name, "/") {
		return nil, nil
	}
	r, err := z.Open()
	if err != nil {
		return nil, malformed(err, "part %.80q cannot be unpacked", z.Name)
	}
	var b bytes.Buffer
	b.Grow(int(min(z.UncompressedSize64, uint64(limit)) + bytes.MinRead))
	n, err := io.Copy(&b, io.LimitReader(r, limit+1))
	closed := r.Close()
	switch {
	case n > limit:
		return nil, tooLarge()
	case err != nil || closed != nil:
		return nil, malformed(errors.Join(err, closed), "part %.80q cannot be unpacked: its length or check sum is not what the zip says", z.Name)
	case isXML(z.Name) && declaresTypes(b.Bytes()):
		return nil, problem.New(problem.Malformed, "part %.80q has a document type declaration, which no part of a workbook may have", z.Name)
	}
	return b.Bytes(), nil
}

func isXML(name string) bool {
	switch path.Ext(fold(name)) {
	case ".xml", ".rels", ".vml":
		return true
	}
	return false
}

// declaresTypes finds entity and type declarations, which Open Packaging
// Conventions forbid (ISO/IEC 29500-2, 8.2.5.2) and which bombs are made of.
func declaresTypes(data []byte) bool {
	return bytes.Contains(data, []byte("<!DOCTYPE")) || bytes.Contains(data, []byte("<!ENTITY"))
}

// Names gives the parts' names in the order of the file.
func (f *File) Names() []string {
	var names []string
	for _, e := range f.entries {
		if !strings.HasSuffix(e.name, "/") {
			names = append(names, e.name)
		}
	}
	return names
}

// Part gives what a part holds, and whether there is one of that name. Names
// are equal whatever their case. The bytes must not be changed.
func (f *File) Part(name string) ([]byte, bool) {
	i, ok := f.byName[fold(name)]
	if !ok {
		return nil, false
	}
	return f.entries[i].data, true
}

func fold(name string) string { return strings.ToLower(name) }

// malformed keeps the library's error for the log and says the rest in our words.
func malformed(cause error, format string, args ...any) error {
	p := problem.New(problem.Malformed, format, args...)
	p.Cause = cause
	return p
}
