package picture

// SpeedMap is the drawing by held speed alone, with its scale.
type SpeedMap struct {
	Name     string
	Segs     []Segment
	Speeds   []float32 // stitches/min, one a segment
	SetSpeed float64   // stitches/min
	Scale    *SpeedScale
	Width    float64 // px; 0 is 640
	Height   float64 // px of the cloth; 0: from the design's shape
}

// Size is the size in px.
func (s *SpeedMap) Size() (w, h float64) {
	w, h = clothSize(s.Segs, s.Width, s.Height, 640)
	return w, h + 56
}

// Title says what the picture is.
func (s *SpeedMap) Title() string {
	if s.Name == "" {
		return "Held speed on every stitch"
	}
	return s.Name + ": held speed on every stitch"
}

// Desc reads the picture out.
func (s *SpeedMap) Desc() string { return describeDesign(s.Segs, 0).Text(nil) }

// Draw draws the picture.
func (s *SpeedMap) Draw(c Canvas) {
	w, h := clothSize(s.Segs, s.Width, s.Height, 640)
	sc := ScaleFor(s.Speeds, s.SetSpeed)
	if s.Scale != nil {
		sc = *s.Scale
	}
	drawSpeedCloth(c, Box{0, 0, w, h}, s.Segs, s.Speeds, sc, nil)
	lw := min(280, w*0.7)
	sc.legend(c, w-lw-8, h+8, lw, nil)
}
