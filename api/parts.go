package api

import (
	"context"
	"math"
	"net/http"
	"net/url"
	"reflect"
	"strconv"

	"coldrise/domain/part"
	"coldrise/domain/problem"
	"coldrise/repo"
)

// Row is what the store keeps beside a document.
type Row struct {
	ID        string `json:"id"`
	Version   int64  `json:"version" minimum:"1" doc:"1 at creation, one more with every change; the ETag is made of it"`
	CreatedAt string `json:"created_at" format:"date-time"`
	ChangedAt string `json:"changed_at" format:"date-time"`
}

func rowOf(m repo.Meta) Row {
	return Row{ID: m.ID, Version: m.Version, CreatedAt: timeText(m.Created), ChangedAt: timeText(m.Changed)}
}

// StoredPart is a part and its row. The part is the document that a PUT takes.
type StoredPart struct {
	Row
	Part part.Part `json:"part"`
}

// PartList is one page of parts.
type PartList struct {
	Items []StoredPart `json:"items"`
}

// readIn names one row to read.
type readIn struct {
	ID          string `path:"id" doc:"Id of the row"`
	IfNoneMatch string `header:"If-None-Match" doc:"ETag of the representation at hand"`
}

// changeIn names one row and the version to change.
type changeIn struct {
	ID      string `path:"id" doc:"Id of the row"`
	IfMatch string `header:"If-Match" doc:"ETag of the reading that the change is based on, or * for any"`
}

// createIn carries a document to store.
type createIn struct {
	Document body
}

// replaceIn carries a document to put in place of a version.
type replaceIn struct {
	ID       string `path:"id" doc:"Id of the row"`
	IfMatch  string `header:"If-Match" doc:"ETag of the reading that the change is based on, or * for any"`
	Document body
}

// Paging asks for a page of a list. It is exported for huma, which passes over
// embedded structs that are not.
type Paging struct {
	Limit  int    `query:"limit" minimum:"1" maximum:"200" default:"50" doc:"Longest page wanted"`
	Cursor string `query:"cursor" maxLength:"2048" doc:"From the Link of the page before; not to be made up"`
}

func (p Paging) page() repo.Page { return repo.Page{Limit: p.Limit, After: p.Cursor} }

// ofQuery points the store's faults of a page at the parameters they came from.
func ofQuery(err error) error {
	e := problem.As(err)
	if e.Code != problem.Invalid {
		return err
	}
	moved := *e
	moved.Message, moved.Faults = "the request is wrong", nil
	for _, f := range e.Faults {
		f.Pointer = "query" + f.Pointer
		moved.Faults = append(moved.Faults, f)
	}
	return &moved
}

func (p Paging) query() url.Values { return url.Values{"limit": {strconv.Itoa(p.Limit)}} }

// partsIn narrows and pages the list of parts.
type partsIn struct {
	Paging
	Maker      string          `query:"maker" maxLength:"80"`
	Series     string          `query:"series" maxLength:"60"`
	Technology part.Technology `query:"technology" enum:"electrolytic,film,safety_x,safety_y"`
	Style      part.Style      `query:"style" enum:"axial,radial,snap_in,can,box,disc"`
	MinUF      float64         `query:"min_uf" minimum:"0" maximum:"100000" doc:"Least capacitance, µF"`
	MaxUF      float64         `query:"max_uf" minimum:"0" maximum:"100000" doc:"Largest capacitance, µF"`
	MinRatedV  float64         `query:"min_rated_v" minimum:"0" maximum:"10000" doc:"Least rated voltage, V"`
	InStock    bool            `query:"in_stock" doc:"Only parts of which a supplier has stock"`
}

// filter gives the store's filter. NaN passes any comparison with a limit, so
// it is looked for here.
func (in *partsIn) filter() (repo.PartFilter, error) {
	var faults problem.List
	for _, q := range []struct {
		name string
		v    float64
	}{{"min_uf", in.MinUF}, {"max_uf", in.MaxUF}, {"min_rated_v", in.MinRatedV}} {
		if math.IsNaN(q.v) {
			faults.Addf("query/"+q.name, "is a finite number")
		}
	}
	if in.MaxUF > 0 && in.MinUF > in.MaxUF {
		faults.Add(problem.Fault{Pointer: "query/min_uf", Message: "is above max_uf", Value: number(in.MinUF), Limit: number(in.MaxUF), Unit: "µF"})
	}
	return repo.PartFilter{
		Maker: in.Maker, Series: in.Series, Technology: in.Technology, Style: in.Style,
		MinUF: in.MinUF, MaxUF: in.MaxUF, MinRatedV: in.MinRatedV, InStock: in.InStock,
	}, faults.Err("request")
}

// query gives the filter back as the parameters it came from.
func (in *partsIn) query() url.Values {
	q := in.Paging.query()
	for _, p := range []struct{ name, value string }{
		{"maker", in.Maker}, {"series", in.Series}, {"technology", string(in.Technology)}, {"style", string(in.Style)},
		{"min_uf", number(in.MinUF)}, {"max_uf", number(in.MaxUF)}, {"min_rated_v", number(in.MinRatedV)},
	} {
		if p.value != "" && p.value != "0" {
			q.Set(p.name, p.value)
		}
	}
	if in.InStock {
		q.Set("in_stock", "true")
	}
	return q
}

