package visits

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"strings"
	"time"

	"needlepace/shop"
)

// Manifest is the first file of a visit that is one file: what is in it, by digests. It
// is JSON; later versions add keys and never change one.
type Manifest struct {
	Form  int              `json:"needlepace_visit"` // 1; a newer one is refused
	Visit Head             `json:"visit"`
	Files []shop.VisitFile `json:"files"`
}

// Head is what a manifest says of its visit.
type Head struct {
	ID     string    `json:"id"`
	Name   string    `json:"name"`
	Client string    `json:"client"`
	Note   string    `json:"note"`
	Made   time.Time `json:"made"`
}

const (
	form         = 1
	manifestName = "MANIFEST.json"
	mostManifest = 4 << 20
)

// Export writes a visit as one file: a zip with its files and a manifest of their
// digests. The same visit gives the same bytes.
func (s *Visits) Export(ctx context.Context, id string, w io.Writer) error {
	v, err := s.store.Visit(ctx, id)
	if err != nil {
		return err
	}
	files, err := s.store.VisitFiles(ctx, id)
	if err != nil {
		return err
	}
	z := zip.NewWriter(w)
	put := func(name string, at time.Time, b []byte) error {
		f, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: at.UTC()})
		if err != nil {
			return err
		}
		_, err = f.Write(b)
		return err
	}
	m, err := json.MarshalIndent(Manifest{form, Head{v.ID, v.Name, v.Client, v.Note, v.Made}, sorted(files)}, "", "  ")
	if err != nil {
		return err
	}
	if err := put(manifestName, v.Made, m); err != nil {
		return err
	}
	for _, f := range files {
		b, err := s.content(ctx, id, f)
		if err != nil {
			return err
		}
		if err := put(f.Name, f.Added, b); err != nil {
			return err
		}
	}
	return z.Close()
}

// Open reads a visit that is one file, and checks that all is there as its manifest has
// it, and nothing more. Each refusal says what is wrong.
func Open(r io.ReaderAt, size int64) (*Manifest, []shop.VisitPut, error) {
	const again = "ask for it again"
	z, err := zip.NewReader(r, size)
	if err != nil {
		return nil, nil, shop.Invalidf("this is no visit: it cannot be opened as a zip, or was cut off on its way; %s", again)
	}
	if len(z.File) == 0 || z.File[0].Name != manifestName {
		return nil, nil, shop.Invalidf("this zip is no visit: it does not begin with %s; give the file that a visit was taken as", manifestName)
	}
	b, err := unzip(z.File[0], mostManifest)
	if err != nil {
		return nil, nil, shop.Invalidf("the visit's %s cannot be read: %v; %s", manifestName, err, again)
	}
	var m Manifest
	if err := json.Unmarshal(b, &m); err != nil || m.Form < 1 {
		return nil, nil, shop.Invalidf("the visit's %s is not one of ours", manifestName)
	}
	if m.Form > form {
		return nil, nil, shop.Invalidf("the visit is of form %d and this program reads form %d: take a newer program", m.Form, form)
	}
	if m.Visit.ID == "" || len(m.Visit.ID) > 40 || strings.Trim(m.Visit.ID, "abcdefghijklmnopqrstuvwxyz0123456789-") != "" {
		return nil, nil, shop.Invalidf("the visit's %s has no number of the visit", manifestName)
	}
	in := map[string]*zip.File{}
	for _, f := range z.File[1:] {
		if in[f.Name] != nil {
			return nil, nil, shop.Invalidf("the visit has %q twice; %s", f.Name, again)
		}
		in[f.Name] = f
	}
	var put []shop.VisitPut
	all := map[string]int64{}
	for _, f := range m.Files {
		if _, twice := all[f.Name]; twice || f.Bytes < 0 {
			return nil, nil, shop.Invalidf("the visit's %s lists %q twice, or with no size", manifestName, f.Name)
		}
		all[f.Name] = f.Bytes
		put = append(put, shop.VisitPut{VisitFile: f})
	}
	if err := room(put, all); err != nil {
		return nil, nil, err
	}
	for i := range put {
		f := &put[i]
		zf := in[f.Name]
		if zf == nil {
			return nil, nil, shop.Invalidf("%s is missing in the visit; %s", f.Name, again)
		}
		delete(in, f.Name)
		if f.Content, err = unzip(zf, f.Bytes); err != nil || int64(len(f.Content)) != f.Bytes || shop.Digest(f.Content) != f.Digest {
			return nil, nil, shop.Invalidf("%s in the visit is not what was put in: it was changed or damaged on its way; %s", f.Name, again)
		}
	}
	for name := range in {
		return nil, nil, shop.Invalidf("%q is in the visit's file and not in its %s: somebody put it there; %s", name, manifestName, again)
	}
	return &m, put, nil
}

var errLarge = errors.New("it is larger than it says")

func unzip(f *zip.File, most int64) ([]byte, error) {
	r, err := f.Open()
	if err != nil {
		return nil, err
	}
	defer r.Close() //nolint:errcheck // read
	b, err := io.ReadAll(io.LimitReader(r, most+1))
	if err == nil && int64(len(b)) > most {
		return nil, errLarge
	}
	return b, err
}

// Import takes in a visit that is one file. One that is here already is refused.
func (s *Visits) Import(ctx context.Context, b []byte) (*shop.Visit, error) {
	m, files, err := Open(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		return nil, err
	}
	switch was, err := s.store.Visit(ctx, m.Visit.ID); {
	case err == nil && was.Removed:
		return nil, shop.Errorf(shop.Conflict, "this visit, %s, is here and put away: put it back, or erase it first", was.Name)
	case err == nil:
		return nil, shop.Errorf(shop.Conflict, "this visit is here already, as %s: put that away and erase it first, if this is the one to keep", was.Name)
	case shop.CodeOf(err) != shop.NotFound:
		return nil, err
	}
	v := &shop.Visit{ID: m.Visit.ID, Name: m.Visit.Name, Client: m.Visit.Client, Note: m.Visit.Note, Version: 1,
		Made: m.Visit.Made, Changed: s.now().UTC()}
	if err := check(v); err != nil {
		return nil, err
	}
	return v, s.store.SaveVisit(ctx, v, files)
}
