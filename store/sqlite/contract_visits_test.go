package sqlite

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"needlepace/shop"
)

func visitNow(t *testing.T, s shop.Store, id string) (*shop.Visit, []shop.VisitFile) {
	t.Helper()
	v, err := s.Visit(bg, id)
	must(t, err)
	files, err := s.VisitFiles(bg, id)
	must(t, err)
	return v, files
}

func visitFile(name, content string) shop.VisitPut {
	return shop.VisitPut{VisitFile: shop.VisitFile{Name: name, Digest: shop.Digest([]byte(content)), Bytes: int64(len(content)), Added: when},
		Content: []byte(content)}
}

// What is changed in a visit can be taken back, until it is erased: then nothing of it
// is in the database, nor in the history of changes.
func visitWay(t *testing.T, s shop.Store) {
	act := func() *shop.Act { return &shop.Act{By: "Ida", Right: shop.KeepVisits, At: when} }
	v := &shop.Visit{ID: "v1", Name: "Zanzibar Hemming", Client: "Mrs Quillfeather", Version: 1, Made: when, Changed: when}
	must(t, s.SaveVisit(bg, v, []shop.VisitPut{visitFile("notes/velleity.txt", "murmuration")}))
	for _, a := range []struct {
		what   string
		change func(*shop.Act) error
		is     func() bool
	}{
		{"another file in its place", func(a *shop.Act) error {
			return s.KeepVisitFiles(shop.WithAct(bg, a), "v1", []shop.VisitPut{visitFile("notes/velleity.txt", "other")}, nil)
		}, func() bool { _, f := visitNow(t, s, "v1"); return f[0].Digest == shop.Digest([]byte("other")) }},
		{"a file out", func(a *shop.Act) error {
			return s.KeepVisitFiles(shop.WithAct(bg, a), "v1", nil, []string{"notes/velleity.txt"})
		}, func() bool { _, f := visitNow(t, s, "v1"); return len(f) == 0 }},
		{"put away", func(a *shop.Act) error {
			now, _ := visitNow(t, s, "v1")
			now.Version, now.Removed = now.Version+1, true
			return s.SaveVisit(shop.WithAct(bg, a), now, nil)
		}, func() bool { now, _ := visitNow(t, s, "v1"); return now.Removed }},
		{"the page of a call opened", func(a *shop.Act) error {
			return s.SaveCallPage(shop.WithAct(bg, a), &shop.CallPage{Visit: "v1", Name: "gull", Code: "XYLOPHON", Most: 9, Open: true})
		}, func() bool { p, err := s.CallPageBy(bg, "XYLOPHON"); return err == nil && p.Open && p.Name == "gull" }},
	} {
		one := act()
		must(t, a.change(one))
		if !a.is() {
			t.Errorf("%s: it is not so", a.what)
		}
		c, err := s.Change(bg, one.Change.Load())
		must(t, err)
		if c.Thing != "visit" || c.Ref != "v1" || c.Name != v.Name || !c.Undoable {
			t.Errorf("%s is kept as %+v", a.what, c)
		}
		must(t, s.Undo(shop.WithAct(bg, act()), one.Change.Load()))
		if a.is() {
			t.Errorf("%s: taken back it is still so", a.what)
		}
	}
	_, files := visitNow(t, s, "v1")
	if b, err := s.VisitContent(bg, "v1", files[0].Digest); err != nil || string(b) != "murmuration" {
		t.Errorf("%q, %v", b, err)
	}
	wantCode(t, s.SaveVisit(bg, &shop.Visit{ID: "v1", Name: "x", Version: 2}, nil), shop.Conflict)
	wantCode(t, s.KeepVisitFiles(bg, "none", []shop.VisitPut{visitFile("notes/velleity.txt", "x")}, nil), shop.NotFound)
	again, other := visitFile("notes/velleity.txt", "magpie"), visitFile("notes/b.txt", "jackdaw")
	again.New = true // it is none: nothing of it is kept, nor of what came with it
	wantCode(t, s.KeepVisitFiles(bg, "v1", []shop.VisitPut{other, again}, nil), shop.Conflict)
	if _, now := visitNow(t, s, "v1"); !slices.Equal(now, files) {
		t.Errorf("a file that is not new left %+v, was %+v", now, files)
	}
	wantCode(t, s.EraseVisit(bg, "v1"), shop.Conflict)
	now, _ := visitNow(t, s, "v1")
	if seen, err := s.CallSeen(bg, "v1", "gull"); err != nil || seen != nil {
		t.Errorf("before anybody looked: %+v, %v", seen, err)
	}
	for _, look := range []shop.CallSeen{{Of: "one", Classes: "[]"}, {Of: "two", Classes: "[bobolink]"}} {
		one := act()
		must(t, s.SeeCall(shop.WithAct(bg, one), "v1", "gull", look))
		if seen, err := s.CallSeen(bg, "v1", "gull"); err != nil || seen == nil || *seen != look || one.Change.Load() != 0 {
			t.Errorf("looked at: %+v, %v, change %d", seen, err, one.Change.Load())
		}
	}
	now.Version, now.Removed = now.Version+1, true
	away := act()
	must(t, s.SaveVisit(shop.WithAct(bg, away), now, nil))
	erase := act()
	must(t, s.EraseVisit(shop.WithAct(bg, erase), "v1"))
	c, err := s.Change(bg, erase.Change.Load())
	must(t, err)
	if c.Verb != "erased" || c.By != "Ida" || c.Undoable {
		t.Errorf("the erasure is kept as %+v", c)
	}
	if err := s.Undo(bg, away.Change.Load()); err == nil {
		t.Error("an erased visit was put back")
	}
	_, err = s.Visit(bg, "v1")
	wantCode(t, err, shop.NotFound)
	lite, ok := s.(*Store)
	if !ok {
		return // a server's files are the server's
	}
	copied := filepath.Join(t.TempDir(), "copy.db")
	_, err = Backup(bg, lite.path, copied)
	must(t, err)
	b, err := os.ReadFile(copied)
	must(t, err)
	for _, file := range []string{lite.path, lite.path + "-wal"} { // nor in what the shop's own file no longer uses
		more, err := os.ReadFile(file)
		must(t, err)
		b = append(b, more...)
	}
	for _, left := range []string{"Zanzibar", "Quillfeather", "murmuration", "XYLOPHON", "bobolink", "velleity"} {
		if bytes.Contains(b, []byte(left)) {
			t.Errorf("%s is still in the database", left)
		}
	}
}