func number(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

const (
	partsPath = "/v1/parts"
	onePart   = partsPath + "/{id}"
)

func (s *service) registerParts() {
	stored, taken := reflect.TypeFor[StoredPart](), reflect.TypeFor[part.Part]()
	register(s, operation{id: "create-part", method: http.MethodPost, path: partsPath, tag: "parts", status: http.StatusCreated,
		summary: "Add a part", text: "Its series must be there. Maker and part number are unique in the shop.",
		takes: taken, gives: stored, headers: []string{"ETag", "Location"},
		errors: []int{http.StatusConflict, http.StatusServiceUnavailable}}, s.createPart)
	register(s, operation{id: "list-parts", method: http.MethodGet, path: partsPath, tag: "parts",
		summary: "List parts", text: "By maker, then part number. The Link field leads to the next page until the end.",
		gives: reflect.TypeFor[PartList](), headers: []string{"Link"},
		errors: []int{http.StatusServiceUnavailable}}, s.listParts)
	register(s, operation{id: "get-part", method: http.MethodGet, path: onePart, tag: "parts",
		summary: "Read a part", gives: stored, headers: []string{"ETag"}, conditional: true,
		errors: []int{http.StatusNotFound, http.StatusServiceUnavailable}}, s.getPart)
	register(s, operation{id: "replace-part", method: http.MethodPut, path: onePart, tag: "parts",
		summary: "Replace a part", text: "A document equal to the stored one changes nothing, not even the version.",
		takes: taken, gives: stored, headers: []string{"ETag"},
		errors: append([]int{http.StatusConflict}, changeErrors...)}, s.replacePart)
	register(s, operation{id: "delete-part", method: http.MethodDelete, path: onePart, tag: "parts",
		summary: "Delete a part", status: http.StatusNoContent, errors: changeErrors}, s.deletePart)
}

// changeErrors are the failures of a change to a named version.
var changeErrors = []int{http.StatusNotFound, http.StatusPreconditionFailed, http.StatusPreconditionRequired, http.StatusServiceUnavailable}

func (s *service) createPart(ctx context.Context, in *createIn) (*reply, error) {
	p, err := s.readPart(ctx, in.Document.raw)
	if err != nil {
		return nil, err
	}
	row, err := s.store.CreatePart(ctx, s.shop, s.newID(), p, s.stamp())
	if err != nil {
		return nil, err
	}
	out, err := answer(http.StatusCreated, StoredPart{rowOf(row.Meta), row.Part})
	return created(out, err, partsPath+"/"+row.ID, row.Version)
}

// created adds what the answer to a creation carries.
func created(out *reply, err error, location string, version int64) (*reply, error) {
	if err != nil {
		return nil, err
	}
	out.Location, out.ETag = location, etagOf(version)
	return out, nil
}

// readPart parses a part and holds it against its series, where that is there.
func (s *service) readPart(ctx context.Context, raw []byte) (part.Part, error) {
	p, err := part.ParsePart(raw)
	if err != nil {
		return part.Part{}, err
	}
	series, err := s.store.Series(ctx, s.shop)
	if err != nil {
		return part.Part{}, err
	}
	var faults problem.List
	for i := range series {
		if series[i].Name == p.Series {
			p.Check(&faults, &series[i])
		}
	}
	return p, faults.Err("part")
}

func (s *service) listParts(ctx context.Context, in *partsIn) (*reply, error) {
	filter, err := in.filter()
	if err != nil {
		return nil, err
	}
	rows, next, err := s.store.Parts(ctx, s.shop, filter, in.page())
	if err != nil {
		return nil, ofQuery(err)
	}
	list := PartList{Items: []StoredPart{}}
	for _, row := range rows {
		list.Items = append(list.Items, StoredPart{rowOf(row.Meta), row.Part})
	}
	return listed(list, nextLink(partsPath, in.query(), next))
}

func listed(list any, link string) (*reply, error) {
	out, err := answer(http.StatusOK, list)
	if err != nil {
		return nil, err
	}
	out.Link = link
	return out, nil
}

func (s *service) getPart(ctx context.Context, in *readIn) (*reply, error) {
	row, err := s.store.Part(ctx, s.shop, in.ID)
	if err != nil {
		return nil, err
	}
	return oneRow(StoredPart{rowOf(row.Meta), row.Part}, row.Version, in.IfNoneMatch)
}

// oneRow answers with a row and its ETag, or that the client has it.
func oneRow(v any, version int64, ifNoneMatch string) (*reply, error) {
	etag := etagOf(version)
	if unchanged(ifNoneMatch, etag) {
		return notModified(etag), nil
	}
	out, err := answer(http.StatusOK, v)
	if err != nil {
		return nil, err
	}
	out.ETag = etag
	return out, nil
}

func (s *service) replacePart(ctx context.Context, in *replaceIn) (*reply, error) {
	p, err := s.readPart(ctx, in.Document.raw)
	if err != nil {
		return nil, err
	}
	var row repo.Part
	err = exchange(in.IfMatch, func() (int64, error) {
		row, err = s.store.Part(ctx, s.shop, in.ID)
		return row.Version, err
	}, func(version int64) error {
		if same(row.Part, p) {
			return nil
		}
		row, err = s.store.ReplacePart(ctx, s.shop, in.ID, version, p, s.stamp())
		return err
	})
	if err != nil {
		return nil, err
	}
	return oneRow(StoredPart{rowOf(row.Meta), row.Part}, row.Version, "")
}

func (s *service) deletePart(ctx context.Context, in *changeIn) (*reply, error) {
	err := exchange(in.IfMatch, func() (int64, error) {
		row, err := s.store.Part(ctx, s.shop, in.ID)
		return row.Version, err
	}, func(version int64) error {
		return s.store.DeletePart(ctx, s.shop, in.ID, version, s.stamp())
	})
	if err != nil {
		return nil, err
	}
	return &reply{Status: http.StatusNoContent}, nil
}

// same says whether two documents are the same on the wire.
func same(a, b any) bool {
	left, err := encode(a)
	if err != nil {
		return false
	}
	right, err := encode(b)
	return err == nil && string(left) == string(right)
}
