package ask

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"needlepace/audit"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/stitchfile"
)

// TestMendedRealFilesAreWhatIsSaid mends real files for machines that read trims
// differently, and holds the answer to the written bytes: the time to 1 ms, no
// trim lost on any of the machines, nothing more to be mended where the order
// was proved the best.
//
// Source: 131 real stitch files in six formats from public repositories (data
// beside the project, terms mostly unstated, for checking only).
func TestMendedRealFilesAreWhatIsSaid(t *testing.T) {
	files, _ := filepath.Glob("../../shared/data/real/*")
	if len(files) == 0 {
		t.Skip("the real stitch files are not beside the project (../../shared/data/real): nothing to check")
	}
	var fleet []*machine.Sheet
	for k, jumps := range []int{1, 2, 3, 4, 5, 6, 8} {
		s := machine.Classes()[k].Clone()
		s.Reading.TrimAfterJumps = jumps
		if k%2 == 1 {
			s.Travel.Mode = machine.ShaftTravel
		}
		fleet = append(fleet, s)
	}
	changed, again := 0, 0
	for k, file := range files {
		b, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		d, err := stitchfile.Decode(b, file)
		if err != nil || len(d.Records) > 20_000 || testing.Short() && len(d.Records) > 4_000 {
			continue
		}
		s := fleet[k%len(fleet)]
		name := filepath.Base(file) + " on " + s.Name
		a, err := Mend(t.Context(), Given{NewDesign(d, file, ""), s, fleet}, MendQuestion{Seconds: 0.5})
		if err != nil {
			t.Logf("%s: %v", name, err) // a form that the format does not have: said so, nothing written
			continue
		}
		if !a.Changed {
			continue
		}
		changed++
		back := mendHolds(t, name, d, a, s, fleet)
		if back == nil {
			continue
		}
		if a.Search.Optimal {
			again++
			m, err := Mend(t.Context(), Given{newDesignLike(d, back, a), s, fleet}, MendQuestion{Seconds: 0.5})
			if err != nil || m.Saved > 1e-3 {
				t.Errorf("%s: proved, and mended again for %v s: %v", name, m.Saved, err)
			}
		}
	}
	t.Logf("%d changed, %d proved and mended again", changed, again)
}

// TestStudyFleet mends every real file, the largest too, for each machine of a
// shop of all classes and some odd ones that all shall sew it, and holds the answer
// to the written bytes; where the order was proved, what comes of it is mended again.
// NEEDLEPACE_FLEET_STUDY is the seconds to search for each and, where not all are
// wanted, the first machine and how many; files of more than 20,000 records are
// mended for every sixth machine.
//
// Source: 131 real stitch files in six formats from public repositories (data
// beside the project, terms mostly unstated, for checking only).
func TestStudyFleet(t *testing.T) {
	var seconds float64
	fleet := shopOf()
	first, many := 1, len(fleet)
	if n, _ := fmt.Sscan(os.Getenv("NEEDLEPACE_FLEET_STUDY"), &seconds, &first, &many); n == 0 {
		t.Skip("a study, not a test: set NEEDLEPACE_FLEET_STUDY to seconds for each mend")
	}
	mends, changed, turned, stops, hands, painted, proved := 0, 0, 0, 0, 0, 0, 0
	refused := map[string]string{}
	var before, after float64
	designs := realDesigns(t)
	for k, s := range fleet { // a machine after the other: a study that is stopped has seen every file
		if k+1 < first || k+1 >= first+many {
			continue
		}
		for _, real := range designs {
			if len(real.Records) > 20_000 && k%6 > 0 {
				continue
			}
			name := fmt.Sprintf("%s on %s", real.file, s.Name)
			a, err := Mend(t.Context(), Given{NewDesign(real.Design, real.file, ""), s, fleet}, MendQuestion{Seconds: seconds})
			if err != nil {
				refused[real.file] = err.Error()
				continue
			}
			mends++
			before, after = before+a.Before.Seconds, after+a.After.Seconds
			if !a.Changed {
				continue
			}
			changed++
			stops += len(a.Mended.Kept)
			hands += len(handStops(real.Design, false))
			for _, c := range a.Changes {
				if c.Kind == audit.ChangeTurn {
					turned++
				}
			}
			back := mendHolds(t, name, real.Design, a, s, fleet)
			if back == nil {
				continue
			}
			if len(a.File.Added) == 0 && lengthOf(real.Design) <= 2*mostPainted {
				painted++
				threads, moved := a.threads(ThreadsAsked{})
				trim := s.Reading.TrimAfterJumps
				if !maps.EqualFunc(layers(real.Design, threads, trim), layers(unmoved(back, a), moved, trim), slices.Equal) {
					t.Errorf("%s: the picture is another", name)
				}
			}
			if a.Search.Optimal && len(real.Records) <= 20_000 {
				proved++
				m, err := Mend(t.Context(), Given{newDesignLike(real.Design, back, a), s, fleet}, MendQuestion{Seconds: seconds})
				if err != nil || m.Saved > 1e-3 {
					t.Errorf("%s: proved, and mended again for %v s: %v", name, m.Saved, err)
				}
			}
		}
		fmt.Printf("%s: %d mends so far, %d changed, %d with lines turned, %d stops that stay, %d for a hand; %d painted by the test, %d "+
			"proved and mended again; %.0f s before, %.0f s after\n", s.Name, mends, changed, turned, stops, hands, painted, proved, before,
			after)
	}
	for file, why := range refused {
		fmt.Println(file, "refused:", why)
	}
}

// newDesignLike is a mended design with the threads it was mended with, which a
// .dst file does not hold in full: blocks of one old block have one, as the answer
// says, though nobody knows which.
func newDesignLike(old, back *stitch.Design, a *MendAnswer) *Design {
	d := *back
	d.Threads = nil
	for _, b := range a.Blocks {
		th := stitch.Thread{Name: fmt.Sprint("of old block ", b), Known: true}
		if b-1 < len(old.Threads) && old.Threads[b-1].Known {
			th = old.Threads[b-1]
		}
		d.Threads = append(d.Threads, th)
	}
	return NewDesign(&d, a.NewFile, "")
}
