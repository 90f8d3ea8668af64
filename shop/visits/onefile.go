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
	"needlepace/words"
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
	z, err := zip.NewReader(r, size)
	if err != nil {
		return nil, nil, shop.Saying(shop.Invalid, words.Say("refused.visit-zip"))
	}
	if len(z.File) == 0 || z.File[0].Name != manifestName {
		return nil, nil, shop.Saying(shop.Invalid, words.Say("refused.visit-other-zip", words.Args{"list": words.Name(manifestName)}))
	}
	b, err := unzip(z.File[0], mostManifest)
	if err != nil {
		return nil, nil, shop.Saying(shop.Invalid, words.Say("refused.visit-list", words.Args{"list": words.Name(manifestName), "why": words.Name(err.Error())}))
	}
	var m Manifest
	if err := json.Unmarshal(b, &m); err != nil || m.Form < 1 {
		return nil, nil, shop.Saying(shop.Invalid, words.Say("refused.visit-list-foreign", words.Args{"list": words.Name(manifestName)}))
	}
	if m.Form > form {
		return nil, nil, shop.Saying(shop.Invalid, words.Say("refused.visit-form", words.Args{"is": words.Whole(m.Form), "reads": words.Whole(form)}))
	}
	if m.Visit.ID == "" || len(m.Visit.ID) > 40 || strings.Trim(m.Visit.ID, "abcdefghijklmnopqrstuvwxyz0123456789-") != "" {
		return nil, nil, shop.Saying(shop.Invalid, words.Say("refused.visit-no-number", words.Args{"list": words.Name(manifestName)}))
	}
	in := map[string]*zip.File{}
	for _, f := range z.File[1:] {
		if in[f.Name] != nil {
			return nil, nil, shop.Saying(shop.Invalid, words.Say("refused.visit-twice", words.Args{"file": words.Name(f.Name)}))
		}
		in[f.Name] = f
	}
	var put []shop.VisitPut
	all := map[string]int64{}
	for _, f := range m.Files {
		if _, twice := all[f.Name]; twice || f.Bytes < 0 {
			return nil, nil, shop.Saying(shop.Invalid, words.Say("refused.visit-list-twice", words.Args{"list": words.Name(manifestName), "file": words.Name(f.Name)}))
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
			return nil, nil, shop.Saying(shop.Invalid, words.Say("refused.visit-lacks", words.Args{"file": words.Name(f.Name)}))
		}
		delete(in, f.Name)
		if f.Content, err = unzip(zf, f.Bytes); err != nil || int64(len(f.Content)) != f.Bytes || shop.Digest(f.Content) != f.Digest {
			return nil, nil, shop.Saying(shop.Invalid, words.Say("refused.visit-changed-file", words.Args{"file": words.Name(f.Name)}))
		}
	}
	for name := range in {
		return nil, nil, shop.Saying(shop.Invalid, words.Say("refused.visit-more", words.Args{"file": words.Name(name), "list": words.Name(manifestName)}))
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
		return nil, shop.Saying(shop.Conflict, words.Say("refused.visit-here-away", words.Args{"name": words.Name(was.Name)}))
	case err == nil:
		return nil, shop.Saying(shop.Conflict, words.Say("refused.visit-here", words.Args{"name": words.Name(was.Name)}))
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
