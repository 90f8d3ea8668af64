package ask

import (
	"fmt"
	"os"
	"path/filepath"
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

// TestStudyFleet mends every real file, the largest too, for each of a dozen
// machines that all shall sew it, and holds the answer to the written bytes.
// NEEDLEPACE_FLEET_STUDY is the seconds to search for each; files of more than
// 20,000 records are mended for every sixth machine.
//
// Source: 131 real stitch files in six formats from public repositories (data
// beside the project, terms mostly unstated, for checking only).
func TestStudyFleet(t *testing.T) {
	var seconds float64
	if _, err := fmt.Sscan(os.Getenv("NEEDLEPACE_FLEET_STUDY"), &seconds); err != nil {
		t.Skip("a study, not a test: set NEEDLEPACE_FLEET_STUDY to seconds for each mend")
	}
	fleet := fleetOf(12)
	mends, changed, turned, refused, stops := 0, 0, 0, map[string]string{}, 0
	var before, after float64
	designs := realDesigns(t)
	for k, s := range fleet { // a machine after the other: a study that is stopped has seen every file
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
			for _, c := range a.Changes {
				if c.Kind == audit.ChangeTurn {
					turned++
				}
			}
			mendHolds(t, name, real.Design, a, s, fleet)
		}
		fmt.Printf("%s: %d mends so far, %d changed, %d with lines turned, %d stops that stay; %.0f s before, %.0f s after\n", s.Name,
			mends, changed, turned, stops, before, after)
	}
	for file, why := range refused {
		fmt.Println(file, "refused:", why)
	}
}

// newDesignLike is a mended design with the threads it was mended with, which a
// .dst file does not hold in full.
func newDesignLike(old, back *stitch.Design, a *MendAnswer) *Design {
	d := *back
	d.Threads = nil
	for _, b := range a.Blocks {
		th := stitch.Thread{}
		if b-1 < len(old.Threads) {
			th = old.Threads[b-1]
		}
		d.Threads = append(d.Threads, th)
	}
	return NewDesign(&d, a.NewFile, "")
}
