package zoo

import (
	"math"

	"needlepace/stitch"
)

// Habits are what controllers may do that asks for more than one stitch, or for more than its length. A zero field is a habit
// that a machine does not have; shares are of the set speed.
type Habits struct {
	// The frame.
	LongFrom, LongShare float64 // mm: an axis' move of more has this share of the acceleration
	LeastMove, LeastMM  float64 // s: no move of more than so many mm is planned shorter
	WindowLoss          float64 // share of the window lost at the machine's top speed, by the square of the speed
	Backlash            float64 // s longer where an axis turns round
	Mean                int     // stitches, this one first: their mean length too must be within the frame's reach

	// Caps on a revolution.
	Thread      float64 // mm/s: thread is not fed faster
	DenseMM     float64 // mm: shorter stitches go at DenseShare
	DenseShare  float64
	AxisShare   float64 // where another axis has the longer move than before
	AfterTrim   int     // stitches after each trim at TrimShare
	TrimShare   float64
	Needle      int // stitches on this needle go at no more than NeedleShare of the machine's top speed
	NeedleShare float64
	WideMM      float64 // mm: a design that is wider or higher is sewn at no more than WideShare of the top speed
	WideShare   float64

	// The shaft.
	Holds    int     // stitches: so many that may go faster must come before it rises
	Stairs   int     // stitches on each stair of a rise
	Stair    float64 // stitches/min: its height
	Build    float64 // s until a rise has its full acceleration
	OilEvery int     // stitches of a run between pauses
	OilFor   float64 // s

	// At rest.
	Parks        bool // the frame goes to ParkX, ParkY (mm from the start) at each colour stop, and back
	ParkX, ParkY float64
}

// habit is the most that a stitch may have, rev/s, by what lies around it; i is its number in the run, dx, dy its move and px, py the one before (mm).
func (s *sewing) habit(rec []stitch.Record, i int, dx, dy, px, py float64) float64 {
	l, n := math.Sqrt(dx*dx+dy*dy), math.Inf(1)
	if s.Mean > 0 {
		sum, of := 0.0, rec[i:min(i+s.Mean, len(rec))]
		for _, r := range of {
			sum += stitch.LengthMM(int(r.DX), int(r.DY))
		}
		if mm := sum / float64(len(of)); mm > 0 {
			f := &s.Sheet.Frame
			n = min(n, f.Window/(s.axis(mm, min(f.AccelX, f.AccelY)*s.accel, min(f.SpeedX, f.SpeedY), 0)+f.Settle))
		}
	}
	if s.Thread > 0 && l > 0 {
		n = min(n, s.Thread/l)
	}
	if l > 0 && l < s.DenseMM {
		n = min(n, s.DenseShare*s.set)
	}
	if s.AxisShare > 0 && l > 0 && (px != 0 || py != 0) && (math.Abs(dx) > math.Abs(dy)) != (math.Abs(px) > math.Abs(py)) {
		n = min(n, s.AxisShare*s.set)
	}
	if s.trimmed && i < s.AfterTrim {
		n = min(n, s.TrimShare*s.set)
	}
	return n
}

// held lowers the caps of a run to what a shaft keeps to that does not rise at once.
func (s *sewing) held() {
	caps := s.caps
	if s.Holds > 0 {
		for i := len(caps) - 1; i > 0; i-- { // from behind: those before are still as they were
			for _, c := range caps[max(i-s.Holds, 0):i] {
				caps[i] = min(caps[i], c)
			}
		}
	}
	if s.Stairs > 0 {
		level, on := max(s.Sheet.Shaft.CreepSpeed, s.Stair)/60, 0
		for i, c := range caps {
			if on++; on > s.Stairs {
				level, on = level+s.Stair/60, 1
			}
			if c <= level {
				level, on = c, 0
			}
			caps[i] = level
		}
	}
}

// ofNeedle is the needle of a colour block: as it is said, or 0, 1, 2… and again from 0.
func (s *sewing) ofNeedle(block int) int {
	if block < len(s.needles) {
		return s.needles[block]
	}
	return block % max(s.Sheet.Needles, 1)
}

// extent is how wide or high a design is, the larger, mm.
func extent(d *stitch.Design) float64 {
	var x, y, lox, hix, loy, hiy int
	for _, r := range d.Records {
		x, y = x+int(r.DX), y+int(r.DY)
		lox, hix, loy, hiy = min(lox, x), max(hix, x), min(loy, y), max(hiy, y)
	}
	return float64(max(hix-lox, hiy-loy)) / stitch.UnitsPerMM
}

// narrowed is the speed, rev/s, at which a move of τ s fits the window that is left at that speed: N·τ = w·(1 − loss·(N/top)²).
func narrowed(tau, window, loss, top float64) float64 {
	a := window * loss / (top * top)
	return (math.Sqrt(tau*tau+4*a*window) - tau) / (2 * a)
}
