package parts

import (
	"path"
	"strings"

	"coldrise/domain/problem"
)

// Namespaces of Open Packaging Conventions.
const (
	relationsSpace = "http://schemas.openxmlformats.org/package/2006/relationships"
	typesSpace     = "http://schemas.openxmlformats.org/package/2006/content-types"
	typesPart      = "[Content_Types].xml"
)

// Relation is one relationship of a part.
type Relation struct {
	ID, Type string
	Target   string // the part's name as the file spells it; as written where External
	External bool
	element  *Element
}

// Kind is the last step of the relationship's type: "worksheet", "table".
func (r Relation) Kind() string { return path.Base(r.Type) }

// relationsPart names the part that holds a part's relationships.
func relationsPart(of string) string {
	dir, base := path.Split(of)
	return dir + "_rels/" + base + ".rels"
}

// Relations gives the relationships of a part, "" being the file itself; none
// where it has none.
func (f *File) Relations(of string) ([]Relation, error) {
	name := relationsPart(of)
	data, ok := f.Part(name)
	if !ok {
		return nil, nil
	}
	root, err := ReadTree(name, data)
	if err != nil {
		return nil, err
	}
	var list []Relation
	for _, k := range root.Kids {
		if !k.Is(relationsSpace, "Relationship") {
			continue
		}
		r := Relation{element: k}
		r.ID, _ = k.Attr("Id")
		r.Type, _ = k.Attr("Type")
		r.Target, _ = k.Attr("Target")
		mode, _ := k.Attr("TargetMode")
		if r.External = mode == "External"; !r.External {
			r.Target = f.actual(resolve(of, r.Target))
		}
		list = append(list, r)
	}
	return list, nil
}

// resolve makes a part's name of a relationship's target.
func resolve(of, target string) string {
	target, _, _ = strings.Cut(target, "#")
	if !strings.HasPrefix(target, "/") {
		target = path.Join("/", path.Dir(of), target)
	}
	return strings.TrimPrefix(path.Clean(target), "/")
}

// WithoutRelation gives a part's relationships without those of a kind, and
// the name of the part that holds them.
func (f *File) WithoutRelation(of, kind string) (name string, data []byte, err error) {
	name = f.actual(relationsPart(of))
	list, err := f.Relations(of)
	if err != nil {
		return "", nil, err
	}
	data, _ = f.Part(name)
	var s Splices
	for _, r := range list {
		if r.Kind() == kind {
			s.Replace(r.element.All, "")
		}
	}
	if data, err = s.Apply(data); err != nil {
		return "", nil, problem.Wrap(err, "taking out a relationship")
	}
	return name, data, nil
}

// actual gives a part's name as the file spells it.
func (f *File) actual(name string) string {
	if i, ok := f.byName[fold(name)]; ok {
		return f.entries[i].name
	}
	return name
}

// contentTypes says what each part is.
type contentTypes struct {
	byName, byExtension map[string]string
	root                *Element
}

func readTypes(f *File) (contentTypes, error) {
	t := contentTypes{byName: map[string]string{}, byExtension: map[string]string{}}
	data, ok := f.Part(typesPart)
	if !ok {
		return t, problem.New(problem.Malformed, "the file is a zip and no workbook: it lists no content types")
	}
	root, err := ReadTree(typesPart, data)
	if err != nil {
		return t, err
	}
	t.root = root
	for _, k := range root.Kids {
		kind, _ := k.Attr("ContentType")
		if name, ok := k.Attr("PartName"); ok && k.Is(typesSpace, "Override") {
			t.byName[fold(strings.TrimPrefix(name, "/"))] = kind
		}
		if ext, ok := k.Attr("Extension"); ok && k.Is(typesSpace, "Default") {
			t.byExtension[fold(ext)] = kind
		}
	}
	return t, nil
}

// ContentType gives what the file says a part is; "" where it says nothing.
func (f *File) ContentType(name string) string {
	if t, ok := f.types.byName[fold(name)]; ok {
		return t
	}
	return f.types.byExtension[fold(strings.TrimPrefix(path.Ext(name), "."))]
}

// WithoutType gives the list of content types without a part, and the list's name.
func (f *File) WithoutType(part string) (name string, data []byte, err error) {
	name = f.actual(typesPart)
	data, _ = f.Part(name)
	var s Splices
	for _, k := range f.types.root.Kids {
		if n, _ := k.Attr("PartName"); fold(strings.TrimPrefix(n, "/")) == fold(part) && n != "" {
			s.Replace(k.All, "")
		}
	}
	if data, err = s.Apply(data); err != nil {
		return "", nil, problem.Wrap(err, "taking out a content type")
	}
	return name, data, nil
}
