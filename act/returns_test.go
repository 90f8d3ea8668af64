package act_test

import (
	"fmt"
	"maps"
	"strings"
	"sync"
	"testing"

	"needlepace/act"
	"needlepace/shop"
	"needlepace/shop/visits"
	"needlepace/trial"
)

// trialKept is a shop with a visit that has a small trial called one.
func trialKept(t *testing.T) (s *act.Shop, visit string) {
	t.Helper()
	s, _ = newShop(t)
	v, err := s.BeginVisit(t.Context(), "Notes", "", "")
	must(t, err)
	file := "name = \"One\"\nrepeats = 2\ncloth = \"c\"\nthread = \"t\"\nneedle = \"n\"\n[[place]]\nname = \"quay\"\n" +
		"[[machine]]\nname = \"Old\"\nsheet = \"compact-8\"\nplace = \"quay\"\nspeed = 700\n" +
		"[[machine]]\nname = \"New\"\nsheet = \"single-15-1200\"\nplace = \"quay\"\nspeed = 900\n" +
		"[[design]]\nname = \"gull\"\nfile = \"" + act.OfShop + add(t, s, "gull-cap.dst").ID + "\"\n"
	_, err = s.KeepTrial(t.Context(), v.ID, "one", "Ida", []byte(file), nil)
	must(t, err)
	return s, v.ID
}

// Nine places send in a sheet called times.csv in the same moment: all nine are kept, each by a name of its own.
func TestReturnsInOneMomentAreAllKept(t *testing.T) {
	s, visit := trialKept(t)
	var all sync.WaitGroup
	for n := range 9 {
		all.Add(1)
		go func() {
			defer all.Done()
			if _, err := s.TakeReturns(t.Context(), visit, "one", "Ida", []trial.Given{{Name: "times.csv", Bytes: fmt.Appendf(nil, "place,turn,time\nquay,%d,99\n", n)}}); err != nil {
				t.Error(err)
			}
		}()
	}
	all.Wait()
	files, err := s.Visits.Files(t.Context(), visit)
	must(t, err)
	kept := 0
	for _, f := range files {
		if strings.HasPrefix(f.Name, act.TrialFolder("one")+"returns/") {
			kept++
		}
	}
	if kept != 9 {
		t.Errorf("of nine sheets %d are kept", kept)
	}
}

// Whose names differ by signs alone grade in one sheet, and neither takes the place of the other's grades.
func TestGradersOfOneSheetKeepTheirGrades(t *testing.T) {
	s, visit := trialKept(t)
	for i, name := range []string{"Ann B.", "Ann-B", "Ann B."} {
		must(t, s.KeepGrades(t.Context(), visit, "one", "Ida", []trial.Grade{{Design: "gull", Machine: "Old", Grader: name, Block: 1, By: map[trial.Aspect]int{trial.Pull: 3 + i}}}))
	}
	a, err := s.Trial(t.Context(), visit, "one")
	must(t, err)
	got := map[string]int{}
	for _, g := range a.Grades {
		got[g.Grader] += g.By[trial.Pull]
	}
	if want := map[string]int{"Ann B.": 5, "Ann-B": 4}; !maps.Equal(got, want) {
		t.Errorf("kept are %v, given were %v", got, want)
	}
}

