// Package thread says how much thread a design takes: metres of top thread
// per colour block and of bobbin thread, from the geometry of the lockstitch,
// and the bobbins and cones an order needs. It does no I/O and knows no
// machine: the one machine setting it needs is how many jumps are a trim.
package thread

import (
	"fmt"
	"math"
	"strings"

	"needlepace/stitch"
)

// Law is how a lockstitch uses thread. Per stitch of length L (ISO 4915 type
// 301, split for embroidery):
//
//	top    = L + 2T + 2u
//	bobbin = L − 2u
//
// T is the thickness sewn through and u how far the lock is drawn in
// underneath; the total, 2L + 2T, does not depend on u.
type Law struct {
	Thickness float64 // T, fabric and backing, mm; 0…20
	// u, mm; 0…5. Never more than a third of a stitch: the bobbin thread shows in the middle third at least
	PullIn     float64
	TailTop    float64 // top thread left at a trim or a colour stop, mm; 0…500
	TailBobbin float64 // bobbin thread left there, mm; 0…500
	Waste      float64 // fraction more, for breaks, threading and samples; 0…2
	Tex        float64 // thread count, grams per 1,000 m; 1…500
}

// Default is a woven cloth with one backing and 40-weight thread. T = 1 mm
// and u = 0 give the thread makers' 5 m of top and 3 m of bobbin thread per
// 1,000 stitches of 3 mm; the tails are assumed; 120 denier two-ply is Tex 27.
// General sewing allows 10 to 15 % waste; the default allows none, so that
// what is shown is what the seam holds.
var Default = Law{Thickness: 1, PullIn: 0, TailTop: 50, TailBobbin: 25, Waste: 0, Tex: 27}

// RangeError is an input of a Law that is out of its range.
type RangeError struct {
	Key    string // as in files: thickness, pull_in, …
	Value  float64
	Lo, Hi float64
	Unit   string
}

// Text is the sentence without the key.
func (e *RangeError) Text() string {
	return strings.TrimSpace(fmt.Sprintf("is %g; give %g to %g %s", e.Value, e.Lo, e.Hi, e.Unit))
}

func (e *RangeError) Error() string { return e.Key + " " + e.Text() }

// Check reports the first input out of its range, as a *RangeError.
func (l Law) Check() error {
	for _, c := range []struct {
		name   string
		v      float64
		lo, hi float64
		unit   string
	}{
		{"thickness", l.Thickness, 0, 20, "mm"},
		{"pull_in", l.PullIn, 0, 5, "mm"},
		{"tail_top", l.TailTop, 0, 500, "mm"},
		{"tail_bobbin", l.TailBobbin, 0, 500, "mm"},
		{"waste", l.Waste, 0, 2, ""},
		{"tex", l.Tex, 1, 500, "g per 1,000 m"},
	} {
		if !(c.v >= c.lo && c.v <= c.hi) {
			return &RangeError{c.name, c.v, c.lo, c.hi, c.unit}
		}
	}
	return nil
}

// Metres is an amount of thread of one piece sewn by one head.
type Metres struct {
	Top    float64 // m
	Bobbin float64 // m
}

// Block is what one colour block takes.
type Block struct {
	Stitches int
	Trims    int // cuts in or at the end of the block
	Metres
}

// Use is what a design takes, waste included. Blocks has one entry for every
// colour block, in order; Total is their sum.
type Use struct {
	Law    Law
	Blocks []Block
	Total  Block
}

// Add adds what another design takes after this one, so many times (0 to 1: the share
// of the pieces that it is sewn on). Its colour blocks follow; the law is its.
func (u *Use) Add(v Use, times float64) {
	u.Law = v.Law
	for _, b := range v.Blocks {
		b.Top, b.Bobbin = times*b.Top, times*b.Bobbin
		u.Blocks = append(u.Blocks, b)
		u.Total.Stitches += b.Stitches
		u.Total.Trims += b.Trims
		u.Total.Top += b.Top
		u.Total.Bobbin += b.Bobbin
	}
}

// Grams is the mass of the top thread of one piece.
func (u Use) Grams() float64 { return u.Total.Top * u.Law.Tex / 1000 }

// Of measures a design: the thread lies straight from penetration to
// penetration, whatever jumps stand between in the same run. Every cut (trim,
// colour stop, end) leaves a tail. trimAfter is the machine's number of
// jumps that are a trim (MODEL section 1).
func Of(d *stitch.Design, law Law, trimAfter int) (Use, error) {
	if err := law.Check(); err != nil {
		return Use{}, err
	}
	u := Use{Law: law}
	u.Blocks = make([]Block, 1)
	top, bobbin := make([]float64, 1), make([]float64, 1) // mm, of the blocks
	sewing := false                                       // is thread in the fabric?
	dx, dy := 0, 0                                        // since the last penetration with thread
	cut := func(block int) {
		if sewing {
			u.Blocks[block].Trims++
			top[block] += law.TailTop
			bobbin[block] += law.TailBobbin
		}
		sewing = false
		dx, dy = 0, 0
	}
	last := 0
	for e := range d.Events(trimAfter) {
		switch e.Kind {
		case stitch.Run:
			last = e.Block
			n, lengths, drawn := 0, 0.0, 0.0                     // of the run: its penetrations, their lengths and 3·u, units
			x, y, most := dx, dy, 3*law.PullIn*stitch.UnitsPerMM // by themselves: what a loop over events shares stands in memory
			for _, r := range d.Records[e.From:e.To] {
				x += int(r.DX)
				y += int(r.DY)
				if !r.Op.Penetrates() {
					continue
				}
				long := math.Sqrt(float64(x*x + y*y))
				lengths += long
				drawn += min(most, long)
				n++
				x, y = 0, 0
			}
			dx, dy = x, y
			lengths, drawn = lengths/stitch.UnitsPerMM, drawn/(3*stitch.UnitsPerMM)
			top[e.Block] += lengths + 2*law.Thickness*float64(n) + 2*drawn
			bobbin[e.Block] += lengths - 2*drawn
			u.Blocks[e.Block].Stitches += n
			sewing = sewing || n > 0
		case stitch.TrimCut:
			cut(e.Block)
		case stitch.ColourCut:
			cut(e.Block - 1)
			u.Blocks, top, bobbin = append(u.Blocks, Block{}), append(top, 0), append(bobbin, 0)
		case stitch.Travel:
			// After a cut the thread starts where the frame lands; with
			// thread in the fabric (after an operator's stop) it is drawn along.
			if sewing {
				dx += e.DX
				dy += e.DY
			}
		}
	}
	cut(last)
	for i := range u.Blocks {
		b := &u.Blocks[i]
		b.Top = top[i] / 1000 * (1 + law.Waste)
		b.Bobbin = bobbin[i] / 1000 * (1 + law.Waste)
		u.Total.Stitches += b.Stitches
		u.Total.Trims += b.Trims
		u.Total.Top += b.Top
		u.Total.Bobbin += b.Bobbin
	}
	return u, nil
}
