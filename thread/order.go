package thread

import (
	"fmt"
	"math"
	"strings"

	"needlepace/stitch"
)

// Supply is what thread comes on.
type Supply struct {
	Bobbin float64 // metres on a full bobbin
	Cone   float64 // metres on a full cone
}

// DefaultSupply: an L-size bobbin of 130 m (119 to 141 m in print) and a cone
// of 5,000 m (trade packages of 5,500 yd and of 5,000 yd are both sold).
var DefaultSupply = Supply{Bobbin: 130, Cone: 5000}

// Colour is one thread of an order: the blocks that sew it, together.
type Colour struct {
	Name   string // from the file's thread table, or "colour 3"
	Blocks []int  // from 0
	PerPiece,
	Order float64 // metres of top thread
	Loaded int     // cones that must stand on the machine: one a head that sews
	Used   float64 // cones' worth of thread that the order uses up
	Cones  int     // cones to have at hand: no head may run out on what it starts with
}

// Need is what an order takes.
type Need struct {
	Pieces      int
	Colours     []Colour
	Top, Bobbin float64 // metres, the whole order
	Bobbins     int     // bobbins to have at hand
	PerBobbin   float64 // pieces one bobbin sews on one head
}

// ForOrder is the thread of an order of pieces sewn on heads heads at once,
// every head starting with full cones and bobbins. Blocks that the thread
// table gives one name, or one colour, are one colour.
func ForOrder(d *stitch.Design, u Use, pieces, heads int, s Supply) (Need, error) {
	switch {
	case pieces < 1:
		return Need{}, fmt.Errorf("an order of %d pieces: give at least 1", pieces)
	case heads < 1:
		return Need{}, fmt.Errorf("%d heads: give at least 1", heads)
	case !(s.Bobbin > 0) || !(s.Cone > 0):
		return Need{}, fmt.Errorf("bobbin of %g m and cone of %g m: give both more than 0", s.Bobbin, s.Cone)
	}
	n := Need{Pieces: pieces, Top: u.Total.Top * float64(pieces),
		Bobbin: u.Total.Bobbin * float64(pieces)}
	heads = min(heads, pieces)
	// The first heads sew one piece more where the pieces do not divide.
	share, more := pieces/heads, pieces%heads
	packs := func(metres, full float64) int {
		of := func(k int) int { return max(1, int(math.Ceil(float64(k)*metres/full-1e-9))) }
		return more*of(share+1) + (heads-more)*of(share)
	}
	index := map[string]int{}
	for i, b := range u.Blocks {
		if b.Stitches == 0 {
			continue
		}
		key, name := fmt.Sprint("block ", i), fmt.Sprint("colour ", i+1)
		if i < len(d.Threads) && d.Threads[i].Known {
			t := d.Threads[i]
			key = fmt.Sprintf("%s %02x%02x%02x", strings.ToLower(t.Name), t.R, t.G, t.B)
			if name = t.Name; name == "" {
				name = fmt.Sprintf("#%02x%02x%02x", t.R, t.G, t.B)
			}
		}
		k, seen := index[key]
		if !seen {
			k = len(n.Colours)
			index[key] = k
			n.Colours = append(n.Colours, Colour{Name: name})
		}
		n.Colours[k].Blocks = append(n.Colours[k].Blocks, i)
		n.Colours[k].PerPiece += b.Top
	}
	for i := range n.Colours {
		c := &n.Colours[i]
		c.Order = c.PerPiece * float64(pieces)
		c.Loaded = heads
		c.Used = c.Order / s.Cone
		c.Cones = packs(c.PerPiece, s.Cone)
	}
	n.Bobbins = packs(u.Total.Bobbin, s.Bobbin)
	if u.Total.Bobbin > 0 {
		n.PerBobbin = s.Bobbin / u.Total.Bobbin
	}
	return n, nil
}
