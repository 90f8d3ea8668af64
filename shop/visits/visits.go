package visits

import (
	"cmp"
	"context"
	"fmt"
	"path"
	"slices"
	"strings"
	"time"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"needlepace/shop"
	"needlepace/trial"
	"needlepace/words"
)

// Folders are the folders of a visit, in the order in which they are shown.
var Folders = []string{"trials", "calls", "machines", "designs", "timings", "recordings", "photographs", "compares", "notes", "papers"}

// Limits of a visit.
const (
	MostBytes = 64 << 20  // of a file
	MostAll   = 512 << 20 // of all files that it has
	MostFiles = 2000
	mostKept  = 1000 // visits
)

// Visits keeps visits.
type Visits struct {
	store shop.VisitStore
	now   func() time.Time
}

// New keeps them in a store.
func New(store shop.VisitStore, now func() time.Time) *Visits { return &Visits{store, now} }

// List lists the visits by name: those put away where removed is true.
func (s *Visits) List(ctx context.Context, removed bool) ([]*shop.Visit, error) {
	return s.store.Visits(ctx, removed)
}

// Get finds a visit by its ID, also one that is put away.
func (s *Visits) Get(ctx context.Context, id string) (*shop.Visit, error) {
	return s.store.Visit(ctx, id)
}

// Find finds one by its ID or name, also one that is put away. A name that nothing has
// is NotFound, one that several have Invalid.
func (s *Visits) Find(ctx context.Context, ref string) (*shop.Visit, error) {
	v, err := s.store.Visit(ctx, ref)
	if shop.CodeOf(err) != shop.NotFound {
		return v, err
	}
	for _, removed := range []bool{false, true} {
		all, err := s.store.Visits(ctx, removed)
		if err != nil {
			return nil, err
		}
		all = slices.DeleteFunc(all, func(v *shop.Visit) bool { return !strings.EqualFold(v.Name, ref) })
		switch {
		case len(all) == 1:
			return all[0], nil
		case len(all) > 1:
			return nil, shop.Saying(shop.Invalid, words.Say("refused.visits-called", words.Args{"n": words.Whole(len(all)), "name": words.Name(ref), "id": words.Name(all[0].ID)}))
		}
	}
	return nil, shop.Saying(shop.NotFound, words.Say("refused.no-visit", words.Args{"name": words.Name(ref)}))
}

func check(v *shop.Visit) error {
	v.Name, v.Client, v.Note = strings.TrimSpace(v.Name), strings.TrimSpace(v.Client), strings.TrimSpace(v.Note)
	if err := shop.CheckText("name", v.Name, 200, true); err != nil {
		return shop.At("name", err)
	}
	if err := shop.CheckText("client", v.Client, 200, false); err != nil {
		return shop.At("client", err)
	}
	return shop.At("note", shop.CheckText("note", v.Note, 10_000, false))
}

// Begin makes a visit.
func (s *Visits) Begin(ctx context.Context, name, client, note string) (*shop.Visit, error) {
	now := s.now().UTC()
	v := &shop.Visit{ID: shop.NewID(), Name: name, Client: client, Note: note, Version: 1, Made: now, Changed: now}
	if err := check(v); err != nil {
		return nil, err
	}
	for _, removed := range []bool{false, true} {
		if all, err := s.store.Visits(ctx, removed); err != nil {
			return nil, err
		} else if len(all) >= mostKept {
			return nil, shop.Saying(shop.Invalid, words.Say("refused.many-visits", words.Args{"n": words.Whole(len(all))}))
		}
	}
	return v, s.store.SaveVisit(ctx, v, nil)
}

// Describe changes a visit's name, client and note; base is the version it was made from.
func (s *Visits) Describe(ctx context.Context, id string, base int, name, client, note string) (*shop.Visit, error) {
	return s.change(ctx, id, base, func(v *shop.Visit) { v.Name, v.Client, v.Note = name, client, note })
}

// PutAway takes a visit off the list, or puts it back.
func (s *Visits) PutAway(ctx context.Context, id string, away bool) error {
	_, err := s.change(ctx, id, 0, func(v *shop.Visit) { v.Removed = away })
	return err
}

func (s *Visits) change(ctx context.Context, id string, base int, do func(*shop.Visit)) (*shop.Visit, error) {
	v, err := s.store.Visit(ctx, id)
	if err != nil {
		return nil, err
	}
	if base != 0 && base != v.Version {
		return nil, shop.Saying(shop.Conflict, words.Say("refused.visit-changed"))
	}
	do(v)
	if err := check(v); err != nil {
		return nil, err
	}
	v.Version++
	v.Changed = s.now().UTC()
	return v, s.store.SaveVisit(ctx, v, nil)
}

// Erase takes a visit that is put away out for good, with all that is in it. Backups
// made before still have it.
func (s *Visits) Erase(ctx context.Context, id string) error { return s.store.EraseVisit(ctx, id) }

// Files lists a visit's files by name.
func (s *Visits) Files(ctx context.Context, id string) ([]shop.VisitFile, error) {
	if _, err := s.store.Visit(ctx, id); err != nil {
		return nil, err
	}
	return s.store.VisitFiles(ctx, id)
}

// Read is a file's bytes.
func (s *Visits) Read(ctx context.Context, id, name string) ([]byte, error) {
	files, err := s.Files(ctx, id)
	if err != nil {
		return nil, err
	}
	for _, f := range files {
		if f.Name == name {
			return s.content(ctx, id, f)
		}
	}
	return nil, shop.Saying(shop.NotFound, words.Say("refused.no-visit-file", words.Args{"file": words.Name(name)}))
}

