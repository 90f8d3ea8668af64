package act_test

import (
	"database/sql"
	"fmt"
	"strings"
	"testing"
	"time"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/shop"
	"needlepace/trial"
)

// What came to an open call is shown as somebody last looked at it, also after the program
// was started anew; what came since, and what came to another form of the call, is not.
func TestACallIsShownAsSomebodyLookedAtIt(t *testing.T) {
	s, store := newShop(t)
	d := add(t, s, "gull-cap.dst")
	v, err := s.BeginVisit(t.Context(), "Notes", "", "")
	must(t, err)
	file := "name = \"One gull\"\nadviser = \"Notes\"\ncloth = \"c\"\nthread = \"t\"\nneedle = \"n\"\n[[design]]\nname = \"gull\"\nfile = \"" + act.OfShop + d.ID + "\"\n"
	expected, err := s.KeepCall(t.Context(), v.ID, "gull", "Ida", []byte(file), nil)
	must(t, err)
	page, err := s.Visits.OpenCallPage(t.Context(), v.ID, "gull", 0)
	must(t, err)
	sent := 0
	send := func() {
		t.Helper()
		sent++
		seconds := float64(expected.Stitches) / 900 * 60 * (1.4 + 0.02*float64(sent))
		must(t, s.SendEntry(t.Context(), page, ask.CalledRow{Class: "compact-8", Rated: 1000, Speed: 900, Time: fmt.Sprintf("%.1f", seconds)}, nil))
	}
	shows := func(what string, wantSeen bool, want int) {
		t.Helper()
		a, seen, err := s.CalledSoFar(t.Context(), page)
		must(t, err)
		rows := a.PublicTable().Rows
		if seen != wantSeen || (want > 0) != (len(rows) == 1) || want > 0 && a.Classes[0].Entries != want {
			t.Errorf("%s: seen %v, %d rows, %+v", what, seen, len(rows), a.Classes)
		}
	}
	for range 3 {
		send()
	}
	shows("before anybody looked", false, 0)
	looked, err := s.OpenCall(t.Context(), v.ID, "gull")
	must(t, err)
	shows("looked at", true, 3)
	send()
	shows("with one more since", true, 3)
	s = act.New(store, act.Options{})
	shows("started anew", true, 3)
	a, _, err := s.CalledSoFar(t.Context(), page)
	must(t, err)
	if a.Classes[0] != looked.Classes[0] {
		t.Errorf("started anew it shows %+v, looked at was %+v", a.Classes[0], looked.Classes[0])
	}
	_, err = s.OpenCall(t.Context(), v.ID, "gull")
	must(t, err)
	shows("looked at anew", true, 4)
	_, err = s.KeepCall(t.Context(), v.ID, "gull", "Ida", []byte(strings.Replace(file, "One gull", "Another gull", 1)), nil)
	must(t, err)
	shows("another form of it", false, 0)
	if shop.CodeOf(s.Visits.SeeCall(t.Context(), "none", "gull", shop.CallSeen{})) != shop.NotFound {
		t.Error("a call of no visit was seen")
	}
}

// What strangers send is at most 24 MB an entry, its files together, and 256 MB a call with all that came before.
func TestACallTakesNoMoreThanItHasRoomFor(t *testing.T) {
	const mb = 1 << 20
	s, store := newShop(t)
	d := add(t, s, "gull-cap.dst")
	v, err := s.BeginVisit(t.Context(), "Notes", "", "")
	must(t, err)
	_, err = s.KeepCall(t.Context(), v.ID, "gull", "Ida", []byte("name = \"One gull\"\nadviser = \"Notes\"\ncloth = \"c\"\nthread = \"t\"\nneedle = \"n\"\n"+
		"[[design]]\nname = \"gull\"\nfile = \""+act.OfShop+d.ID+"\"\n"), nil)
	must(t, err)
	page, err := s.Visits.OpenCallPage(t.Context(), v.ID, "gull", 0)
	must(t, err)
	send := func(want shop.Code, sizes ...int) {
		t.Helper()
		var files []trial.Given
		for i, n := range sizes {
			b := make([]byte, n)
			copy(b, "RIFF")
			files = append(files, trial.Given{Name: []string{"sound.wav", "photo.jpg"}[i], Bytes: b})
		}
		err := s.SendEntry(t.Context(), page, ask.CalledRow{Class: "compact-8", Rated: 1000, Speed: 900, Time: "600"}, files)
		if shop.CodeOf(err) != want {
			t.Errorf("%v bytes: %v, want %q", sizes, err, want)
		}
	}
	send(shop.TooLarge, 24*mb+1)
	send(shop.TooLarge, 20*mb, 4*mb+1)
	send("", 1*mb)
	holds := func(bytes int) { // all that came before
		t.Helper()
		must(t, store.Filling(t.Context(), func(x *sql.Tx) error {
			r, err := x.Exec(fmt.Sprintf(`UPDATE visit_files SET bytes = CASE WHEN name LIKE '%%.wav' THEN %d ELSE 0 END WHERE name LIKE 'calls/gull/entries/%%'`, bytes))
			if err == nil {
				if n, _ := r.RowsAffected(); n != 2 {
					t.Fatalf("%d files of one entry", n)
				}
			}
			return err
		}))
	}
	holds(256*mb - 4*mb)
	send(shop.Conflict, 4*mb+1)
	send("", 4*mb)
}

