package ask

import (
	"context"
	"errors"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"needlepace/audit"
	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/stitchfile"
)

// FuzzMend takes the bytes of a file, its name's extension and a seed for all
// else: machines, threads, what is to stay. Whatever comes in, nothing panics,
// and what is handed out decodes, shows the same picture, keeps its stops and
// its trims, and takes as long as was said.
func FuzzMend(f *testing.F) {
	another := regexp.MustCompile(`\.(dst|jef|pec|pes|vp3)\b`)
	extensions := []string{".dst", ".exp", ".pes", ".jef", ".vp3", ".pec", ".csv"}
	seeds, _ := filepath.Glob("../demo/designs/*")
	more, _ := filepath.Glob("../stitchfile/testdata/*")
	for _, name := range append(seeds, more...) {
		b, err := os.ReadFile(name)
		if err != nil || len(b) > 2_500 {
			continue
		}
		if k := slices.Index(extensions, filepath.Ext(name)); k >= 0 {
			f.Add(b, uint8(k), uint64(len(b)))
		}
	}
	f.Fuzz(func(t *testing.T, b []byte, extension uint8, seed uint64) {
		if len(b) > 2_500 { // one input has 10 s, however busy the computer
			return
		}
		file := "fuzz" + extensions[int(extension)%len(extensions)]
		d, err := stitchfile.Decode(b, file)
		if err != nil || len(d.Records) > 20_000 || lengthOf(d) > 3*mostPainted {
			return
		}
		if b := d.Count().Bounds; (b.MaxX-b.MinX)*(b.MaxY-b.MinY) > mostProved {
			return // the proof of a square metre took 10 s on a computer with seven others waiting for each core
		}
		rng := rand.New(rand.NewPCG(seed, 71))
		fleet := someSheets(rng)
		s := fleet[0]
		q := MendQuestion{Seconds: 0.03, Seed: rng.Uint64(), KeepColours: rng.IntN(4) == 0, KeepStops: rng.IntN(6) == 0}
		if rng.IntN(3) > 0 {
			q.From = "the test"
			for range d.Count().ColourStops + 1 {
				q.Threads = append(q.Threads, []string{"red", "blue", "green", "?"}[rng.IntN(4)])
			}
		}
		if n := d.Count().ColourStops; n > 0 && !q.KeepStops && rng.IntN(3) == 0 {
			q.Release = []int{1 + rng.IntN(n)}
		}
		if rng.IntN(2) == 0 {
			var can []string
			for _, x := range stitchfile.Formats() {
				if x.Writes {
					can = append(can, x.Name)
				}
			}
			q.Format = can[rng.IntN(len(can))]
		}
		of := NewDesign(d, file, "")
		a, err := Mend(context.Background(), Given{of, s, fleet}, q)
		if err != nil {
			var asked *Error
			faulty := errors.Is(err, audit.ErrProof) || !errors.As(err, &asked)
			switch text := err.Error(); {
			case strings.Contains(text, "read back the same"): // a form that the format does not have
				faulty = false
			case strings.Contains(text, "not be read back"):
				// .exp has no signature: stitches can look like another format's
				faulty = !strings.Contains(text, "mended.exp") || !another.MatchString(text)
			}
			if faulty {
				t.Fatalf("a fault of the program, not of the file: %v", err)
			}
			return
		}
		if !a.Changed {
			return
		}
		back := mendHolds(t, file, d, a, s, fleet)
		if back == nil || lengthOf(d) > mostPainted {
			return
		}
		threads, moved := a.threads(q.ThreadsAsked)
		n := s.Reading.TrimAfterJumps
		was, now := layers(d, threads, n), layers(unmoved(back, a), moved, n)
		if len(a.File.Added) > 0 { // they lie beside the way by half a point at most
			_, added, _, err := a.written(d, a.readers(fleet, 1))
			if err != nil {
				t.Fatal(err)
			}
			was = layers(unmoved(added, a), threads, n)
		}
		if !maps.EqualFunc(was, now, slices.Equal) {
			t.Errorf("the picture is another: %d points before, %d after", len(was), len(now))
		}
	})
}

// threads are those of the old file's blocks, by number, and of the new file's.
func (a *MendAnswer) threads(said ThreadsAsked) (old, moved []int) {
	if old, _, _ = said.of(a.Of); old == nil {
		old = identity(a.Of.Counts.ColourStops + 1)
	}
	for _, b := range a.Blocks {
		moved = append(moved, old[b-1])
	}
	return old, moved
}

// someSheets are two to four machines that read and move differently.
func someSheets(rng *rand.Rand) []*machine.Sheet {
	classes := machine.Classes()
	fleet := make([]*machine.Sheet, 2+rng.IntN(3))
	for k := range fleet {
		s := classes[rng.IntN(len(classes))].Clone()
		s.Name = "machine " + string(rune('A'+k))
		s.Reading.TrimAfterJumps = []int{1, 2, 3, 4, 5, 6, 8, 18}[rng.IntN(8)]
		if rng.IntN(2) == 0 {
			s.Travel.Mode = machine.ShaftTravel
		}
		s.Travel.ReturnToStart = rng.IntN(2) == 0
		s.Frame.Turn = float64(rng.IntN(3))
		fleet[k] = s
	}
	return fleet
}

