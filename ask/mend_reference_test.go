package ask

import (
	"os"
	"path/filepath"
	"testing"

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