// A day that is still to come is a slip, told at its field; tomorrow is today somewhere. No more entries than the
// page takes are kept.
func TestACallTakesNoDayToCome(t *testing.T) {
	s, _ := newShop(t)
	v, err := s.BeginVisit(t.Context(), "Notes", "", "")
	must(t, err)
	_, err = s.KeepCall(t.Context(), v.ID, "gull", "Ida", []byte("name = \"One gull\"\nadviser = \"Notes\"\ncloth = \"c\"\nthread = \"t\"\nneedle = \"n\"\n"+
		"[[design]]\nname = \"gull\"\nfile = \""+act.OfShop+add(t, s, "gull-cap.dst").ID+"\"\n"), nil)
	must(t, err)
	page, err := s.Visits.OpenCallPage(t.Context(), v.ID, "gull", 3)
	must(t, err)
	for _, c := range []struct {
		days int
		want shop.Code
	}{{2, shop.Invalid}, {400, shop.Invalid}, {1, ""}, {0, ""}, {-30, ""}, {-31, shop.Conflict}} { // the fourth is one too many
		day := s.Now().AddDate(0, 0, c.days).Format(time.DateOnly)
		err := s.SendEntry(t.Context(), page, ask.CalledRow{Class: "compact-8", Rated: 1000, Speed: 900, Time: "600", Day: day}, nil)
		if shop.CodeOf(err) != c.want {
			t.Errorf("%d days from now: %v, want %q", c.days, err, c.want)
		}
	}
}

// The page of a call takes 200 entries where nobody says how many, and no number that is none. Its code is found as
// people read it from a card; of a visit that is put away there is no page, and none is opened.
func TestTheCodeOfACallAsItIsTyped(t *testing.T) {
	s, store := newShop(t)
	v, err := s.BeginVisit(t.Context(), "Notes", "", "")
	must(t, err)
	page, err := s.Visits.OpenCallPage(t.Context(), v.ID, "gull", 0)
	must(t, err)
	if page.Most != 200 {
		t.Errorf("it takes %d entries", page.Most)
	}
	for most, want := range map[int]shop.Code{-1: shop.Invalid, 1: "", 400: "", 401: shop.Invalid} {
		if _, err := s.Visits.OpenCallPage(t.Context(), v.ID, "gull", most); shop.CodeOf(err) != want {
			t.Errorf("for %d entries: %v, want %q", most, err, want)
		}
	}
	page.Code = "OIBXY2ABIO"
	must(t, store.SaveCallPage(t.Context(), page))
	typed := []string{"OIBXY2ABIO", "oibxy-2abio", " 018xy 2a810", "0I8XY2AB1O"}
	finds := func(want shop.Code, codes ...string) {
		t.Helper()
		for _, code := range codes {
			p, err := s.Visits.ByCode(t.Context(), code)
			if shop.CodeOf(err) != want || want == "" && p.Name != "gull" {
				t.Errorf("%q: %v, want %q", code, err, want)
			}
		}
	}
	finds("", typed...)
	finds(shop.SignIn, "", "OIBXY2ABI", "OIBXY2ABIOA", "OIBXY2ABIA", "OIBXY2ABI%")
	must(t, s.Visits.PutAway(t.Context(), v.ID, true))
	finds(shop.SignIn, typed...)
	if _, err := s.Visits.OpenCallPage(t.Context(), v.ID, "gull", 0); shop.CodeOf(err) != shop.Conflict {
		t.Errorf("opened for a visit that is put away: %v", err)
	}
	must(t, s.Visits.PutAway(t.Context(), v.ID, false))
	finds("", typed...)
	must(t, s.Visits.ShutCallPage(t.Context(), v.ID, "gull"))
	finds(shop.SignIn, typed...)
	if err := s.Visits.ShutCallPage(t.Context(), v.ID, "ferry"); shop.CodeOf(err) != shop.NotFound {
		t.Errorf("one that was never opened is shut: %v", err)
	}
}