// mendHolds holds an answer to the bytes of its file: they decode, take as long
// as was said (to 1 ms) and less than before, show the same picture, lose no
// trim on any machine, and stop where the old design did for the operator. It
// returns the design read back.
func mendHolds(t *testing.T, name string, d *stitch.Design, a *MendAnswer, s *machine.Sheet,
	fleet []*machine.Sheet,
) *stitch.Design {
	t.Helper()
	back, err := stitchfile.Decode(a.Content, a.NewFile)
	if err != nil {
		t.Errorf("%s: the file written does not decode: %v", name, err)
		return nil
	}
	was, now := clock.Run(d, s, clock.Job{}), clock.Run(back, s, clock.Job{})
	if math.Abs(was.Seconds-a.Before.Seconds) > 1e-3 || math.Abs(now.Seconds-a.After.Seconds) > 1e-3 ||
		now.Seconds >= was.Seconds {
		t.Errorf("%s: %v → %v s was said, it is %v → %v", name, a.Before.Seconds, a.After.Seconds, was.Seconds,
			now.Seconds)
	}
	for _, other := range fleet {
		if read := clock.Run(back, other, clock.Job{}); read.Trims < now.Trims {
			t.Errorf("%s: %d of %d trims are cut where %d jumps are one", name, read.Trims, now.Trims,
				other.Reading.TrimAfterJumps)
		}
	}
	stands := stopsAt(back)
	for _, k := range a.Mended.Kept {
		at := [2]float64{k.X, k.Y}
		n := slices.Index(stands, at)
		if n < 0 {
			t.Errorf("%s: stop %d stood at %v mm and was to stay; the file has stops at %v", name, k.Number, at, stands)
			continue
		}
		stands = stands[n+1:] // they stand in their old order
	}
	slack := 0.0
	if a.File.Stops > 0 {
		slack = 50 // said to stand at the stitch before
	}
	if len(a.File.Added) == 0 {
		handsHold(t, name, d, unmoved(back, a), false, slack)
		laidHolds(t, name, d, unmoved(back, a), append(fleet, s))
	}
	return back
}

// unmoved is a design read back where the old one lies.
func unmoved(d *stitch.Design, a *MendAnswer) *stitch.Design {
	var back []stitch.Record
	for x, y := -lattice(a.File.ShiftX), -lattice(a.File.ShiftY); x != 0 || y != 0; {
		r := stitch.Record{DX: int16(min(max(x, math.MinInt16), math.MaxInt16)),
			DY: int16(min(max(y, math.MinInt16), math.MaxInt16)), Op: stitch.Jump}
		x, y, back = x-int(r.DX), y-int(r.DY), append(back, r)
	}
	return &stitch.Design{Records: append(back, d.Records...)}
}

// lattice is mm in 0.1 mm.
func lattice(mm float64) int { return int(math.Round(mm * stitch.UnitsPerMM)) }

// stopsAt is where the frame stands at each stop, mm, in their order.
func stopsAt(d *stitch.Design) (all [][2]float64) {
	x, y := 0, 0
	for _, r := range d.Records {
		if r.Op == stitch.ColourStop || r.Op == stitch.Stop {
			all = append(all, [2]float64{float64(x) / stitch.UnitsPerMM, float64(y) / stitch.UnitsPerMM})
		}
		x, y = x+int(r.DX), y+int(r.DY)
	}
	return all
}

// mostProved is the ground of a design that is mended here, in points of 0.1 mm: half a square metre.
const mostProved = 50_000_000

// mostPainted is how much thread, 0.1 mm, is painted in a map of points.
const mostPainted = 20_000

func lengthOf(d *stitch.Design) (sum int) {
	for _, r := range d.Records {
		sum += max(int(r.DX), -int(r.DX)) + max(int(r.DY), -int(r.DY))
	}
	return sum
}

// layers is a painter for checking, with nothing of the proof's in it: at each
// point of a lattice of 0.1 mm that a thread covers, the threads that lie there
// from below, each once where nothing of another lies between.
func layers(d *stitch.Design, threads []int, trimAfter int) map[[2]int][]int {
	out := map[[2]int][]int{}
	const r = 2.0
	lay := func(x0, y0, x1, y1 float64, thread int) {
		for y := int(math.Floor(min(y0, y1) - r)); y <= int(math.Ceil(max(y0, y1)+r)); y++ {
			for x := int(math.Floor(min(x0, x1) - r)); x <= int(math.Ceil(max(x0, x1)+r)); x++ {
				px, py, along := float64(x)-x0, float64(y)-y0, 0.0
				if l := (x1-x0)*(x1-x0) + (y1-y0)*(y1-y0); l > 0 {
					along = min(max((px*(x1-x0)+py*(y1-y0))/l, 0), 1)
				}
				if math.Hypot(px-along*(x1-x0), py-along*(y1-y0)) > r-1e-9 {
					continue // the rim itself hangs on rounding
				}
				at := [2]int{x, y}
				if all := out[at]; len(all) == 0 || all[len(all)-1] != thread {
					out[at] = append(all, thread)
				}
			}
		}
	}
	x, y, block, jumps := 0.0, 0.0, 0, 0
	var last *[2]float64 // the hole the thread comes from
	for _, rec := range d.Records {
		x, y = x+float64(rec.DX), y+float64(rec.DY)
		switch rec.Op {
		case stitch.Jump:
			if jumps++; jumps >= trimAfter {
				last = nil
			}
			continue
		case stitch.Trim:
			last = nil
		case stitch.ColourStop:
			last = nil
			block++
		case stitch.Sew, stitch.Sequin:
			if last != nil {
				lay(last[0], last[1], x, y, threads[block])
			}
			last = &[2]float64{x, y}
		}
		jumps = 0
	}
	return out
}