func (s *Visits) content(ctx context.Context, id string, f shop.VisitFile) ([]byte, error) {
	b, err := s.store.VisitContent(ctx, id, f.Digest)
	if err == nil && shop.Digest(b) != f.Digest {
		return nil, shop.Errorf(shop.Storage, "%s is kept and is not what came in: restore a backup", f.Name)
	}
	return b, err
}

// CheckName says what is wrong with a file's name: a path in one of the Folders.
func CheckName(name string) error {
	parts := strings.Split(name, "/")
	switch {
	case len(parts) < 2 || !slices.Contains(Folders, parts[0]):
		return shop.Saying(shop.Invalid, words.Say("refused.no-folder", words.Args{"file": words.Name(name), "folders": words.Name(strings.Join(Folders, ", "))}))
	case len(parts) > 6 || len(name) > 240:
		return shop.Saying(shop.Invalid, words.Say("refused.file-name-long", words.Args{"file": words.Name(name)}))
	}
	for _, p := range parts {
		if p == "" || p[0] == '.' || p[len(p)-1] == ' ' || p[len(p)-1] == '.' || !norm.NFC.IsNormalString(p) ||
			strings.ContainsFunc(p, func(r rune) bool {
				return unicode.IsControl(r) || r == unicode.ReplacementChar || strings.ContainsRune(`\:*?"<>|`, r)
			}) {
			return shop.Saying(shop.Invalid, words.Say("refused.file-name", words.Args{"file": words.Name(name)}))
		}
	}
	return nil
}

// File is a file to be put into a visit.
type File struct {
	Name string
	As   []byte
	New  bool // nothing may have its name: else it is a Conflict, and nothing is kept
}

// Put keeps files, each in the place of one that has its name where it need not be New, all or none. Photographs are kept
// as trial.Photograph makes them, whatever folder they are for: a camera writes into them where it was.
func (s *Visits) Put(ctx context.Context, id, by string, files ...File) error {
	v, err := s.store.Visit(ctx, id)
	if err != nil {
		return err
	}
	if v.Removed {
		return shop.Saying(shop.Conflict, words.Say("refused.visit-away"))
	}
	have, err := s.store.VisitFiles(ctx, id)
	if err != nil {
		return err
	}
	put := make([]shop.VisitPut, len(files))
	all := map[string]int64{}
	for _, f := range have {
		all[f.Name] = f.Bytes
	}
	for i, f := range files {
		if trial.IsPhotograph(f.Name) {
			if f.As, err = trial.Photograph(f.Name, f.As); err != nil {
				return shop.AsInvalid(err)
			}
		} else if trial.IsPhotographUnread(f.Name) {
			return shop.AsInvalid(trial.Fault(trial.NotRead(f.Name)))
		}
		put[i] = shop.VisitPut{VisitFile: shop.VisitFile{Name: norm.NFC.String(f.Name), Digest: shop.Digest(f.As), Bytes: int64(len(f.As)),
			Added: s.now().UTC(), By: by}, Content: f.As, New: f.New}
		all[put[i].Name] = put[i].Bytes
	}
	if err := room(put, all); err != nil {
		return err
	}
	return s.store.KeepVisitFiles(ctx, id, put, nil)
}

// room says what of the files is too large, or has no name.
func room(put []shop.VisitPut, all map[string]int64) error {
	for _, f := range put {
		if err := CheckName(f.Name); err != nil {
			return err
		}
		if f.Bytes > MostBytes {
			return shop.Saying(shop.TooLarge, words.Say("refused.visit-file-large", words.Args{"file": words.Name(f.Name), "mb": words.Whole(int(f.Bytes >> 20)), "most": words.Whole(MostBytes >> 20)}))
		}
	}
	sum, folded := int64(0), map[string]string{}
	for name, n := range all {
		sum += n
		if other, ok := folded[strings.ToLower(name)]; ok {
			return shop.Saying(shop.Invalid, words.Say("refused.capitals", words.Args{"a": words.Name(min(name, other)), "b": words.Name(max(name, other))}))
		}
		folded[strings.ToLower(name)] = name
	}
	if sum > MostAll || len(all) > MostFiles {
		return shop.Saying(shop.TooLarge, words.Say("refused.visit-large", words.Args{"files": words.Whole(len(all)), "mb": words.Whole(int(sum >> 20)), "most": words.Whole(MostFiles), "mostmb": words.Whole(MostAll >> 20)}))
	}
	return nil
}

// TakeOut takes files out of a visit, all or none.
func (s *Visits) TakeOut(ctx context.Context, id string, names ...string) error {
	files, err := s.Files(ctx, id)
	if err != nil {
		return err
	}
	for _, name := range names {
		if !slices.ContainsFunc(files, func(f shop.VisitFile) bool { return f.Name == name }) {
			return shop.Saying(shop.NotFound, words.Say("refused.no-visit-file", words.Args{"file": words.Name(name)}))
		}
	}
	return s.store.KeepVisitFiles(ctx, id, nil, names)
}

// Free is a name for a new file that nothing among the files has: name, or with a
// number behind it.
func Free(files []shop.VisitFile, name string) string {
	ext := path.Ext(name)
	for n, free := 2, name; ; n++ {
		if !slices.ContainsFunc(files, func(f shop.VisitFile) bool { return strings.EqualFold(f.Name, free) }) {
			return free
		}
		free = fmt.Sprintf("%s (%d)%s", strings.TrimSuffix(name, ext), n, ext)
	}
}

// sorted are files by name.
func sorted(files []shop.VisitFile) []shop.VisitFile {
	slices.SortFunc(files, func(a, b shop.VisitFile) int { return cmp.Compare(a.Name, b.Name) })
	return files
}