// Two clients have a trial of the same short name: each reads its own, also when both were asked for before and
// when something came back to one; a grade of 6 is none.
func TestTrialsOfTwoClientsAreKeptApart(t *testing.T) {
	s, one := trialKept(t)
	other, err := s.BeginVisit(t.Context(), "Other notes", "", "")
	must(t, err)
	b, err := s.Visits.Read(t.Context(), one, act.TrialFolder("one")+"TRIAL.toml")
	must(t, err)
	design, err := s.Visits.Read(t.Context(), one, "designs/gull-cap.dst")
	must(t, err)
	must(t, s.Visits.Put(t.Context(), other.ID, "Ida", visits.File{Name: "designs/gull-cap.dst", As: design}))
	_, err = s.KeepTrial(t.Context(), other.ID, "one", "Ida", []byte(strings.Replace(string(b), "One", "Two", 1)), nil)
	must(t, err)
	names := func() string {
		out := ""
		for _, id := range []string{one, other.ID, one} {
			a, err := s.Trial(t.Context(), id, "one")
			must(t, err)
			out += fmt.Sprintf("%s %d, ", a.Trial, len(a.Runs))
		}
		return out
	}
	if got := names(); got != "One 0, Two 0, One 0, " {
		t.Errorf("read are %s", got)
	}
	_, err = s.TakeReturns(t.Context(), other.ID, "one", "Ida", []trial.Given{{Name: "times.csv", Bytes: []byte("place,turn,time\nquay,1,400\n")}})
	must(t, err)
	if got := names(); got != "One 0, Two 1, One 0, " {
		t.Errorf("after a return to the second, read are %s", got)
	}
	for n, want := range map[int]shop.Code{0: shop.Invalid, 1: "", 5: "", 6: shop.Invalid} {
		err := s.KeepGrades(t.Context(), one, "one", "Ida", []trial.Grade{{Design: "gull", Machine: "Old", Grader: "Ann", Block: 1, By: map[trial.Aspect]int{trial.Pull: n}}})
		if shop.CodeOf(err) != want {
			t.Errorf("a grade of %d: %v, want %q", n, err, want)
		}
	}
}

// Who grades one sew-out more keeps what was graded before, of the other repeats too; the same one again is in place of
// the first.
func TestGradesOfOtherSewOutsStay(t *testing.T) {
	s, visit := trialKept(t)
	for _, g := range []struct{ block, n int }{{1, 2}, {2, 4}, {1, 5}} {
		must(t, s.KeepGrades(t.Context(), visit, "one", "Ida", []trial.Grade{{Design: "gull", Machine: "Old", Grader: "Ann", Block: g.block,
			By: map[trial.Aspect]int{trial.Pull: g.n}}}))
	}
	a, err := s.Trial(t.Context(), visit, "one")
	must(t, err)
	got := map[int]int{}
	for _, g := range a.Grades {
		got[g.Block] = g.By[trial.Pull]
	}
	if len(a.Grades) != 2 || got[1] != 5 || got[2] != 4 {
		t.Errorf("kept are %+v", a.Grades)
	}
}

// A trial that names designs and a machine of the shop has copies of those very ones in the visit.
func TestATrialsCopiesAreOfWhatItNames(t *testing.T) {
	s, visit := trialKept(t) // gull-cap.dst is in the visit already
	m, err := s.Machines.AddOfClass(t.Context(), "single-15-light", "Bay 1", "")
	must(t, err)
	oars := add(t, s, "saltmere-oars.dst")
	b, err := s.Visits.Read(t.Context(), visit, act.TrialFolder("one")+"TRIAL.toml")
	must(t, err)
	text := strings.Replace(string(b), "compact-8", act.OfShop+m.ID, 1) + "\n[[design]]\nname = \"oars\"\nfile = \"" + act.OfShop + oars.ID + "\"\n"
	a, err := s.KeepTrial(t.Context(), visit, "two", "Ida", []byte(text), nil)
	must(t, err)
	for _, name := range []string{"gull-cap.dst", "saltmere-oars.dst"} {
		kept, err := s.Visits.Read(t.Context(), visit, "designs/"+name)
		must(t, err)
		if string(kept) != string(demoBytes(t, name)) {
			t.Errorf("designs/%s is something else", name)
		}
	}
	if a.Designs[0].Digest == a.Designs[1].Digest || a.Sheets[0].Class != m.Sheet.Class || a.Sheets[0].MaxSpeed != m.Sheet.MaxSpeed {
		t.Errorf("designs %s and %s; a machine of class %s, %v/min", a.Designs[0].Digest, a.Designs[1].Digest, a.Sheets[0].Class, a.Sheets[0].MaxSpeed)
	}
	sheet, err := s.Visits.Read(t.Context(), visit, "machines/Bay 1.toml")
	must(t, err)
	if string(sheet) != string(m.Sheet.TOML()) {
		t.Error("the machine's sheet in the visit is another")
	}
}
