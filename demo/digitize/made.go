package digitize

import "needlepace/stitch"

// openMM is the spacing from which rows and zigzags leave the cloth to be seen.
const openMM = 1.2

// openSatin is a zigzag until it is known what covers it.
const openSatin = stitch.Kind(255)

// area is what an object covers, from the stitches of the records before upTo on.
type area struct {
	upTo int // records of the piece when the object was done
	ring []Pt
}

// as says what the next stitches are, until the function it gives is called.
// What stands within another object (a way inside a column) keeps its own kind.
func (p *Piece) as(k stitch.Kind) (done func()) {
	was := p.making
	p.making = k
	return func() { p.making = was }
}

func (p *Piece) kind(op stitch.Op) stitch.Kind {
	switch {
	case !op.Penetrates():
		return stitch.NotSewn
	case p.making == stitch.NotSewn:
		return stitch.Unknown // placed by hand, no object of the kit
	}
	return p.making
}

// cover notes that the object just sewn hides what lies inside the ring.
func (p *Piece) cover(ring []Pt) { p.areas = append(p.areas, area{len(p.rec), ring}) }

// Made is what the kit made of each record of [Piece.Design] so far: the truth
// that a recogniser of stitches is held to. Running stitch and open zigzag are
// under cover where most of the stitch lies inside an object that was sewn later.
func (p *Piece) Made() []stitch.Kind {
	out := append([]stitch.Kind(nil), p.made...)
	x, y := 0, 0
	if len(p.rec) > 0 { // StartAt moves the beginning
		x, y = p.x, p.y
		for _, r := range p.rec {
			x, y = x-int(r.DX), y-int(r.DY)
		}
	}
	for i, r := range p.rec {
		a := Pt{float64(x) / stitch.UnitsPerMM, float64(y) / stitch.UnitsPerMM}
		x, y = x+int(r.DX), y+int(r.DY)
		b := Pt{float64(x) / stitch.UnitsPerMM, float64(y) / stitch.UnitsPerMM}
		if out[i] != stitch.Running && out[i] != openSatin {
			continue
		}
		hidden := 0
		for k := range 7 {
			q := a.Lerp(b, (float64(k)+0.5)/7)
			for _, c := range p.areas {
				if c.upTo > i && within(q, c.ring) {
					hidden++
					break
				}
			}
		}
		switch {
		case hidden >= 5:
			out[i] = stitch.UnderCover
		case out[i] == openSatin:
			out[i] = stitch.Satin
		}
	}
	return out
}
