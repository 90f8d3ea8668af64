package demo

import (
	"bytes"
	"fmt"
	"io/fs"
	"math"
	"strings"
	"testing"

	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/stitchfile"
)

// sewn is a demo design read back from its file, stitch by stitch.
type sewn struct {
	Design
	file  *stitch.Design
	at    []stitch.Point // penetrations
	mm    []float64      // length of the stitch that led there
	block []int
	trims []trim
	stops []int // stitches before each colour stop
	drag  []int // stitches before jumps with thread in the fabric
}

type trim struct {
	at, block int     // stitches before it
	mm        float64 // way to the next stitch's start, straight
}

func read(t *testing.T, d Design) sewn {
	t.Helper()
	b, err := d.Read()
	if err != nil {
		t.Fatal(err)
	}
	des, format, err := stitchfile.Decode(bytes.NewReader(b))
	if err != nil || format != "dst" {
		t.Fatalf("%s: read as %q: %v", d.File, format, err)
	}
	s := sewn{Design: d, file: des}
	x, y, block := 0, 0, 0
	for _, r := range des.Records {
		x, y = x+int(r.DX), y+int(r.DY)
		switch {
		case r.Op.Penetrates():
			s.at = append(s.at, stitch.Point{X: x, Y: y})
			s.mm = append(s.mm, stitch.LengthMM(int(r.DX), int(r.DY)))
			s.block = append(s.block, block)
		case r.Op == stitch.ColourStop:
			block++
			s.stops = append(s.stops, len(s.at))
		}
	}
	n := 0
	for e := range des.Events(3) {
		switch e.Kind {
		case stitch.Run:
			for i, r := range des.Records[e.From:e.To] {
				if r.Op.Penetrates() {
					n++
				} else if i > 0 && des.Records[e.From+i-1].Op.Penetrates() {
					s.drag = append(s.drag, n)
				}
			}
		case stitch.TrimCut:
			s.trims = append(s.trims, trim{at: n, block: e.Block})
		case stitch.Travel:
			if k := len(s.trims); k > 0 && s.trims[k-1].at == n {
				s.trims[k-1].mm = stitch.LengthMM(e.DX, e.DY)
			}
		}
	}
	return s
}

func each(t *testing.T, f func(*testing.T, sewn)) {
	for _, d := range Designs {
		t.Run(strings.TrimSuffix(d.File, ".dst"), func(t *testing.T) { f(t, read(t, d)) })
	}
}

func TestDesignsAreSane(t *testing.T) {
	total, clean := 0, 0
	each(t, func(t *testing.T, s sewn) {
		b, _ := s.Read()
		total += len(b)
		if s.Clean {
			clean++
		}
		for _, w := range s.file.Warnings {
			t.Errorf("the reader warns: %s", w.Text)
		}
		for i, r := range s.file.Records {
			if max(r.DX, -r.DX) > 121 || max(r.DY, -r.DY) > 121 {
				t.Errorf("record %d moves (%d, %d)", i, r.DX, r.DY)
			}
			if r.Op == stitch.Sew && r.DX == 0 && r.DY == 0 {
				t.Errorf("record %d is a stitch of no length", i)
			}
		}
		if want := len(s.stops) + 1; len(s.Threads) != want {
			t.Errorf("%d threads for %d colour blocks", len(s.Threads), want)
		}
		if s.Title == "" || s.Customer == "" || s.Placement == "" {
			t.Error("title, customer or placement is missing")
		}
		if s.Clean && len(s.Faults) > 0 {
			t.Error("clean, and with faults planted")
		}
	})
	if total > 1_500_000 {
		t.Errorf("%d bytes of designs, want at most 1.5 MB", total)
	}
	if clean < 2 {
		t.Errorf("%d clean designs, want 2 or more", clean)
	}
	if n, _ := fs.Glob(FS, "designs/*"); len(n) != len(Designs) {
		t.Errorf("%d files in designs/, %d in the table", len(n), len(Designs))
	}
}

