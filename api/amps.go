package api

import (
	"context"
	"net/http"
	"reflect"

	"coldrise/domain/amp"
	"coldrise/repo"
)

// StoredAmp is an amplifier and its row. The amplifier is the document that a
// PUT takes, and the same as an amplifier file.
type StoredAmp struct {
	Row
	Amplifier amp.Amplifier `json:"amplifier"`
}

// ListedAmp is an amplifier in a list: its row and its name.
type ListedAmp struct {
	Row
	Name string `json:"name"`
}

// AmpList is one page of amplifiers.
type AmpList struct {
	Items []ListedAmp `json:"items"`
}

const (
	ampsPath = "/v1/amps"
	oneAmp   = ampsPath + "/{id}"
)

func (s *service) registerAmps() {
	stored, taken := reflect.TypeFor[StoredAmp](), reflect.TypeFor[amp.Amplifier]()
	register(s, operation{id: "create-amp", method: http.MethodPost, path: ampsPath, tag: "amps", status: http.StatusCreated,
		summary: "Add an amplifier", takes: taken, gives: stored, headers: []string{"ETag", "Location"},
		errors: []int{http.StatusServiceUnavailable}}, s.createAmp)
	register(s, operation{id: "list-amps", method: http.MethodGet, path: ampsPath, tag: "amps",
		summary: "List amplifiers", text: "By time of creation, without their descriptions. The Link field leads to the next page until the end.",
		gives: reflect.TypeFor[AmpList](), headers: []string{"Link"},
		errors: []int{http.StatusServiceUnavailable}}, s.listAmps)
	register(s, operation{id: "get-amp", method: http.MethodGet, path: oneAmp, tag: "amps",
		summary: "Read an amplifier", gives: stored, headers: []string{"ETag"}, conditional: true,
		errors: []int{http.StatusNotFound, http.StatusServiceUnavailable}}, s.getAmp)
	register(s, operation{id: "replace-amp", method: http.MethodPut, path: oneAmp, tag: "amps",
		summary: "Replace an amplifier", text: "A document equal to the stored one changes nothing, not even the version. Plans made before stay as they are.",
		takes: taken, gives: stored, headers: []string{"ETag"}, errors: changeErrors}, s.replaceAmp)
	register(s, operation{id: "delete-amp", method: http.MethodDelete, path: oneAmp, tag: "amps",
		summary: "Delete an amplifier", text: "Plans made for it stay.",
		status: http.StatusNoContent, errors: changeErrors}, s.deleteAmp)
}

func (s *service) createAmp(ctx context.Context, in *createIn) (*reply, error) {
	a, err := amp.ParseOn(in.Document.raw, s.now())
	if err != nil {
		return nil, err
	}
	row, err := s.store.CreateAmp(ctx, s.shop, s.newID(), *a, s.stamp())
	if err != nil {
		return nil, err
	}
	out, err := answer(http.StatusCreated, StoredAmp{rowOf(row.Meta), row.Amplifier})
	return created(out, err, ampsPath+"/"+row.ID, row.Version)
}

func (s *service) listAmps(ctx context.Context, in *Paging) (*reply, error) {
	rows, next, err := s.store.Amps(ctx, s.shop, in.page())
	if err != nil {
		return nil, ofQuery(err)
	}
	list := AmpList{Items: []ListedAmp{}}
	for _, row := range rows {
		list.Items = append(list.Items, ListedAmp{rowOf(row.Meta), row.Name})
	}
	return listed(list, nextLink(ampsPath, in.query(), next))
}

func (s *service) getAmp(ctx context.Context, in *readIn) (*reply, error) {
	row, err := s.store.Amp(ctx, s.shop, in.ID)
	if err != nil {
		return nil, err
	}
	return oneRow(StoredAmp{rowOf(row.Meta), row.Amplifier}, row.Version, in.IfNoneMatch)
}

func (s *service) replaceAmp(ctx context.Context, in *replaceIn) (*reply, error) {
	a, err := amp.ParseOn(in.Document.raw, s.now())
	if err != nil {
		return nil, err
	}
	var row repo.Amp
	err = exchange(in.IfMatch, func() (int64, error) {
		row, err = s.store.Amp(ctx, s.shop, in.ID)
		return row.Version, err
	}, func(version int64) error {
		if same(row.Amplifier, *a) {
			return nil
		}
		row, err = s.store.ReplaceAmp(ctx, s.shop, in.ID, version, *a, s.stamp())
		return err
	})
	if err != nil {
		return nil, err
	}
	return oneRow(StoredAmp{rowOf(row.Meta), row.Amplifier}, row.Version, "")
}

func (s *service) deleteAmp(ctx context.Context, in *changeIn) (*reply, error) {
	err := exchange(in.IfMatch, func() (int64, error) {
		row, err := s.store.Amp(ctx, s.shop, in.ID)
		return row.Version, err
	}, func(version int64) error {
		return s.store.DeleteAmp(ctx, s.shop, in.ID, version)
	})
	if err != nil {
		return nil, err
	}
	return &reply{Status: http.StatusNoContent}, nil
}
