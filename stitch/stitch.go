package stitch

import "math"

// UnitsPerMM is the number of file units in a millimetre: one unit is 0.1 mm,
// the step of the 3-byte tape format and of the machines that read it.
const UnitsPerMM = 10

// Op is what a record asks of the machine.
type Op uint8

// The records of a design. Sew and Sequin are one revolution of the main
// shaft and one needle penetration each.
const (
	Sew        Op = iota // the frame moves by (DX, DY), then the needle penetrates
	Jump                 // the frame moves by (DX, DY), the needle does not sew
	Trim                 // the thread is cut; a displacement is a travel after it
	ColourStop           // the thread is cut and the needle changed; a displacement is a travel after it
	Stop                 // the machine stands until the operator acts; a displacement is a travel after it
	Sequin               // a sequin is fed and sewn: counts as a stitch
	numOps
)

var opNames = [numOps]string{"sew", "jump", "trim", "colour stop", "stop", "sequin"}

// String names the record in the words of the trade.
func (o Op) String() string {
	if o < numOps {
		return opNames[o]
	}
	return "unknown record"
}

// Penetrates reports whether the record is a needle penetration (a stitch).
func (o Op) Penetrates() bool { return o == Sew || o == Sequin }

// Record is one step of a design: a displacement in units of 0.1 mm
// (each axis −32768…32767) and what to do there.
type Record struct {
	DX, DY int16
	Op     Op
}

// Thread is one entry of a file's thread table: a hint, since formats name
// colours by tables of their own. Known is false where the file has a place
// for a thread but says nothing about it.
type Thread struct {
	Name    string
	R, G, B uint8
	Known   bool
}

// Warning is something about the file that a user should know and that did
// not stop the reading.
type Warning struct {
	Code   string // stable short name, e.g. "no-end", "header-count"
	Offset int64  // byte offset in the (unpacked) file, −1 where there is none
	Text   string // one sentence for people
}

// Design is a stitch file as read: the records in order, without the end
// record, starting with the frame at (0, 0).
type Design struct {
	Name     string // the label inside the file, may be empty
	Format   string // the format's name, e.g. "dst"
	Records  []Record
	Threads  []Thread // in the order of the colour blocks; may be empty or short
	Warnings []Warning
}

// Point is a position of the frame in units of 0.1 mm. Positions are sums of
// displacements and are kept wide: no file can make them overflow.
type Point struct{ X, Y int }

// MM is the position in millimetres.
func (p Point) MM() (x, y float64) {
	return float64(p.X) / UnitsPerMM, float64(p.Y) / UnitsPerMM
}

// LengthMM is the length of a displacement in millimetres. Whole tenths stay
// exact: 30 units along an axis are 3 mm and not 3.0000000000000004.
func LengthMM(dx, dy int) float64 {
	return math.Sqrt(float64(dx)*float64(dx)+float64(dy)*float64(dy)) / UnitsPerMM
}

// Bounds is the box of the needle penetrations in units of 0.1 mm. Empty is
// true where there is no penetration; then the numbers are 0.
type Bounds struct {
	MinX, MinY, MaxX, MaxY int
	Empty                  bool
}

// WidthMM is the extent along x in millimetres.
func (b Bounds) WidthMM() float64 { return float64(b.MaxX-b.MinX) / UnitsPerMM }

// HeightMM is the extent along y in millimetres.
func (b Bounds) HeightMM() float64 { return float64(b.MaxY-b.MinY) / UnitsPerMM }

// Counts are what the records amount to, whatever a header says.
type Counts struct {
	Stitches    int // needle penetrations
	Jumps       int // jump records
	TrimRecords int // explicit trim records (not trims that jumps stand for)
	ColourStops int
	Stops       int
	Sequins     int // of the stitches
	Bounds      Bounds
	End         Point // where the frame stands after the last record
}

// Count counts the records and measures the box of the penetrations.
func (d *Design) Count() Counts {
	var n [numOps]int
	x, y, others := 0, 0, 0
	minX, minY, maxX, maxY := math.MaxInt, math.MaxInt, math.MinInt, math.MinInt
	for _, r := range d.Records {
		x += int(r.DX)
		y += int(r.DY)
		if r.Op != Sew { // by far the most are
			if r.Op < numOps {
				n[r.Op]++
			}
			others++
			if r.Op != Sequin {
				continue
			}
		}
		minX, maxX = min(minX, x), max(maxX, x)
		minY, maxY = min(minY, y), max(maxY, y)
	}
	c := Counts{Stitches: len(d.Records) - others + n[Sequin], Jumps: n[Jump], TrimRecords: n[Trim], ColourStops: n[ColourStop],
		Stops: n[Stop], Sequins: n[Sequin], Bounds: Bounds{Empty: true}, End: Point{x, y}}
	if c.Stitches > 0 {
		c.Bounds = Bounds{minX, minY, maxX, maxY, false}
	}
	return c
}
