package machine

// registered lists the built-in classes, one line a class, from the smallest
// machine to the largest. Nobody measured them: every constant is assumed, and
// its spread says how far the machines of a class, and our knowledge of them,
// lie apart. docs/machine-sheets.md has the table for people.
//
// The numbers start from published planning figures and common practice
// (class_*.go say which) and are held against published timings in
// clock/classes_reference_test.go.
var registered = []func() *Sheet{
	home1,
	compact8,
	compact10Light,
	single15Light,
	single15Fast,
	multi6,
	multi12,
	multi20,
	multi20Slow,
}

// Classes gives fresh copies of the built-in classes, from the smallest
// machine to the largest. A class's short id is its sheet's Name.
func Classes() []*Sheet {
	all := make([]*Sheet, len(registered))
	for i, class := range registered {
		all[i] = labelled(class())
	}
	return all
}

// Class is a fresh copy of the built-in class with the short id.
func Class(id string) (*Sheet, bool) {
	for _, s := range Classes() {
		if s.Name == id {
			return s, true
		}
	}
	return nil, false
}

// labelled gives a class what all classes share: three slow stitches at the
// start, travel by the frame, three jumps as a trim, every constant assumed, and
// the spreads of those that the class leaves open.
func labelled(s *Sheet) *Sheet {
	s.Shaft.SoftStartStitches, s.Travel.Mode, s.Reading.TrimAfterJumps = 3, FrameTravel, 3
	s.Turns.To = 180
	if s.SD == nil {
		s.SD = map[string]float64{}
	}
	s.BasisOf = map[string]Basis{}
	for c := range s.Constants() {
		s.BasisOf[c.Path] = Assumed
		sd, ok := classSpread[c.Path]
		if _, own := s.SD[c.Path]; ok && !own && c.Get(s) != 0 {
			s.SD[c.Path] = sd
		}
	}
	return s
}

// classSpread is the relative standard deviation of a constant within a
// class, assumed. The window is held exact: timing shows only
// window·sqrt(accel) (MODEL section 2), so what we do not know of it sits in
// the accelerations. 0.40 in an acceleration is 20 % in speed on long stitches:
// 90 % of machines within a factor of 1.4 either way. In print a trim takes
// 3.5 to 7 s and any stop 6 to 20 s, ramps included, which is 0.2 to 0.35.
var classSpread = map[string]float64{
	"shaft.accel_up":         0.35,
	"shaft.accel_down":       0.35,
	"shaft.creep_speed":      0.30,
	"shaft.soft_start_speed": 0.30,
	"frame.accel_x":          0.40,
	"frame.accel_y":          0.40,
	"frame.speed_x":          0.30,
	"frame.speed_y":          0.30,
	"travel.accel":           0.40,
	"travel.speed":           0.40,
	"travel.shaft_speed":     0.20,
	"rest.start":             0.40,
	"rest.trim":              0.30,
	"rest.colour_stop":       0.30,
	"rest.per_needle":        0.40,
	"rest.end":               0.40,
}

// window is the fraction of a revolution with the needle clear of the goods:
// needle-bar strokes of 30 to 33 mm and 2 to 4 mm of clearance give 0.37 to
// 0.49 (harmonic needle bar).
const window = 0.44

// accelFor turns a published speed constant into a frame acceleration
// (mm/s²). k is the shaft speed at which a 1 mm stitch is just possible
// (stitches/min·sqrt(mm)): N = k/sqrt(d), and from MODEL section 2
// N = 60·(window/2)·sqrt(a/d), so a = (k/(30·window))². Rounded to 100 mm/s².
func accelFor(k float64) float64 {
	root := k / (30 * window)
	return float64(int(root*root/100+0.5)) * 100
}
