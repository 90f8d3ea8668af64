package clock

import (
	"math"
	"slices"
	"sync"

	"needlepace/machine"
	"needlepace/stitch"
)

// lengthBins is how finely stitches are gathered along each axis. The bins
// are narrow where a stitch is short and many.
const lengthBins = 16

// binOf gathers a displacement in units: 0 apart, then by its square root, in
// which frame times are even; the last bin holds all beyond 12.8 mm.
func binOf(d int) int {
	d = max(d, -d)
	if d == 0 {
		return 0
	}
	return min(1+int(math.Sqrt(float64(d)/128)*(lengthBins-2)), lengthBins-1)
}

// lengths is a design's revolutions gathered by displacement along x and y:
// enough to tell what the caps cost on any machine near the sheet's.
type lengths struct {
	revolutions float64
	x, y        [lengthBins]float64 // mean displacement, mm
	groups      []group
	exact       float64 // s, long stitches at the sheet's values
	scale       float64 // makes the gathered form exact there
}

type group struct {
	x, y   int     // bins
	n      float64 // revolutions
	turn   float64 // mean (1 − cos θ)/2
	length float64 // mean stitch length, mm; 0 where the law is plain and asks for none
	angle  float64 // mean turn, degrees
	sharp  float64 // share of the revolutions for which the cap at turns holds
	rung   int     // of the speed ladder
}

// angleBins is how finely stitches are gathered by their turn, where the law has
// a cap at turns or a correction over them.
const angleBins = 6

// gatherer is what gathering takes room for, again and again.
type gatherer struct {
	often [1 << 16]uint32 // of the plain law, how many displacements of a signed byte each, dy in the lower; all 0 between uses
	cells []group
}

var gathering = sync.Pool{New: func() any { return new(gatherer) }}

// gather gathers a design, or what stands for it, whose result is base.
func gather(d *stitch.Design, s *machine.Sheet, job Job, base *Result) *lengths {
	g := &lengths{revolutions: float64(base.Revolutions), exact: base.Parts.LongStitches}
	law := newCore(s, job)
	angles := 1
	if law.invTurn > 0 || len(law.byTurn.at) > 0 {
		angles = angleBins
	}
	rungs := max(len(law.ladder), 1)
	plain := !law.turning && !law.corrected && len(law.ladder) == 0
	room := gathering.Get().(*gatherer)
	defer gathering.Put(room)
	room.cells = slices.Grow(room.cells[:0], lengthBins*lengthBins*angles*rungs)[:lengthBins*lengthBins*angles*rungs]
	clear(room.cells)
	cells, often := room.cells, &room.often
	var nx, ny [lengthBins]float64
	var bin [256]uint8 // of a signed byte, to save square roots
	for v := range 256 {
		bin[v] = uint8(binOf(int(int8(v))))
	}
	of := func(v int16) int {
		if v >= -128 && v < 128 {
			return int(bin[uint8(v)])
		}
		return binOf(int(v))
	}
	made := job.From
	for e := range d.Events(s.Reading.TrimAfterJumps) {
		if e.Kind != stitch.Run {
			continue
		}
		if made > 0 {
			e.From, made, _ = past(d.Records, e, made, stitch.Point{})
		}
		px, py := 0, 0
		for _, r := range d.Records[e.From:e.To] {
			if plain && uint16(r.DX+128)|uint16(r.DY+128) < 256 {
				often[uint16(uint8(r.DX))<<8|uint16(uint8(r.DY))]++
				continue
			}
			i, j := of(r.DX), of(r.DY)
			dx, dy := int(r.DX), int(r.DY)
			at := (i*lengthBins + j) * angles * rungs
			if rungs > 1 {
				at += law.rungOf(dx, dy) * angles
			}
			if law.turning {
				cos := turnCos(dx, dy, px, py)
				angle := 0.0
				if angles > 1 {
					angle = turnDegrees(dx, dy, px, py)
					at += min(int(angle/180*angleBins), angleBins-1)
				}
				c := &cells[at]
				c.turn += (1 - cos) / 2
				c.angle += angle
				if law.sharp(dx, dy, px, py, cos) {
					c.sharp++
				}
				px, py = dx, dy
			}
			c := &cells[at]
			c.n++
			if !plain && i+j > 0 {
				c.length += stitch.LengthMM(dx, dy)
			}
			nx[i]++
			ny[j]++
			g.x[i] += math.Abs(float64(dx))
			g.y[j] += math.Abs(float64(dy))
		}
	}
	var hx, hy [256]float64 // of displacements along x, or y
	for at, n := range often {
		if n > 0 {
			x, y := at>>8, at&255
			hx[x] += float64(n)
			hy[y] += float64(n)
			cells[int(bin[x])*lengthBins+int(bin[y])].n += float64(n)
			often[at] = 0
		}
	}
	for v := range 256 {
		i, mm := bin[v], math.Abs(float64(int8(v)))
		nx[i] += hx[v]
		ny[i] += hy[v]
		g.x[i] += mm * hx[v]
		g.y[i] += mm * hy[v]
	}
	for i := range lengthBins {
		g.x[i] /= math.Max(nx[i], 1) * stitch.UnitsPerMM
		g.y[i] /= math.Max(ny[i], 1) * stitch.UnitsPerMM
	}
	n := 0.0
	for at, c := range cells {
		if n += c.n; c.n > 0 {
			ij := at / (angles * rungs)
			g.groups = append(g.groups, group{ij / lengthBins, ij % lengthBins, c.n, c.turn / c.n, c.length / c.n,
				c.angle / c.n, c.sharp / c.n, at / angles % rungs})
		}
	}
	g.scale = g.revolutions / max(n, 1)
	if long := g.long(law); long > 0 && g.exact > 0 {
		g.scale = g.exact / long
	}
	return g
}

// seconds is what the revolutions' caps cost on the drawn machine beyond its set
// speed, and what they would at it.
func (g *lengths) seconds(drawn core) (long, least float64) {
	return g.scale * g.long(drawn), g.revolutions * drawn.invSet
}

// long is the long-stitch part on the drawn machine, in the gathered form.
func (g *lengths) long(l core) float64 {
	var tx, ty [lengthBins]float64
	for i := range lengthBins {
		tx[i], ty[i] = l.x.seconds(g.x[i]), l.y.seconds(g.y[i])
	}
	plain := !l.corrected && len(l.ladder) == 0 // most laws: nothing hangs on a group's length or angle
	sum := 0.0
	for i := range g.groups {
		c := &g.groups[i]
		if c.x+c.y == 0 {
			continue
		}
		inv := (max(tx[c.x], ty[c.y])*(1+l.turn*c.turn) + l.settle) * l.perWindow
		if !plain {
			inv *= l.byLength.factor(c.length) * l.byTurn.factor(c.angle)
			if len(l.ladder) > 0 {
				inv = max(inv, l.ladder[c.rung].inv)
			}
			sum += c.n * c.sharp * max(inv-l.invSet, l.invTurn-l.invSet, 0)
		}
		if inv > l.invSet {
			sum += c.n * (1 - c.sharp) * (inv - l.invSet)
		}
	}
	return sum
}
