package ask

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"needlepace/audit"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/stitchfile"
)

// A small spread of the real files, so many of each format and none larger.
const (
	spreadEach    = 5
	spreadRecords = 4_000
)

// TestRealFilesAreMendedIntoEveryFormat mends a few small real files of each
// format into each that can be written (into).
//
// Source: 131 real stitch files in six formats from public repositories (data
// beside the project, terms mostly unstated, for checking only).
func TestRealFilesAreMendedIntoEveryFormat(t *testing.T) {
	fleet := fleetOf(7)
	have := map[string]int{}
	var done formatTally
	for _, real := range realDesigns(t) {
		if len(real.Records) < 50 || len(real.Records) > spreadRecords || have[real.Format] == spreadEach {
			continue
		}
		have[real.Format]++
		done.into(t, real, fleet[done.mends%len(fleet)], fleet, 0.1)
	}
	t.Log(&done)
	if done.changed < done.mends/2 {
		t.Errorf("only %d of %d mends changed anything: the test says little", done.changed, done.mends)
	}
}

// TestStudyFormats does so with every real file. NEEDLEPACE_FORMATS_STUDY is the
// seconds to search for each and, where not all files are wanted, the first and
// how many.
//
// Source: 131 real stitch files in six formats from public repositories (data
// beside the project, terms mostly unstated, for checking only).
func TestStudyFormats(t *testing.T) {
	var seconds float64
	designs := realDesigns(t)
	first, many := 1, len(designs)
	if n, _ := fmt.Sscan(os.Getenv("NEEDLEPACE_FORMATS_STUDY"), &seconds, &first, &many); n == 0 {
		t.Skip("a study, not a test: set NEEDLEPACE_FORMATS_STUDY to seconds for each mend")
	}
	fleet := fleetOf(12)
	var done formatTally
	for k, real := range designs {
		if k+1 < first || k+1 >= first+many {
			continue
		}
		began := time.Now()
		done.into(t, real, fleet[k%len(fleet)], fleet, seconds)
		fmt.Printf("%s, %d records: %.1f s\n", real.file, len(real.Records), time.Since(began).Seconds())
	}
	for _, why := range slices.SortedFunc(maps.Keys(done.refused), cmp.Compare) {
		fmt.Printf("%d refused (%s): %s\n", len(done.refused[why]), done.refused[why][0], why)
	}
	fmt.Println(&done)
}

type realDesign struct {
	file string
	*stitch.Design
}

func realDesigns(t *testing.T) (all []realDesign) {
	t.Helper()
	files, _ := filepath.Glob("../../shared/data/real/*")
	if len(files) == 0 {
		t.Skip("the real stitch files are not beside the project (../../shared/data/real): nothing to check")
	}
	for _, file := range files {
		b, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if d, err := stitchfile.Decode(b, file); err == nil {
			all = append(all, realDesign{filepath.Base(file), d})
		}
	}
	return all
}

// fleetOf is n machines that read and move differently, the same ones always.
func fleetOf(n int) (fleet []*machine.Sheet) {
	rng := rand.New(rand.NewPCG(1, 12))
	for len(fleet) < n {
		for _, s := range someSheets(rng) {
			s.Name = fmt.Sprintf("machine %d", len(fleet)+1)
			fleet = append(fleet, s)
		}
	}
	return fleet[:n]
}

// formatTally counts mends into formats, and what was held to what.
type formatTally struct {
	mends, changed, painted, stops, trims, added, moved, coloured int
	refused                                                       map[string][]string // by the reason
}

func (n *formatTally) String() string {
	refused := 0
	for _, all := range n.refused {
		refused += len(all)
	}
	return fmt.Sprintf("%d mends, %d refused, %d changed: %d trims and %d stops that stay, %d stitches added, %d laid elsewhere; "+
		"%d painted by the test too, %d with the same colours", n.mends, refused, n.changed, n.trims, n.stops, n.added, n.moved,
		n.painted, n.coloured)
}

