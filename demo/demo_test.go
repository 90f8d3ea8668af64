package demo

import (
	"io/fs"
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
	des, err := stitchfile.Decode(b, "")
	if err != nil || des.Format != "dst" {
		t.Fatalf("%s: read as %+v: %v", d.File, des, err)
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
	for _, d := range Designs() {
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
	if n, _ := fs.Glob(FS, "designs/*"); len(n) != len(Designs()) {
		t.Errorf("%d files in designs/, %d in the table", len(n), len(Designs()))
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