func TestJacketBackIsOver60000Stitches(t *testing.T) {
	d, ok := Find("harbour-jacket-back.dst")
	if !ok {
		t.Fatal("no jacket back")
	}
	c := read(t, d).file.Count()
	if c.Stitches < 60_000 {
		t.Errorf("%d stitches", c.Stitches)
	}
	if w, h := c.Bounds.WidthMM(), c.Bounds.HeightMM(); w < 200 || w > 300 || h < 200 || h > 300 {
		t.Errorf("%.0f × %.0f mm is not a jacket back", w, h)
	}
}

// What a clean design must have for "no false alarm" to be a fair demand.
func TestCleanDesignsAreClean(t *testing.T) {
	each(t, func(t *testing.T, s sewn) {
		if !s.Clean {
			t.Skip("not promised clean")
		}
		for i, l := range s.mm {
			if l < 0.8 || l > 7 {
				t.Errorf("stitch %d is %.2f mm long", i, l)
			}
		}
		for _, c := range s.trims {
			if c.mm < 9 {
				t.Errorf("trim before stitch %d for a way of %.1f mm", c.at, c.mm)
			}
			if !s.locked(c.at) {
				t.Errorf("trim before stitch %d without a lock", c.at)
			}
		}
		for _, n := range append(s.stops, len(s.at)) {
			if !s.locked(n) {
				t.Errorf("block ends at stitch %d without a lock", n)
			}
		}
		if len(s.drag) > 0 {
			t.Errorf("thread dragged before stitches %v", s.drag)
		}
		seen := map[string]bool{}
		for _, th := range s.Threads {
			if seen[th.Name] {
				t.Errorf("thread %s comes back", th.Name)
			}
			seen[th.Name] = true
		}
		for p, n := range s.holes(0, len(s.at)) {
			if n > 2 {
				t.Errorf("hole %v struck %d times", p, n)
			}
		}
		over := 0
		for cell, n := range s.cells(0, len(s.at)) {
			if n > 8 {
				t.Errorf("%d penetrations in the square millimetre at %v", n, cell)
			}
			if n > 6 {
				over++
			}
		}
		if over > 5 {
			t.Errorf("%d square millimetres with more than 6 penetrations", over)
		}
		b := s.file.Count().Bounds
		mid := stitch.Point{X: (b.MinX + b.MaxX) / 2, Y: (b.MinY + b.MaxY) / 2}
		if far := away(mid, stitch.Point{}); far > 1 {
			t.Errorf("the frame starts %.1f mm from the middle", far)
		}
		if far := away(mid, s.at[len(s.at)-1]); far > 12 {
			t.Errorf("the last stitch is %.1f mm from the middle", far)
		}
	})
}

func TestPlantedFaultsAreThere(t *testing.T) {
	found := map[Kind]int{}
	each(t, func(t *testing.T, s sewn) {
		for i, f := range s.Faults {
			found[f.Kind]++
			if f.From > f.To || f.To > len(s.at) || f.From < len(s.at) && f.Kind != FarStart && f.From < f.To && s.block[f.From] != f.Block {
				t.Fatalf("fault %d (%s): stitches %d to %d, block %d do not fit the file", i, f.Kind, f.From, f.To, f.Block)
			}
			if err := s.check(f); err != nil {
				t.Errorf("fault %d (%s, stitches %d to %d): %v", i, f.Kind, f.From, f.To, err)
			}
		}
	})
	for _, k := range []Kind{NeedlessTrim, ThreadReturns, StopWithoutChange, LongStitches, TinyStitches,
		RepeatedHoles, DenseSpot, MissingLock, FewStitches, DraggedThread, FarStart} {
		if found[k] == 0 {
			t.Errorf("no design has the fault %q", k)
		}
	}
}