// into mends a design into each format and holds the answers to the bytes
// written: the time to 1 ms, each trim on each machine, the stops' places, the
// number of stitches, the colours, and the picture up to the shift that is said.
func (n *formatTally) into(t *testing.T, real realDesign, s *machine.Sheet, fleet []*machine.Sheet, seconds float64) {
	t.Helper()
	for _, ext := range stitchfile.Writable() {
		name := fmt.Sprintf("%s as %s on %s", real.file, ext, s.Name)
		n.mends++
		a, err := Mend(t.Context(), Given{NewDesign(real.Design, real.file, ""), s, fleet},
			MendQuestion{Seconds: seconds, Format: ext[1:]})
		switch {
		case errors.Is(err, audit.ErrProof):
			t.Errorf("%s: %v", name, err)
			continue
		case err != nil:
			if n.refused == nil {
				n.refused = map[string][]string{}
			}
			n.refused[err.Error()] = append(n.refused[err.Error()], name)
			continue
		case !a.Changed:
			continue
		}
		n.changed++
		back := mendHolds(t, name, real.Design, a, s, fleet)
		if back == nil {
			continue
		}
		n.trims, n.stops, n.added = n.trims+a.After.Trims, n.stops+len(a.Kept), n.added+len(a.File.Added)
		if a.File.Moved {
			n.moved++
		}
		was, now := real.Count(), back.Count()
		if now.Stitches != was.Stitches+len(a.File.Added)+a.Proof.Added-a.Proof.Dropped || now.Stitches != a.After.Stitches {
			t.Errorf("%s: %d stitches and %d added, %d dropped, became %d; %d were said", name, was.Stitches,
				len(a.File.Added), a.Proof.Dropped, now.Stitches, a.After.Stitches)
		}
		liesAsSaid(t, name, real.Design, back, a)
		n.colours(t, name, real.Design, back, a)
		if len(a.File.Added) == 0 && lengthOf(real.Design) <= 10*mostPainted {
			n.painted++
			threads, moved := a.threads(ThreadsAsked{})
			trim := s.Reading.TrimAfterJumps
			was, now := layers(real.Design, threads, trim), layers(unmoved(back, a), moved, trim)
			if !maps.EqualFunc(was, now, slices.Equal) {
				t.Errorf("%s: the picture is another: %d points before, %d after", name, len(was), len(now))
			}
		}
	}
}

// liesAsSaid holds the place of the new file's design, and of its stops, to the
// old file's and the shift that was said.
func liesAsSaid(t *testing.T, name string, d, back *stitch.Design, a *MendAnswer) {
	t.Helper()
	was, now := d.Count().Bounds, unmoved(back, a).Count().Bounds
	if was != now {
		t.Errorf("%s: lies at %+v, and at %+v without the shift", name, was, now)
	}
	lies := back.Count().Bounds
	format := a.File.Format
	free := d.Format == "dst" || d.Format == "exp"
	if box := d.Format == "pes" || d.Format == "pec"; format != "pes" && (box || free && (format == "jef" || format == "vp3")) {
		if x, y := lies.MinX+lies.MaxX, lies.MinY+lies.MaxY; max(x, -x, y, -y) > 1 {
			t.Errorf("%s: its middle is (%d, %d)/2 from the start", name, x, y)
		}
	}
	if a.File.Stops > 0 {
		return // said to stand at the stitch
	}
	stands := stopsAt(d)
	for _, k := range a.Kept {
		if !slices.Contains(stands, [2]float64{k.X, k.Y}) {
			t.Errorf("%s: a stop stays at (%v, %v) mm, the old file has stops at %v", name, k.X, k.Y, stands)
		}
	}
}

// colours holds the new file's threads to the old one's: equal where the format
// says all, and else the same ones the same and others others.
func (n *formatTally) colours(t *testing.T, name string, d, back *stitch.Design, a *MendAnswer) {
	t.Helper()
	lost := func(what ...stitchfile.Loss) bool {
		return slices.ContainsFunc(what, func(l stitchfile.Loss) bool { return slices.Contains(a.File.Lost, l) })
	}
	if a.File.Format == "exp" || lost(stitchfile.LossThreads, stitchfile.LossMadeUp) {
		return
	}
	if len(back.Threads) != len(a.Blocks) {
		if len(d.Threads) > 0 {
			t.Errorf("%s: %d threads for %d blocks", name, len(back.Threads), len(a.Blocks))
		}
		return
	}
	n.coloured++
	rgb := func(t stitch.Thread) [3]uint8 { return [3]uint8{t.R, t.G, t.B} }
	for i, b := range a.Blocks {
		old, is := rgb(d.Threads[b-1]), rgb(back.Threads[i])
		if old != is && !lost(stitchfile.LossShades) {
			t.Errorf("%s: block %d was %v and is %v", name, b, old, is)
		}
		for j := range i {
			same := rgb(d.Threads[a.Blocks[j]-1]) == old
			if now := rgb(back.Threads[j]) == is; same != now && !(now && lost(stitchfile.LossShared)) {
				t.Errorf("%s: blocks %d and %d: of one colour %v before, %v now", name, a.Blocks[j], b, same, now)
			}
		}
	}
}
