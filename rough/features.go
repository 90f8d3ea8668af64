package rough

import (
	"math"

	"needlepace/stitch"
)

// Kind is what a design is, as people say it before there is one.
type Kind string

// The kinds.
const (
	Badge      Kind = "badge"
	Lettering  Kind = "lettering"
	JacketBack Kind = "jacket back"
)

// Kinds are all kinds.
var Kinds = []Kind{Badge, Lettering, JacketBack}

// Cover is how much of a design's box is sewn over, as far as people can say it.
type Cover string

// The covers: up to a third, up to two thirds, and more of the box.
const (
	Light Cover = "light"
	Half  Cover = "half"
	Full  Cover = "full"
)

// Covers are all covers, the lightest first.
var Covers = []Cover{Light, Half, Full}

// share is the part of the box that stands for a cover.
func (c Cover) share() float64 {
	switch c {
	case Light:
		return 0.2
	case Half:
		return 0.5
	}
	return 0.8
}

// CoverOf is the cover of a share of the box, 0 to 1.
func CoverOf(share float64) Cover {
	switch {
	case share <= 1.0/3:
		return Light
	case share <= 2.0/3:
		return Half
	}
	return Full
}

// Design is what is said of a design beforehand, or what one that is there shows.
type Design struct {
	Width, Height float64 // mm, of its box
	Kind          Kind
	Cover         Cover
	Colours       int
}

// backFrom is the longer side in mm from which a design is a jacket back's: more than
// what goes on a chest or a cap.
const backFrom = 180

// letteringFrom is how many times longer than high a design is that is lettering.
const letteringFrom = 2.5

// cell is the side in mm of the squares by which cover is measured.
const cell = 1.0

// Of is what a design that is there shows. ok is false of one that sews nothing.
func Of(d *stitch.Design) (out Design, stitches int, ok bool) {
	n := d.Count()
	if n.Bounds.Empty || n.Stitches == 0 {
		return out, 0, false
	}
	out = Design{Width: max(n.Bounds.WidthMM(), cell), Height: max(n.Bounds.HeightMM(), cell), Colours: n.ColourStops + 1}
	out.Cover = CoverOf(float64(len(sewnOver(d))) * cell * cell / (out.Width * out.Height))
	long, short := max(out.Width, out.Height), min(out.Width, out.Height)
	switch {
	case long >= backFrom:
		out.Kind = JacketBack
	case long >= letteringFrom*short:
		out.Kind = Lettering
	default:
		out.Kind = Badge
	}
	return out, n.Stitches, true
}

// sewnOver are the squares that stitches run over.
func sewnOver(d *stitch.Design) map[[2]int32]bool {
	out := map[[2]int32]bool{}
	var at stitch.Point
	for _, r := range d.Records {
		from := at
		at.X += int(r.DX)
		at.Y += int(r.DY)
		if r.Op != stitch.Sew {
			continue
		}
		x0, y0 := from.MM()
		x1, y1 := at.MM()
		steps := 1 + int(math.Hypot(x1-x0, y1-y0)/(cell/2))
		for i := 0; i <= steps; i++ {
			f := float64(i) / float64(steps)
			out[[2]int32{int32(math.Floor((x0 + f*(x1-x0)) / cell)), int32(math.Floor((y0 + f*(y1-y0)) / cell))}] = true
		}
	}
	return out
}