// What is wrong with a file must be in its table: an audit is held against it.
func TestNothingElseIsWrong(t *testing.T) {
	each(t, func(t *testing.T, s sewn) {
		has := func(k Kind, at int) bool {
			for _, f := range s.Faults {
				if f.Kind == k && f.From <= at && (at < f.To || at == f.From) {
					return true
				}
			}
			return false
		}
		for _, c := range s.trims {
			if c.mm < 4 && !has(NeedlessTrim, c.at) {
				t.Errorf("trim before stitch %d for a way of %.1f mm is not in the table", c.at, c.mm)
			}
			if !s.locked(c.at) && !has(MissingLock, c.at) {
				t.Errorf("trim before stitch %d without a lock is not in the table", c.at)
			}
		}
		for _, n := range s.drag {
			if !has(DraggedThread, n) {
				t.Errorf("dragged thread before stitch %d is not in the table", n)
			}
		}
		for b := 1; b < len(s.Threads); b++ {
			listed := func(k Kind) bool {
				for _, f := range s.Faults {
					if f.Kind == k && f.Block == b {
						return true
					}
				}
				return false
			}
			if s.returns(Fault{Block: b}) == nil && !listed(ThreadReturns) {
				t.Errorf("block %d could be sewn with an earlier one and is not in the table", b)
			}
			if s.Threads[b] == s.Threads[b-1] && !listed(StopWithoutChange) {
				t.Errorf("block %d has the thread of the one before and is not in the table", b)
			}
		}
		for i, l := range s.mm {
			if l >= LongMM && !has(LongStitches, i) || l < TinyMM && !has(TinyStitches, i) {
				t.Errorf("stitch %d of %.2f mm is not in the table", i, l)
			}
		}
	})
}

