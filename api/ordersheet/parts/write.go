package parts

import (
	"archive/zip"
	"bytes"

	"coldrise/domain/problem"
)

// Changes says what a copy of a file has instead of the file's own parts.
type Changes struct {
	Parts   map[string][]byte // by the part's name as the file has it
	Removed map[string]bool
}

// Write gives a copy of the file with the changes. Entries keep their order;
// those not named in the changes keep their packed bytes. The same file and
// changes give the same copy.
func (f *File) Write(c Changes) ([]byte, error) {
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, e := range f.entries {
		if c.Removed[e.name] {
			continue
		}
		data, changed := c.Parts[e.name]
		if !changed || bytes.Equal(data, e.data) {
			if err := w.Copy(e.zip); err != nil {
				return nil, problem.Wrap(err, "copying part "+e.name)
			}
			continue
		}
		if err := pack(w, e.zip, data); err != nil {
			return nil, problem.Wrap(err, "packing part "+e.name)
		}
	}
	if err := w.Close(); err != nil {
		return nil, problem.Wrap(err, "closing the copy")
	}
	return b.Bytes(), nil
}

func pack(w *zip.Writer, like *zip.File, data []byte) error {
	h := like.FileHeader
	h.Extra = nil
	part, err := w.CreateHeader(&h)
	if err != nil {
		return err
	}
	_, err = part.Write(data)
	return err
}