func TestShopSheetsAreValid(t *testing.T) {
	files, err := fs.Glob(FS, "shop/*.toml")
	if err != nil || len(files) < 2 {
		t.Fatalf("sheets %v, %v", files, err)
	}
	for _, name := range files {
		b, err := fs.ReadFile(FS, name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := machine.Parse(name, b); err != nil {
			t.Errorf("%v", err)
		}
	}
}

func (s sewn) check(f Fault) error {
	switch f.Kind {
	case NeedlessTrim:
		for _, c := range s.trims {
			if c.at == f.From {
				if c.mm > 5.5 && !s.covered(c.at) {
					return fmt.Errorf("the way is %.1f mm and shows", c.mm)
				}
				return nil
			}
		}
		return fmt.Errorf("no trim there")
	case ThreadReturns:
		return s.returns(f)
	case StopWithoutChange:
		if f.Block == 0 || s.Threads[f.Block] != s.Threads[f.Block-1] {
			return fmt.Errorf("the thread changes")
		}
	case LongStitches, TinyStitches:
		n := 0
		for _, l := range s.mm[f.From:f.To] {
			if f.Kind == LongStitches && l >= LongMM || f.Kind == TinyStitches && l < TinyMM {
				n++
			}
		}
		if n != f.Count || n < 5 {
			return fmt.Errorf("%d such stitches, table has %d", n, f.Count)
		}
	case RepeatedHoles:
		n := 0
		for _, k := range s.holes(f.From, f.To) {
			if k >= 3 {
				n++
			}
		}
		if n != f.Count {
			return fmt.Errorf("%d such holes, table has %d", n, f.Count)
		}
	case DenseSpot:
		for _, n := range s.cells(f.From, f.To) {
			if n > 8 {
				return nil
			}
		}
		return fmt.Errorf("no square millimetre with more than 8 penetrations")
	case MissingLock:
		for _, c := range s.trims {
			if c.at == f.From {
				if s.locked(c.at) {
					return fmt.Errorf("the trim has a lock")
				}
				return nil
			}
		}
		return fmt.Errorf("no trim there")
	case FewStitches:
		from, to := 0, len(s.at)
		for _, c := range append(cuts(s.trims), s.stops...) {
			if c <= f.From {
				from = max(from, c)
			} else {
				to = min(to, c)
			}
		}
		if to-from >= 10 {
			return fmt.Errorf("%d stitches between cuts", to-from)
		}
	case DraggedThread:
		for _, n := range s.drag {
			if n == f.From {
				return nil
			}
		}
		return fmt.Errorf("no jump with thread in the fabric there")
	case FarStart:
		b := s.file.Count().Bounds
		if far := away(stitch.Point{X: (b.MinX + b.MaxX) / 2, Y: (b.MinY + b.MaxY) / 2}, stitch.Point{}); far < 50 {
			return fmt.Errorf("the frame starts %.0f mm from the middle", far)
		}
	default:
		return fmt.Errorf("unknown kind")
	}
	return nil
}

// returns checks that the fault's block could be sewn right after an earlier
// block with its thread: no block between comes nearer to it than a millimetre.
func (s sewn) returns(f Fault) error {
	earlier := -1
	for b := range f.Block {
		if s.Threads[b] == s.Threads[f.Block] {
			earlier = b
		}
	}
	if earlier < 0 || earlier == f.Block-1 {
		return fmt.Errorf("the thread was not on before, or only just")
	}
	mine := map[stitch.Point]bool{}
	s.walk(func(i int, cell stitch.Point) {
		if s.block[i] == f.Block {
			mine[cell] = true
		}
	})
	touch := -1
	s.walk(func(i int, c stitch.Point) {
		if s.block[i] <= earlier || s.block[i] >= f.Block {
			return
		}
		for dx := -1; dx <= 1; dx++ {
			for dy := -1; dy <= 1; dy++ {
				if mine[stitch.Point{X: c.X + dx, Y: c.Y + dy}] {
					touch = i
				}
			}
		}
	})
	if touch >= 0 {
		return fmt.Errorf("stitch %d of block %d lies in the way", touch, s.block[touch])
	}
	return nil
}

// walk calls f for the square millimetres that each stitch's thread runs over.
func (s sewn) walk(f func(i int, cell stitch.Point)) {
	for i := 1; i < len(s.at); i++ {
		a, b := s.at[i-1], s.at[i]
		if s.block[i] != s.block[i-1] || stitch.LengthMM(b.X-a.X, b.Y-a.Y) > 12.2 {
			a = b
		}
		for k := 0; k <= 16; k++ {
			f(i, cell(stitch.Point{X: a.X + (b.X-a.X)*k/16, Y: a.Y + (b.Y-a.Y)*k/16}))
		}
	}
}

// covered reports whether later stitches lie on the straight way that the trim
// before stitch n makes.
func (s sewn) covered(n int) bool {
	later := map[stitch.Point]bool{}
	s.walk(func(i int, c stitch.Point) {
		if i > n+8 { // past the lock at the end of the way
			later[c] = true
		}
	})
	a, b := s.at[n-1], s.at[n]
	hidden := 0
	for k := 1; k < 20; k++ {
		if later[cell(stitch.Point{X: a.X + (b.X-a.X)*k/20, Y: a.Y + (b.Y-a.Y)*k/20})] {
			hidden++
		}
	}
	return hidden >= 18
}

// locked reports whether small stitches end at stitch n: two of the last three
// shorter than 1.3 mm and a turn back among them.
func (s sewn) locked(n int) bool {
	if n < 4 {
		return false
	}
	small, turns := 0, 0
	for i := n - 3; i < n; i++ {
		if s.mm[i] < 1.3 {
			small++
		}
		p, q, r := s.at[i-2], s.at[i-1], s.at[i]
		if (q.X-p.X)*(r.X-q.X)+(q.Y-p.Y)*(r.Y-q.Y) < 0 {
			turns++
		}
	}
	return small >= 2 && turns >= 2
}

func (s sewn) holes(from, to int) map[stitch.Point]int {
	m := map[stitch.Point]int{}
	for _, p := range s.at[from:to] {
		m[p]++
	}
	return m
}

// cells counts penetrations by square millimetre.
func (s sewn) cells(from, to int) map[stitch.Point]int {
	m := map[stitch.Point]int{}
	for _, p := range s.at[from:to] {
		m[cell(p)]++
	}
	return m
}

func cell(p stitch.Point) stitch.Point {
	return stitch.Point{X: int(math.Floor(float64(p.X) / 10)), Y: int(math.Floor(float64(p.Y) / 10))}
}

func away(a, b stitch.Point) float64 { return stitch.LengthMM(a.X-b.X, a.Y-b.Y) }

func cuts(ts []trim) []int {
	var out []int
	for _, c := range ts {
		out = append(out, c.at)
	}
	return out
}
